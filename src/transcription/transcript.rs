//! What was heard in a recording.

use serde::Serialize;

use crate::text::Problem;

/// What a recording plays, as `--json` gives it.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub(crate) struct Transcript {
    /// The recording's length.
    pub seconds: f64,
    /// In BPM; none where no pulse was found.
    pub tempo: Option<f64>,
    /// From 0 to 1.
    pub tempo_confidence: Option<f64>,
    /// The second of bar 1, beat 1.
    pub beat_offset: Option<f64>,
    /// The key of its notes.
    pub key: Option<String>,
    /// How far its notes are from A4 = 440 Hz, all together.
    pub tuning_cents: Option<f64>,
    /// Its hits, in the order of time.
    pub hits: Vec<Hit>,
    /// Its notes, in the order of time.
    pub notes: Vec<Note>,
    /// Its hits as they are written: what belongs together is one stroke. In the order of time.
    #[serde(skip)]
    pub strokes: Vec<Stroke>,
    /// What is doubtful about it, for the person.
    #[serde(skip)]
    pub doubts: Vec<Problem>,
}

impl Transcript {
    /// The second at which the last stroke or note begins; none where there is none.
    pub(crate) fn last(&self) -> Option<f64> {
        let strokes = self.strokes.iter().map(|stroke| stroke.seconds);
        strokes
            .chain(self.notes.iter().map(|note| note.seconds))
            .reduce(f64::max)
    }
}

/// Something struck.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Hit {
    /// From the recording's beginning.
    pub seconds: f64,
    /// Which sound: a name.
    pub sound: String,
    /// From 1 to 127.
    pub velocity: f64,
    /// From 0 to 1.
    pub confidence: f64,
}

/// A note.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Note {
    /// From the recording's beginning.
    pub seconds: f64,
    /// Seconds.
    pub length: f64,
    /// The key that it is meant for, from 0 to 127; 60 is C4.
    pub midi: i32,
    /// How far its pitch is from that key at A4 = 440 Hz: the recording's tuning is part of it.
    pub cents: f64,
    /// From 1 to 127.
    pub velocity: f64,
    /// From 0 to 1.
    pub confidence: f64,
}

/// One or more hits of a sound that are written as one.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Stroke {
    /// Where it stands in time: its main hit, or its first one.
    pub seconds: f64,
    /// Where a roll or a buzz ends; all others end where they begin.
    pub ends: f64,
    /// Which sound: a name.
    pub sound: String,
    /// From 1 to 127.
    pub velocity: f64,
    /// How it is struck.
    pub manner: Manner,
}

/// How a stroke is struck.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Manner {
    /// One hit.
    Single,
    /// One soft grace note before it.
    Flam,
    /// Two soft grace notes before it.
    Drag,
    /// Single strokes too fast to be written one by one.
    Roll,
    /// A press that bounces.
    Buzz,
}
