//! A decoded one-shot.

use crate::audio::Audio;

/// A one-shot as it is played: decoded, at the render's rate.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// One channel or two.
    pub audio: Audio,
    /// The frame at which its sound begins; hits land with it on their time.
    pub onset: usize,
    /// Frames that its file promises and does not have; 0 for a whole one.
    pub missing: u64,
}
