//! A groove template: how each sixteenth of the bar is played on average in a recording.

use std::collections::BTreeMap;

use super::Exact;
use crate::midi;

/// How a drummer plays one sixteenth of the bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habit {
    /// Where the hits lie on average, in bars from the barline; below 0 where the barline's are early.
    pub at: f64,
    /// How much harder they are on average than their piece is throughout, in velocities.
    pub velocity: f64,
}

/// How a drummer plays the sixteenths of a bar, counted from the barline; the last one is the next barline.
///
/// Times are musical: a recording's own tempo says nothing, so that its habits fit a loop of any tempo.
#[derive(Debug, Clone, PartialEq)]
pub struct GrooveTemplate {
    /// A bar in sixteenths; a whole number in most metres.
    pub sixteenths: Exact,
    /// The habits of all percussion together, a sixteenth each; none where nobody plays.
    pub(in crate::loopfile) all: Vec<Option<Habit>>,
    /// Those of single pieces, by General MIDI's name.
    pub(in crate::loopfile) pieces: BTreeMap<&'static str, Vec<Option<Habit>>>,
}

impl GrooveTemplate {
    /// The habit of a piece on a sixteenth from 0, or that of all percussion; none where nobody plays.
    pub fn habit(&self, piece: &str, sixteenth: usize) -> Option<Habit> {
        // A second snare has the habits of the snare.
        let name = midi::key_for(piece).and_then(midi::piece_for).unwrap_or(piece);
        let own = self
            .pieces
            .get(name)
            .and_then(|habits| habits.get(sixteenth).copied().flatten());
        own.or_else(|| self.all.get(sixteenth).copied().flatten())
    }
}
