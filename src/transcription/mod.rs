//! What a recording plays: its hits, its notes, its tempo.
//!
//! - In: a recording of one player.
//! - Out: onsets with how hard and which sound, notes with their pitch, a tempo; each with a confidence.
//! - It knows nothing of files, of kits, and of how a loop is written.

mod onsets;
mod short_time;
mod tempo;

pub(crate) use onsets::{Onset, onsets};
pub(crate) use tempo::{Pulse, pulse};

/// The rate at which recordings are analysed, in Hz: others are resampled to it.
pub(crate) const RATE: u32 = 48_000;
