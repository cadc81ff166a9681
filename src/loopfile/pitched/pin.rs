//! Notes in brackets behind a chord symbol, as in `C7#9 (E3 Bb3 Eb4)`: the voicing that parts which comp play there.

use std::ops::Range;

use super::tell;
use crate::harmony::{Note, Symbol};
use crate::loopfile::Words;
use crate::text::Problem;

/// What a bracket holds.
pub(super) struct Pin {
    /// The words without their brackets.
    words: Vec<Range<usize>>,
    whole: Range<usize>,
    closed: bool,
}

impl Pin {
    /// Takes the words of a bracket from those behind the one that opens it.
    pub(super) fn begin(line: &Words, first: Range<usize>, rest: &mut &[Range<usize>]) -> Pin {
        let mut words = vec![first];
        let closes = |word: &Range<usize>| line.text[word.clone()].ends_with(')');
        while words.last().is_some_and(|last| !closes(last))
            && let Some((next, behind)) = rest.split_first()
        {
            words.push(next.clone());
            *rest = behind;
        }
        let last = words.len() - 1;
        let whole = words[0].start..words[last].end;
        let closed = closes(&words[last]);
        words[last].end -= usize::from(closed);
        words[0].start += 1;
        words.retain(|word| !word.is_empty());
        Pin { words, whole, closed }
    }

    /// Gives its notes to the chord before it.
    pub(super) fn set(&self, line: &Words, before: Option<&mut Symbol>, problems: &mut Vec<Problem>) {
        let wrong = |what: &str, help: &str| Problem::at(&line.place(self.whole.clone()), what).help(help);
        if !self.closed {
            let end = self.whole.end;
            let help = format!("write `{})`", &line.text[self.whole.start..end]);
            problems.push(wrong("a bracket of notes is open at the end of its bar", &help));
            return;
        }
        let Some(Symbol::Chord(chord)) = before else {
            let help = "write them behind a chord symbol, as in `C7#9 (E3 Bb3 Eb4)`";
            problems.push(wrong("these notes stand behind no chord", help));
            return;
        };
        if chord.pinned.is_some() {
            problems.push(wrong(
                "this chord has its notes already",
                "write all of them in one bracket",
            ));
            return;
        }
        let mut notes: Vec<Note> = Vec::new();
        for word in &self.words {
            match Note::parse(&line.text[word.clone()]) {
                Ok(note) if notes.iter().any(|other| other.midi() == note.midi()) => {
                    let what = format!("{note} stands twice in this bracket");
                    problems.push(Problem::at(&line.place(word.clone()), what).help("write each note once"));
                }
                Ok(note) => notes.push(note),
                Err(wrong) => problems.push(tell(line, word.clone(), &wrong)),
            }
        }
        if self.words.is_empty() {
            problems.push(wrong(
                "there are no notes in this bracket",
                "write them with their octaves, as in `C7#9 (E3 Bb3 Eb4)`",
            ));
        }
        notes.sort_by_key(|note| note.midi());
        chord.pinned = Some(notes);
    }
}
