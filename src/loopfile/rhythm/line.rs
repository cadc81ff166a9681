//! One line of a part's hits: which way it is written, and its bars.

use super::reading::{Bar, Borrowed, Reading};
use super::{Vocabulary, borrow, counted, tablature};
use crate::loopfile::{WrittenBars, WrittenPlay};

/// A line as it was read.
pub(crate) enum Line {
    /// Bars that repeat over the bars it is given; none where the line is wrong.
    Bars(Vec<Bar>),
    /// Another part's bars.
    Borrowed(Borrowed),
}

/// Reads a line of a part.
pub(crate) fn read(written: &WrittenBars, vocabulary: &Vocabulary, reading: &mut Reading) -> Line {
    match &written.play {
        WrittenPlay::Counted(hits) => Line::Bars(counted::read(hits, vocabulary, reading).into_iter().collect()),
        WrittenPlay::Line(line) if borrow::is_borrowed(line) => match borrow::read(line, reading) {
            Some(borrowed) => Line::Borrowed(borrowed),
            None => Line::Bars(Vec::new()),
        },
        WrittenPlay::Line(line) => Line::Bars(tablature::read(line, vocabulary, reading)),
    }
}
