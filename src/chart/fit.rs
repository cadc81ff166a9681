//! Bars that fit the page: cut where a count alone is too wide for it, in pieces where a bar is.

use super::columns::Columns;
use super::measure::{Look, Measure};
use crate::loopfile::Loop;

/// How long a text may be, from what is best to what fits anywhere.
const LONGEST: [usize; 6] = [usize::MAX, 16, 10, 6, 4, 1];

/// A bar of a loop, counted from 0. Where a count is too wide for the page, its texts are cut.
pub(super) fn measure(song: &Loop, bar: u32, look: Look<'_>) -> Measure {
    let fits = |measure: &Measure| {
        let count = |count: usize| width(&measure.piece(count, count + 1), 1) <= look.room;
        (0..measure.divisions.len()).all(count)
    };
    let mut measures = LONGEST.iter().map(|longest| Measure::of(song, bar, look, *longest));
    let found = measures.find(fits);
    found.unwrap_or_else(|| Measure::of(song, bar, look, 1))
}

/// A bar in pieces, none wider than so many columns: of whole beats of so many counts where that can be, else of whole counts.
pub(super) fn split(measure: &Measure, most: usize, beat: u32) -> Vec<Measure> {
    let mut pieces: Vec<Measure> = Vec::new();
    let counts = measure.divisions.len();
    let mut from = 0;
    while from < counts {
        let longest = |by: usize| {
            let ends = (from + 1..=counts).filter(|to| to.is_multiple_of(by) || *to == counts);
            ends.take_while(|to| width(&measure.piece(from, *to), beat) <= most)
                .last()
        };
        let to = longest(beat as usize).or_else(|| longest(1)).unwrap_or(from + 1);
        pieces.push(measure.piece(from, to));
        from = to;
    }
    pieces
}

/// Columns of a bar by itself, with so many counts a beat.
fn width(measure: &Measure, beat: u32) -> usize {
    Columns::of(&[measure], &|_| true, beat).width()
}
