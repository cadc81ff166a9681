//! One line of a part's hits: which way it is written, and its bars.

use super::borrow::{self, Borrowed};
use super::{MOST_MARKS, MOST_STROKES, Vocabulary, counted, tablature};
use crate::loopfile::{Exact, Time, Words, WrittenBars, WrittenPart, WrittenPlay};
use crate::text::{Place, Problem};

/// A hit of a bar, its mark still to be told what it plays.
#[derive(Debug, Clone)]
pub(super) struct Marked {
    /// From 0 to below 1, in bars.
    pub at: Exact,
    /// The length of its step, in bars.
    pub step: Exact,
    /// Its mark; never a rest.
    pub mark: char,
    /// Seconds off the grid.
    pub shift: f64,
    /// Where the mark stands.
    pub place: Place,
}

/// A bar's hits in the order of time.
pub(super) type Bar = Vec<Marked>;

/// A line as it was read.
pub(super) enum Line {
    /// Bars that repeat over the bars it is given; none where the line is wrong.
    Bars(Vec<Bar>),
    /// Another part's bars.
    Borrowed(Borrowed),
}

/// What the reading of lines needs and keeps.
pub(super) struct Reading<'a> {
    /// All parts, to borrow from.
    pub parts: &'a [WrittenPart],
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
    pub fn new(parts: &'a [WrittenPart], time: &'a Time, bars: u32, problems: &'a mut Vec<Problem>) -> Reading<'a> {
        Reading {
            parts,
            time,
            bars,
            problems,
            left: MOST_STROKES,
        }
    }

    /// Says that a bar of so many marks may be read, or what is wrong with that.
    pub fn admits(&mut self, marks: usize, place: &Place) -> bool {
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

/// Reads a line of a part.
pub(super) fn read(written: &WrittenBars, vocabulary: &Vocabulary, reading: &mut Reading) -> Line {
    match &written.play {
        WrittenPlay::Counted(hits) => Line::Bars(counted::read(hits, vocabulary, reading).into_iter().collect()),
        WrittenPlay::Line(line) if borrow::is_borrowed(line) => match borrow::read(line, reading) {
            Some(borrowed) => Line::Borrowed(borrowed),
            None => Line::Bars(Vec::new()),
        },
        WrittenPlay::Line(line) => Line::Bars(tablature::read(line, vocabulary, reading)),
    }
}

/// A mark, at a byte of a line, that is unknown.
pub(super) fn unknown_mark(mark: char, at: usize, line: &Words, vocabulary: &Vocabulary) -> Problem {
    let place = line.place(at..at + mark.len_utf8());
    Problem::at(&place, format!("`{mark}` is no mark")).help(vocabulary.help(mark))
}
