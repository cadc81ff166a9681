//! Pitched parts: the chord chart, and parts that are written in notes, in degrees of the chart's chords, or as comping.
//!
//! - In: lines of notes, degrees, chords or comping marks, with the bars that they are for.
//! - Out: a [`Phrase`] a part and the [`Chart`], with every problem pointing at its word; then [`realise`] makes strokes of
//!   a phrase: it asks the chart what sounds, leads the voices of chords, and breaks or strums them. Doubles follow.
//! - It knows nothing of a kit's pieces, of hits, and of sound.

mod chart;
mod comp;
mod double;
mod expression;
mod habits;
mod lay;
mod phrase;
mod pin;
mod realise;
mod step;
mod strike;
mod strum;
mod tone;
mod tutti;
mod word_kind;
mod words;

pub(super) use chart::Chart;
pub(super) use double::{DoubleVoice, double_name, doubles, pan_of};
pub(super) use habits::{BarSettings, ChangedBars, changes, length};
pub(super) use phrase::{Phrase, WAYS};
pub(super) use realise::{PhraseContext, PitchedStroke, realise};

use std::ops::Range;

use super::Words;
use super::limits::{MOST_MARKS as MOST_WORDS, MOST_STROKES};
use crate::harmony::Misread;
use crate::text::{Place, Problem};

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
        Problem::at(&name.whole(), what).help("shorten the loop, or write fewer notes")
    })
}
