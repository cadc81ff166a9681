//! One note of an event, and the order in which a broken chord goes through its notes.

use std::sync::Arc;

use super::phrase::Event;
use crate::harmony::Note;
use crate::loopfile::{Exact, Expression, Manner};
use crate::text::Place;

/// One note of an event.
pub(super) struct Tone<'a> {
    pub(super) note: Note,
    pub(super) place: &'a Place,
    pub(super) at: Exact,
    pub(super) step: Exact,
    /// In bars, before `length` shortens it.
    pub(super) held: Exact,
    pub(super) sounds: Option<Exact>,
    /// Seconds.
    pub(super) shift: f64,
    pub(super) expression: Option<Arc<Expression>>,
    /// A factor of its velocity.
    pub(super) scale: f64,
    pub(super) manner: Manner,
    pub(super) mark: char,
}

impl<'a> Tone<'a> {
    /// A note as long as its event, which rings.
    pub(super) fn of(event: &Event<'a>, note: Note) -> Tone<'a> {
        Tone {
            note,
            place: event.place,
            at: event.at,
            step: event.step,
            held: event.length,
            sounds: None,
            shift: event.shift,
            scale: event.scale,
            manner: Manner::Single,
            expression: None,
            mark: event.strike.mark,
        }
    }
}

/// One time through a chord's voices in an order; none for chance.
pub(super) fn way(voices: usize, order: &str) -> Option<Vec<usize>> {
    let up = 0..voices;
    match order {
        "down" => Some(up.rev().collect()),
        "up-down" => Some(up.chain((1..voices.saturating_sub(1)).rev()).collect()),
        "random" => None,
        _ => Some(up.collect()),
    }
}
