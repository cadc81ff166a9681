//! What a render has cost, counted in what was done and not in time: the same on every machine.

use std::ops::AddAssign;

/// What a render, or a stage of one, has done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Effort {
    /// Frames that strips have run, run-ins among them: each strip's own, and those of a part that is followed for a duck once more.
    pub strip_frames: u64,
    /// Frames of sounds that were repitched, turned round or held.
    pub sound_frames: u64,
}

impl AddAssign for Effort {
    fn add_assign(&mut self, other: Effort) {
        self.strip_frames += other.strip_frames;
        self.sound_frames += other.sound_frames;
    }
}
