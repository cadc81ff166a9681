//! A decoded one-shot.

use std::sync::Arc;

use crate::audio::Audio;

/// A one-shot as it is played: decoded, at the render's rate.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// One channel or two.
    pub audio: Audio,
    /// The frame at which its sound begins; hits land with it on their time.
    pub onset: usize,
    /// What of it goes round while a note is held, where its file says so.
    pub held: Option<Held>,
    /// Frames that its file promises and does not have; 0 for a whole one.
    pub missing: u64,
}

impl Recording {
    /// Bytes of its samples.
    pub fn bytes(&self) -> usize {
        self.audio.bytes() + self.held.as_ref().map_or(0, |held| held.audio.bytes())
    }

    /// One that sounds from its first frame on and is not held.
    pub fn plain(audio: Audio) -> Recording {
        Recording {
            audio,
            onset: 0,
            held: None,
            missing: 0,
        }
    }
}

/// A recording whose middle goes round while a note is held, at its own rate: there the loop is whole frames long.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// The recording as it is in its file.
    pub audio: Arc<Audio>,
    /// The first frame of what goes round.
    pub from: usize,
    /// The frame after the last.
    pub to: usize,
}
