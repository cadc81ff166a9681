//! What a loop says of harmony: its chart of chords, and what its notes are called.

use std::sync::Arc;

use super::{Exact, Loop, Stroke};
use crate::harmony::{Chord, Key, Note, Spelling, spell};
use crate::text::Place;

/// A place of the chord chart where the chord changes.
#[derive(Debug, Clone, PartialEq)]
pub struct ChordChange {
    /// Where, in bars from the loop's beginning.
    pub at: Exact,
    /// The chord from there on; none where the chart says that there is none, or says nothing.
    pub chord: Option<Chord>,
    /// True where the chart says that there is none (`N.C.`).
    pub silence: bool,
}

/// The word of a loop file that a note was written as.
#[derive(Debug, Clone, PartialEq)]
pub struct Word {
    /// What the note is called. A double's own note, some semitones away, may be another.
    pub spelling: Spelling,
    /// Where the word stands.
    pub place: Place,
    /// How long it is held, in bars, before the part's `length` shortens it.
    pub held: Exact,
}

impl Loop {
    /// What the chord chart says at a place in bars; none before its first change.
    pub fn change_at(&self, at: Exact) -> Option<&ChordChange> {
        let next = self.chords.partition_point(|change| change.at <= at);
        self.chords.get(next.checked_sub(1)?)
    }

    /// The chord that the chart has at a place in bars.
    pub fn chord_at(&self, at: Exact) -> Option<&Chord> {
        self.change_at(at)?.chord.as_ref()
    }

    /// The key of the music, where the file says one.
    pub fn tonality(&self) -> Option<Key> {
        self.key.as_ref().and_then(|key| Key::parse(key).ok())
    }

    /// What a stroke's pitch is called: as it was written, else by the chord of its place and the key; none for a hit.
    pub fn named(&self, stroke: &Stroke, key: Option<&Key>) -> Option<Note> {
        let pitch = stroke.pitch?;
        let written = stroke.word.as_ref().and_then(|word| word.spelling.at(pitch));
        Some(written.unwrap_or_else(|| spell(pitch, self.chord_at(stroke.at), key)))
    }
}

impl Stroke {
    /// How long it is held, in bars, before the part's `length` shortens it.
    pub fn held(&self) -> Exact {
        self.word.as_ref().map_or(self.step, |word: &Arc<Word>| word.held)
    }
}

/// Notes of one place as a word: the grace notes before them, `together` as it stands, and how hard a mark says that they
/// are played. How they are played beside that is said in the marks of `notes`, or for a chart in a musician's signs.
pub(crate) fn written_note(together: &str, strokes: &[Stroke], mark: char, chart: bool) -> String {
    let expressed = |stroke: &Stroke| Some((stroke.expression.clone()?, stroke.pitch?));
    let expressions: Vec<_> = strokes.iter().filter_map(expressed).collect();
    let graces = expressions.iter().flat_map(|(expression, _)| &expression.graces);
    let graces: String = graces.map(|grace| format!("{grace}/")).collect();
    let (before, behind, words) = match expressions.first() {
        Some((expression, pitch)) if chart => {
            let (before, behind) = expression.signs(*pitch);
            (before, behind, String::new())
        }
        Some((expression, _)) => (String::new(), String::new(), expression.words()),
        None => Default::default(),
    };
    let word = format!("{before}{graces}{together}{behind}");
    let word = match mark {
        'X' => format!("{word}^"),
        'g' => format!("({word})"),
        figure @ '3'..='9' => format!("{word}:{figure}"),
        _ => word,
    };
    word + &words
}
