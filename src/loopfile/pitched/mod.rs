//! Pitched parts: the chord chart, and parts that are written in notes, in degrees of the chart's chords, or as comping.
//!
//! Reading gives a [`Phrase`] a part, with every problem pointing at its word. [`realise`] makes strokes of it: it asks
//! the chart what sounds, leads the voices of comped chords, and breaks or strums them.

mod chart;
mod comp;
mod double;
mod habits;
mod lay;
mod phrase;
mod realise;
mod step;
mod words;

pub(super) use chart::Chart;
pub(super) use double::{Doubled, double_name, doubles, pan_of};
pub(super) use habits::{Changed, Habits, changes, length};
pub(super) use phrase::{LANGUAGES, Phrase};
pub(super) use realise::{Sounded, Stage, realise};

use std::ops::Range;

use super::Words;
use super::limits::{MOST_MARKS as MOST_WORDS, MOST_STROKES};
use crate::harmony::Misread;
use crate::schema::{ACCENT, GHOST, PLAIN};
use crate::text::{Place, Problem};

/// The mark of the note that is nearest in level to one of a velocity: `x` for a plain one, `X` for an accent, `g` for a
/// ghost.
pub fn note_mark(velocity: f64) -> char {
    // Velocity goes into level by its logarithm, so half-way is the geometric mean.
    let half_way = |one: f64, other: f64| (one * other).sqrt();
    if velocity < half_way(GHOST, PLAIN) {
        'g'
    } else if velocity < half_way(PLAIN, ACCENT) {
        'x'
    } else {
        'X'
    }
}

/// What is wrong in a word of a line.
fn tell(line: &Words, word: Range<usize>, wrong: &Misread) -> Problem {
    let span = if wrong.span.is_empty() {
        word
    } else {
        word.start + wrong.span.start..word.start + wrong.span.end
    };
    let problem = Problem::at(&line.place(span), wrong.what.clone());
    match wrong.help() {
        Some(help) => problem.help(help),
        None => problem,
    }
}

fn too_many(place: Place, words: usize) -> Problem {
    let what = format!("this bar has {words} words; {MOST_WORDS} are the most that one can have");
    Problem::at(&place, what)
}

/// The problem of a part with more strokes than a loop can hold, where it has.
fn too_long(name: &Words, strokes: usize) -> Option<Problem> {
    (strokes > MOST_STROKES).then(|| {
        let what = format!(
            "`{}` plays more than {MOST_STROKES} notes, the most of a loop",
            name.text
        );
        Problem::at(&name.place(0..name.text.len()), what).help("shorten the loop, or write fewer notes")
    })
}
