//! A song to write: its parts with their notes, bent or not.

use super::clock::{Metre, Tempo};

/// Ticks a quarter note in files that are written.
pub const TICKS_A_QUARTER: u16 = 960;

/// The longest that a percussion note is written: a thirty-second. Its sound ends by itself; editors need something to
/// grasp.
pub const PERCUSSION_TICKS: u64 = 120;

/// A song to write. All times are in ticks of [`TICKS_A_QUARTER`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MidiSong {
    /// Its title, the first track's name.
    pub title: String,
    /// Its tempo map, in any order; of two at one place the later in the list holds.
    pub tempos: Vec<Tempo>,
    /// Its metres, likewise.
    pub metres: Vec<Metre>,
    /// Its key signatures, likewise.
    pub keys: Vec<KeySignature>,
    /// Its chord symbols, as texts at their ticks, in the order of time.
    pub chords: Vec<(u64, String)>,
    /// Its sections' names, as markers at their ticks, in the order of time.
    pub sections: Vec<(u64, String)>,
    /// The pieces that its percussion keys play, where the file is to say so; see [`names`](super::names).
    pub pieces: Option<Vec<(u8, String)>>,
    /// Its parts, a track each.
    pub parts: Vec<MidiPart>,
    /// Where every track ends; a track whose notes last longer ends with them.
    pub length: u64,
}

/// A key signature from a place on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeySignature {
    /// Where, in ticks.
    pub at: u64,
    /// Sharps, or flats where it is negative: from -7 to 7.
    pub sharps: i8,
    /// True where the key's third is minor.
    pub minor: bool,
}

/// A part of a song.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MidiPart {
    /// Its track's name.
    pub name: String,
    /// True for percussion, written on channel 10.
    pub percussion: bool,
    /// The channel of what is no percussion, from 0 to 15. Those without one take channels 1 to 9 and 11 to 16 in turn, but
    /// for those that others have, as far as there are any.
    pub channel: Option<u8>,
    /// The sound of General MIDI Level 1 that it asks for, from 0 to 127; see [`program_for`](super::program_for).
    pub program: Option<u8>,
    /// Its notes, in any order.
    pub notes: Vec<MidiNote>,
    /// Its notes whose pitch moves, in any order, each on a channel of its own, as far as there are any; the others stand
    /// among its notes, unbent.
    pub bent: Vec<BentNote>,
}

/// A note whose pitch moves.
#[derive(Debug, Clone, PartialEq)]
pub struct BentNote {
    /// The note.
    pub note: MidiNote,
    /// Ticks after its start and the semitones from its key from there on, in the order of time.
    pub bend: Vec<(u64, f64)>,
}

/// A note to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MidiNote {
    /// In ticks.
    pub start: u64,
    /// In ticks. Percussion is written no longer than [`PERCUSSION_TICKS`].
    pub length: u64,
    /// 0 to 127; 60 is C4.
    pub key: u8,
    /// 1 to 127.
    pub velocity: u8,
}
