//! What a Standard MIDI File plays: its tracks, notes, tempo map and metres.

use std::collections::BTreeMap;

use super::clock::{Clock, Metre, Tempo};
use super::notice::Notice;

/// What a Standard MIDI File plays.
#[derive(Debug, Clone, PartialEq)]
pub struct Performance {
    /// What a tick is worth.
    pub clock: Clock,
    /// The tracks that the file has, in its order, those without notes too.
    pub tracks: Vec<Track>,
    /// The tempo map, in order of time, from whatever track; without meaning where the clock counts seconds.
    pub tempos: Vec<Tempo>,
    /// The metres, in order of time, from whatever track.
    pub metres: Vec<Metre>,
    /// The pieces that the file itself names for the keys of channel 10, where it says that its other channels play pitches; see
    /// [`names`](super::names).
    pub pieces: Option<BTreeMap<u8, String>>,
    /// What was odd about the file.
    pub notices: Vec<Notice>,
}

impl Performance {
    /// Every note with its track's index, track by track.
    pub fn notes(&self) -> impl Iterator<Item = (usize, &Note)> {
        let tracks = self.tracks.iter().enumerate();
        tracks.flat_map(|(index, track)| track.notes.iter().map(move |note| (index, note)))
    }

    /// The end of the longest track, in ticks.
    pub fn end(&self) -> u64 {
        self.tracks.iter().map(|track| track.end).max().unwrap_or(0)
    }
}

/// One track.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Track {
    /// Its name; empty where it has none. UTF-8 where the bytes are, else read as Latin-1; without control characters.
    pub name: String,
    /// Its notes, by start, those that start together in the file's order.
    pub notes: Vec<Note>,
    /// Where its end-of-track stands, or its last event where it has none; in ticks.
    pub end: u64,
}

/// A note that was played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Note {
    /// In ticks.
    pub start: u64,
    /// In ticks: until the key is let go, or longer where the sustain pedal holds it (never on the percussion channel).
    /// May be 0.
    pub length: u64,
    /// 0 to 127; 60 is C4.
    pub key: u8,
    /// 1 to 127.
    pub velocity: u8,
    /// 0 to 15; 9 is percussion.
    pub channel: u8,
}
