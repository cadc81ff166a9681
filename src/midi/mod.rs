//! Standard MIDI Files, in and out: notes, ticks, tracks and the percussion keys.
//!
//! Formats: "Standard MIDI Files 1.0" (MIDI Manufacturers Association, RP-001) and the percussion map of General MIDI
//! Level 1. Nothing here knows of loops, kits or audio: times are ticks, and a [`Clock`] says what a tick is worth.

mod chunks;
mod clock;
mod error;
mod keyboard;
mod names;
mod notice;
mod percussion;
mod performance;
mod program;
mod read;
mod song;
mod write;
mod zone;

pub use clock::{Clock, Counts, Metre, Tempo};
pub use error::MidiError;
pub use notice::Notice;
pub use percussion::{PERCUSSION_CHANNEL, PercussionKey, key_for, keys_for, names_for, piece_for};
pub use performance::{Note, Performance, Track};
pub use program::program_for;
pub use read::{MOST_BYTES, MOST_EVENTS, MOST_NOTES, from_bytes, read, remark};
pub use song::{BentNote, KeySignature, MidiNote, MidiPart, MidiSong, PERCUSSION_TICKS, TICKS_A_QUARTER};
pub use write::{unbent, write, write_remarked};
