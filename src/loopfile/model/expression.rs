//! What a note has about it beside its pitch and its velocity.

use crate::harmony::Note;

/// What is played about a note.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Expression {
    /// The grace notes before it, in the order of time.
    pub graces: Vec<Note>,
}

/// Seconds from one grace note of a melody to the next note: short enough to lean on it, long enough to have a pitch
/// [practice].
pub(crate) const GRACE: f64 = 0.06;
