//! The steps of a pitched line: what is struck or held, where and for how long.

use super::expression::ExpressionMarks;
use crate::harmony::{DegreeWord, Note};
use crate::loopfile::Exact;
use crate::loopfile::marks::Hand;
use crate::text::{Place, Problem};

/// What stands at a place of a bar, as it is written.
pub(super) struct Entry {
    /// From 0 to below 1, in bars.
    pub at: Exact,
    /// The length of its step, in bars.
    pub step: Exact,
    /// Seconds off the grid.
    pub shift: f64,
    pub place: Place,
    pub what: Written,
}

pub(super) enum Written {
    Rest,
    Hold,
    Strike(Strike),
}

/// A part of a bar that sounds.
#[derive(Debug, Clone)]
pub(crate) struct Step {
    /// From 0 to below 1, in bars.
    pub at: Exact,
    /// In bars.
    pub length: Exact,
    /// Seconds off the grid.
    pub shift: f64,
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
    /// The grace notes before it, in the order of time.
    pub graces: Option<Tones>,
    /// How it is played beside its pitch and how hard.
    pub expression: Option<Box<ExpressionMarks>>,
    pub play: Tones,
}

#[derive(Debug, Clone)]
pub(crate) enum Tones {
    Notes(Vec<Note>),
    Degrees(Vec<DegreeWord>),
    /// The chart's chord.
    Chord(Hand),
}

/// The steps of a bar whose entries stand in the order of time.
///
/// What is struck sounds for its step, or up to what stands next where that is sooner. A hold makes it sound up to the end
/// of the hold's own step.
pub(super) fn steps(entries: Vec<Entry>, problems: &mut Vec<Problem>) -> Vec<Step> {
    let places: Vec<Exact> = entries.iter().map(|entry| entry.at).collect();
    // Where ends what sounds; what the bar before left sounding is taken up at the beginning.
    let mut sounds = Some(Exact::ZERO);
    let mut steps = Vec::new();
    for (number, entry) in entries.into_iter().enumerate() {
        let next = places[number..].iter().find(|at| **at > entry.at);
        let end = next.map_or(entry.at + entry.step, |next| (entry.at + entry.step).min(*next));
        let (at, what) = match (entry.what, sounds) {
            (Written::Rest, _) => {
                sounds = None;
                continue;
            }
            (Written::Hold, None) => {
                let problem = Problem::at(&entry.place, "`=` has nothing to hold: a rest stands before it");
                problems.push(problem.help("write `-` to go on resting"));
                continue;
            }
            (Written::Hold, Some(before)) if before >= end => continue,
            (Written::Hold, Some(before)) => (before, StepKind::Hold),
            (Written::Strike(strike), _) => (entry.at, StepKind::Strike(strike)),
        };
        sounds = Some(end);
        steps.push(Step {
            at,
            length: end - at,
            shift: entry.shift,
            place: entry.place,
            what,
        });
    }
    steps
}
