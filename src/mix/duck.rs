//! Ducking: one strip gets quieter while another part plays.
//!
//! The two halves are apart because the key is often wanted by several strips, and because the depth is told against the
//! envelope's own maximum, which is known only when the whole key has been followed.

use super::compress::{keep, loudest};
use super::fast::{LOG2_OF_DB, exp2};
use crate::loopfile::Duck;

/// Seconds over which the envelope's rise is rounded, or a quarter of the release where that is shorter: quick enough to
/// get out of a kick's way, slow enough not to click.
const ROUNDED: f64 = 0.0015;

/// Below this an envelope is silence.
const SILENT: f64 = 1e-30;

/// Turns a key signal into an envelope: its louder side's peak, which rises at once and falls to 37 % in the release,
/// then rounded by a one-pole low-pass. The rounding's own delay is taken off the release.
#[derive(Debug, Clone)]
pub struct Follower {
    fall: f64,
    round: f64,
    run_in: usize,
    peak: f64,
    level: f64,
}

impl Follower {
    /// A follower with a release in seconds for a rate in Hz, at rest.
    pub fn new(release: f64, rate: u32) -> Follower {
        let mut follower = Follower {
            fall: 0.0,
            round: 0.0,
            run_in: 0,
            peak: 0.0,
            level: 0.0,
        };
        follower.set(release, rate);
        follower
    }

    /// Changes its release from the next frame on; its state stays.
    pub fn set(&mut self, release: f64, rate: u32) {
        let release = release.max(0.0);
        let rounded = ROUNDED.min(release / 4.0);
        self.fall = keep(release - rounded, rate);
        self.round = keep(rounded, rate);
        // 14 time constants are -121 dB.
        self.run_in = libm::ceil(14.0 * (release + rounded) * f64::from(rate)) as usize + 1;
    }

    /// Frames after which it forgets where it began, to below -120 dB.
    pub fn run_in(&self) -> usize {
        self.run_in
    }

    /// Follows a block of one or two channels and puts its envelope, a linear level for each frame, into `envelope`,
    /// whose length becomes the block's.
    pub fn follow<C: AsRef<[f32]>>(&mut self, key: &[C], envelope: &mut Vec<f32>) {
        loudest(key, envelope);
        for value in envelope {
            let fallen = self.peak * self.fall;
            self.peak = f64::from(*value).max(if fallen < SILENT { 0.0 } else { fallen });
            self.level = self.peak + (self.level - self.peak) * self.round;
            if self.level < SILENT {
                self.level = 0.0;
            }
            *value = self.level as f32;
        }
    }
}

/// Lowers a signal by its depth in dB times an envelope over that envelope's maximum.
#[derive(Debug, Clone)]
pub struct Ducker {
    depth: f64,
    gains: Vec<f32>,
}

impl Ducker {
    /// A ducker of some depth; who plays the envelope is the caller's to arrange.
    pub fn new(settings: &Duck) -> Ducker {
        Ducker {
            depth: settings.depth_db * LOG2_OF_DB,
            gains: Vec::new(),
        }
    }

    /// Changes its depth from the next frame on.
    pub fn set(&mut self, settings: &Duck) {
        self.depth = settings.depth_db * LOG2_OF_DB;
    }

    /// Lowers a block in place. `envelope` has a level for each frame, `most` is the largest in the whole loop; where it
    /// is 0 nothing happens.
    pub fn process(&mut self, block: &mut [&mut [f32]], envelope: &[f32], most: f32) {
        let slope = if most > 0.0 { -self.depth / f64::from(most) } else { 0.0 };
        self.gains.clear();
        self.gains
            .extend(envelope.iter().map(|level| exp2((slope * f64::from(*level)) as f32)));
        for channel in block {
            for (sample, gain) in channel.iter_mut().zip(&self.gains) {
                *sample *= gain;
            }
        }
    }

    /// The factor by which each frame of the last block was multiplied.
    pub fn gains(&self) -> &[f32] {
        &self.gains
    }
}
