//! Settings that change over the bars, resolved.

use crate::loopfile::Field;

/// A setting that changes over the bars: one number of one strip, or the level of a room or delay.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// Whose number it is.
    pub target: Target,
    /// Which number.
    pub field: Field,
    /// Its stretches in the order of time, at least one; they do not overlap.
    pub stretches: Vec<Stretch>,
}

/// Whose setting a sweep moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// A part's, by its index.
    Part(usize),
    /// A bus's, by its index.
    Bus(usize),
    /// The master's.
    Master,
    /// A room's or delay's, by its index.
    Space(usize),
}

/// One stretch of a sweep. Its values are the field's numbers, or binary logarithms of Hz where octaves are even.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Where it begins, in bars.
    pub start: f64,
    /// Where it ends, in bars.
    pub end: f64,
    /// The bars after which it begins again, if it does.
    pub every: Option<f64>,
    /// The value before and at its beginning.
    pub from: f64,
    /// The value at its end and after.
    pub to: f64,
}
