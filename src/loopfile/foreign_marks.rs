//! Marks of one way of writing that stand in another: where they belong, and what to write in their place.

use super::marks::{COMP, DEGREES, MARKS, Mark, NOTES, chord_of, hit_of};
use super::model::Way;
use crate::harmony::{DegreeWord, Note};

/// Where a mark that a way of writing does not know belongs, and what to write there in its place.
pub(super) fn elsewhere(sign: char, here: Way) -> Option<String> {
    let (of, plays) = belongs(sign, here)?;
    let instead = match (here, sign) {
        (Way::Hits, '=') => "write `-`: a hit rings as it was recorded",
        (Way::Hits, 'k') => "write `g` for a soft hit, or a mark of the part's own `marks`",
        (Way::Hits | Way::Comp, '^') => "write `X` for an accent",
        (Way::Hits | Way::Comp, '(' | ')') => "write `g` for a ghost note",
        (Way::Comp, 'f' | 'F' | 'D') => "chords have no grace notes: write `x` or `X`",
        (Way::Comp, 'r' | 'R') => "write `{xx}` for two strikes in one step",
        (Way::Comp, 'b' | 'B') => "write `x` and hold it with `=`",
        (Way::Hits | Way::Comp, '+' | '#' | '\'' | ',' | ':' | '/') => return None,
        (Way::Hits | Way::Comp, _) => "write `x`",
        (_, 'f' | 'F' | 'd' | 'D') => "write its grace notes before a note, such as `B3/C4`",
        (_, 'r' | 'R') => "write `{C4 C4}` for two notes in one step",
        (_, 'b' | 'B') => "write the notes out, such as `{C4 C4 C4 C4}`",
        (_, 'm') => "a note is always played: leave the mark out",
        (_, 'u') => "write the notes one by one, the highest first",
        _ => "leave the mark out",
    };
    Some(format!("`{sign}` is a mark of `{of}`: {plays}; here {instead}"))
}

/// The first of the other ways that know a mark, and what it plays there.
fn belongs(sign: char, here: Way) -> Option<(&'static str, &'static str)> {
    let has = |mark: &&Mark| mark.mark.split(' ').any(|mark| mark.chars().eq([sign]));
    let plays = |marks: &'static [Mark]| marks.iter().find(has).map(|mark| mark.plays);
    let ways = [
        (Way::Hits, "hits", MARKS),
        (Way::Comp, "comp", COMP),
        (Way::Notes, "notes", NOTES),
        (Way::Degrees, "degrees", DEGREES),
    ];
    let others = ways.into_iter().filter(|(way, ..)| *way != here);
    let mut known = others.filter_map(|(_, of, marks)| Some((of, plays(marks)?)));
    known.next()
}

/// The advice for a word that no line of notes, or of degrees, can have, where another way of writing has it.
pub(super) fn word_elsewhere(word: &str, here: Way) -> Option<String> {
    let example = if here == Way::Degrees { "1" } else { "C4" };
    let word_of = match here {
        Way::Degrees => Note::parse(word).is_ok().then_some("a note, which `notes` takes"),
        _ => DegreeWord::parse(word)
            .is_ok()
            .then_some("a degree of the chart's chord, which `degrees` takes"),
    };
    if let Some(is) = word_of {
        return Some(format!("`{word}` is {is}; here write for instance `{example}`"));
    }
    let is_mark = |sign: char| matches!(sign, '-' | '=') || hit_of(sign).is_some() || chord_of(sign).is_some();
    let marks = !word.is_empty() && word.chars().all(is_mark);
    marks.then(|| {
        format!(
            "marks such as `{word}` are for `hits` and `comp`; here write a word a step, such as `{example} - = {example}:g`"
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_of_another_way_says_where_it_belongs() {
        for (sign, here, said) in [
            (
                'u',
                Way::Hits,
                "`u` is a mark of `comp`: a stroke of the hand up, from the highest note down; here write `x`",
            ),
            (
                '=',
                Way::Hits,
                "`=` is a mark of `comp`: holds the note; at the start of a bar, the note of the bar before; here write `-`: a hit rings as it was recorded",
            ),
            (
                'r',
                Way::Comp,
                "`r` is a mark of `hits`: two even strokes in this step: rrrr is a single-stroke roll; accented; here write `{xx}` for two strikes in one step",
            ),
            (
                'f',
                Way::Notes,
                "`f` is a mark of `hits`: a flam: one soft grace note before it; accented; here write its grace notes before a note, such as `B3/C4`",
            ),
        ] {
            assert_eq!(elsewhere(sign, here).as_deref(), Some(said));
        }
        assert_eq!(elsewhere('q', Way::Hits), None);
        assert_eq!(
            word_elsewhere("3", Way::Notes).as_deref(),
            Some("`3` is a degree of the chart's chord, which `degrees` takes; here write for instance `C4`")
        );
        assert_eq!(
            word_elsewhere("x--x", Way::Degrees).as_deref(),
            Some("marks such as `x--x` are for `hits` and `comp`; here write a word a step, such as `1 - = 1:g`")
        );
        assert_eq!(word_elsewhere("Hb3", Way::Notes), None);
    }
}
