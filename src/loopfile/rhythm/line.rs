//! One line of a part's hits: which way it is written, and its bars.

use super::reading::{Bar, Borrowed, Reading};
use super::{Vocabulary, borrow, counted, tablature};
use crate::schema::{Pattern, Play};

/// A line as it was read.
pub(crate) enum Line {
    /// Bars that repeat over the bars it is given; none where the line is wrong.
    Bars(Vec<Bar>),
    /// Another part's bars.
    Borrowed(Borrowed),
}

/// Reads a line of a part.
pub(crate) fn read(written: &Pattern, vocabulary: &Vocabulary, reading: &mut Reading) -> Line {
    match &written.play {
        Play::Counted(hits) => Line::Bars(counted::read(hits, vocabulary, reading).into_iter().collect()),
        Play::Line(line) if borrow::is_borrowed(line) => match borrow::read(line, reading) {
            Some(borrowed) => Line::Borrowed(borrowed),
            None => Line::Bars(Vec::new()),
        },
        Play::Line(line) => Line::Bars(tablature::read(line, vocabulary, reading)),
    }
}
