//! Rooms and delays, resolved.

use std::path::PathBuf;

use crate::text::Place;

/// A room or a delay that strips send to.
#[derive(Debug, Clone, PartialEq)]
pub struct Space {
    /// `room`, `delay`, or the name under `rooms` or `delays`.
    pub name: String,
    /// What comes back from it, dB.
    pub level_db: f64,
    /// What it is.
    pub kind: SpaceKind,
}

/// What answers a send.
#[derive(Debug, Clone, PartialEq)]
pub enum SpaceKind {
    /// A synthesised room.
    Room(Room),
    /// A recorded impulse response.
    Impulse(Impulse),
    /// A delay.
    Delay(Delay),
}

/// A synthesised room.
#[derive(Debug, Clone, PartialEq)]
pub struct Room {
    /// Length of its longest wall, metres.
    pub size: f64,
    /// Seconds to fall 60 dB.
    pub decay: f64,
    /// 0 to 1.
    pub damping: f64,
    /// Seconds before the direct sound's place.
    pub predelay: f64,
    /// Hz.
    pub low_cut: Option<f64>,
}

/// A recorded impulse response.
#[derive(Debug, Clone, PartialEq)]
pub struct Impulse {
    /// The WAV, relative to the current folder.
    pub file: PathBuf,
    /// Where the loop file names it.
    pub place: Place,
    /// Seconds.
    pub predelay: f64,
    /// Hz.
    pub low_cut: Option<f64>,
}

/// A delay.
#[derive(Debug, Clone, PartialEq)]
pub struct Delay {
    /// Seconds from echo to echo.
    pub time: f64,
    /// Each echo's share of the one before it, 0 to below 1.
    pub feedback: f64,
    /// Hz.
    pub low_cut: Option<f64>,
    /// Hz.
    pub high_cut: Option<f64>,
    /// Echoes change sides.
    pub cross: bool,
}
