//! The blows of a stroke: one for a plain hit, several for a rudiment or a roll.

use crate::loopfile::Exact;

/// One blow of a stroke.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Blow {
    /// Where it is written, in bars from the loop's beginning.
    pub at: Exact,
    /// Seconds after that.
    pub after: f64,
    /// Its velocity as a share of the stroke's.
    pub share: f64,
    /// The pitch of a grace note that has one of its own, and how many seconds it lasts.
    pub grace_note: Option<(i32, f64)>,
    /// How it differs from a plain blow.
    pub touch: Touch,
}

impl Blow {
    /// A plain blow.
    pub(super) fn plain(at: Exact) -> Blow {
        Blow {
            at,
            after: 0.0,
            share: 1.0,
            grace_note: None,
            touch: Touch::Plain,
        }
    }

    /// A grace note, so many seconds ahead of a place.
    pub(super) fn grace(at: Exact, ahead: f64) -> Blow {
        Blow {
            at,
            after: -ahead,
            share: SOFT,
            grace_note: None,
            touch: Touch::Grace,
        }
    }

    /// A grace note of a pitch, so many seconds ahead of a place, which lasts so many.
    pub(super) fn grace_note(at: Exact, ahead: f64, pitch: i32, lasts: f64) -> Blow {
        Blow {
            share: LEANING,
            grace_note: Some((pitch, lasts)),
            ..Blow::grace(at, ahead)
        }
    }
}

/// How a blow differs from a plain one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Touch {
    /// Not at all.
    Plain,
    /// It is a grace note.
    Grace,
    /// It is a bounce of a press: so much of the greatest change of pitch (-1 to 1), and so many octaves duller.
    Bounce(f64, f64),
}

/// A grace note's velocity as a share of the main note's: under an `x` it is about as soft as a ghost note.
pub(crate) const SOFT: f64 = 0.44;
/// The same for a grace note of a melody, which leans on the note that follows [practice].
const LEANING: f64 = 0.75;
