//! What a recording plays: its hits, its notes, its tempo.
//!
//! - In: a recording of one player ([`Take`]), and what the person says of it.
//! - Out: a [`Transcript`]: onsets with how hard and which sound, notes with their pitch, a tempo; each with a confidence.
//! - It knows nothing of loops, and of how a transcript is written down.

mod attack;
mod classify;
mod colour;
mod continuation;
mod doubts;
mod drums;
mod exemplars;
mod hits;
mod melody;
mod note_model;
mod notes;
mod onsets;
mod pitch;
mod rudiments;
mod short_time;
mod slices;
mod struck_again;
mod take;
mod tempo;
mod transcript;
mod tuning;
mod weights;

pub(crate) use drums::{Drum, drums};
pub(crate) use hits::{MOST_SOUNDS, Told, hits};
pub(crate) use notes::{ToldOfNotes, notes};
pub(crate) use slices::{Stretch, are_one, cut, slices, together};
pub(crate) use take::{LONGEST, Take};
pub(crate) use transcript::{Manner, Stroke, Transcript};

/// The rate at which recordings are analysed, in Hz: others are resampled to it.
pub(crate) const RATE: u32 = 48_000;
