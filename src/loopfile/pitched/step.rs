//! The steps of a pitched line: what is struck or held, where and for how long.

use crate::harmony::{DegreeWord, Note};
use crate::loopfile::Exact;
use crate::loopfile::marks::Hand;
use crate::text::Place;

/// One word or mark of a bar that is no rest.
#[derive(Debug, Clone)]
pub(crate) struct Step {
    /// From 0 to below 1, in bars.
    pub at: Exact,
    /// In bars.
    pub length: Exact,
    pub place: Place,
    pub what: StepKind,
}

#[derive(Debug, Clone)]
pub(crate) enum StepKind {
    /// What sounds goes on.
    Hold,
    Strike(Strike),
}

#[derive(Debug, Clone)]
pub(crate) struct Strike {
    pub velocity: f64,
    /// True where a part's range of velocities spreads it.
    pub plain: bool,
    /// True where it takes the chord to come.
    pub pushed: bool,
    /// The mark that stands for it on a chart.
    pub mark: char,
    /// Where each of its tones stands in the text, where they stand apart.
    pub tones: Vec<Place>,
    pub play: Tones,
}

#[derive(Debug, Clone)]
pub(crate) enum Tones {
    Notes(Vec<Note>),
    Degrees(Vec<DegreeWord>),
    /// The chart's chord.
    Chord(Hand),
}

/// What the words of a line are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum WordKind {
    Notes,
    Degrees,
}
