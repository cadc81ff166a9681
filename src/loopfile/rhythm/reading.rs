//! What the readers of all kinds of lines share: a bar's marks, and what has been read so far.

use super::Vocabulary;
use crate::loopfile::limits::{MOST_MARKS, MOST_STROKES};
use crate::loopfile::{Exact, HitPart, Time, Words};
use crate::text::{Place, Problem};

/// A hit of a bar, its mark not yet given what it plays.
#[derive(Debug, Clone)]
pub(crate) struct Marked {
    /// From 0 to below 1, in bars.
    pub at: Exact,
    /// The length of its step, in bars.
    pub step: Exact,
    /// Its mark; a rest where chords are comped, never among hits.
    pub mark: char,
    /// Seconds off the grid.
    pub shift: f64,
    /// Where the mark stands.
    pub place: Place,
}

/// A bar's hits in the order of time.
pub(crate) type Bar = Vec<Marked>;

/// What the reading of lines needs and keeps.
pub(crate) struct Reading<'a> {
    /// All parts, to borrow from.
    pub parts: &'a [HitPart],
    /// The loop's metre.
    pub time: &'a Time,
    /// The loop's length in bars.
    pub bars: u32,
    /// What is wrong so far.
    pub problems: &'a mut Vec<Problem>,
    /// How many hits may still be written.
    left: usize,
}

impl<'a> Reading<'a> {
    /// A beginning, with nothing read yet.
    pub(super) fn new(parts: &'a [HitPart], time: &'a Time, bars: u32, problems: &'a mut Vec<Problem>) -> Reading<'a> {
        Reading {
            parts,
            time,
            bars,
            problems,
            left: MOST_STROKES,
        }
    }

    /// Says that a bar of so many marks may be read, or what is wrong with that.
    pub(super) fn admits(&mut self, marks: usize, place: &Place) -> bool {
        if marks > MOST_MARKS {
            let what = format!("this bar has {marks} marks; {MOST_MARKS} are the most that one can have");
            self.problems.push(Problem::at(place, what));
            return false;
        }
        if marks > self.left {
            if self.left > 0 {
                let what = format!("the file's marks come to more than {MOST_STROKES} here");
                self.problems
                    .push(Problem::at(place, what).help("write fewer bars out, and let lines repeat"));
            }
            self.left = 0;
            return false;
        }
        self.left -= marks;
        true
    }
}

/// A mark, at a byte of a line, that is unknown.
pub(crate) fn unknown_mark(mark: char, at: usize, line: &Words, vocabulary: &Vocabulary) -> Problem {
    let place = line.place(at..at + mark.len_utf8());
    Problem::at(&place, format!("`{mark}` is no mark")).help(vocabulary.help(mark))
}

/// Another part's bars.
pub(crate) struct Borrowed {
    /// The part, by its number.
    pub part: usize,
    /// Its bars, counted from 0; none: those that the line is given.
    pub bars: Option<Vec<u32>>,
}
