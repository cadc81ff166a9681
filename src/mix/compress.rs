//! The compressor.
//!
//! Feed-forward, its gain computed and smoothed in decibels behind a soft knee: D. Giannoulis, M. Massberg, J. D. Reiss,
//! "Digital dynamic range compressor design", JAES 60(6), 2012: the gain computer of its equation 4 and the smooth
//! branching detector on the gain reduction.
//!
//! The level it looks at is the louder side's peak, held for a moment. Without the hold the gain would rise between the
//! half-waves of a low note and bend its wave; held for [`HOLD`] seconds, every steady sine above 85 Hz reads as
//! its exact peak. What the hold adds to the release is taken off the release's time constant, so 63 % of the way back
//! is reached when the settings say. It delays no attack.

use super::Effect;
use super::fast::{LOG2_OF_DB, exp2, log2};
use super::hold::Hold;
use crate::loopfile::Compress;

/// Seconds for which a peak is held, or half the release where that is shorter.
const HOLD: f64 = 0.006;

/// Gain reduction in log2 below which it is none: 0.0000006 dB, less than the last bit of a sample.
const NONE: f64 = 1e-7;

/// The settings, as the inner loop wants them. Levels in powers of two.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Law {
    knee_from: f64,
    knee: f64,
    slope: f64,
    attack: f64,
    release: f64,
    wet: f32,
    dry: f32,
    /// Bits of the largest level that is left alone.
    below: u32,
}

impl Law {
    fn new(settings: &Compress, rate: u32) -> Law {
        let knee_db = settings.knee_db.max(0.0);
        let knee_from = settings.threshold_db - knee_db / 2.0;
        let blend = settings.blend.clamp(0.0, 1.0);
        let release = settings.release.max(0.0);
        Law {
            knee_from: knee_from * LOG2_OF_DB,
            knee: knee_db * LOG2_OF_DB,
            slope: 1.0 - 1.0 / settings.ratio.max(1.0),
            attack: keep(settings.attack, rate),
            release: keep(release - hold_seconds(release), rate),
            wet: (blend * libm::exp10(settings.makeup_db / 20.0)) as f32,
            dry: (1.0 - blend) as f32,
            below: (libm::exp10(knee_from / 20.0) as f32).max(f32::MIN_POSITIVE).to_bits(),
        }
    }

    /// The gain reduction that a steady level asks for, in log2.
    #[inline(always)]
    fn reduction(&self, level: f64) -> f64 {
        let over = level - self.knee_from;
        if over <= 0.0 {
            0.0
        } else if over < self.knee {
            self.slope * over * over / (2.0 * self.knee)
        } else {
            self.slope * (over - self.knee / 2.0)
        }
    }
}

/// What is kept from frame to frame of a distance that shrinks to 37 % in `seconds`.
pub(super) fn keep(seconds: f64, rate: u32) -> f64 {
    if seconds > 0.0 {
        libm::exp(-1.0 / (seconds * f64::from(rate)))
    } else {
        0.0
    }
}

fn hold_seconds(release: f64) -> f64 {
    HOLD.min(release / 2.0)
}

/// A stereo-linked compressor.
#[derive(Debug, Clone)]
pub struct Compressor {
    law: Law,
    rate: u32,
    slowest: f64,
    hold: Hold,
    level: u32,
    target: f64,
    reduction: f64,
    deepest: f64,
    gains: Vec<f32>,
}

impl Compressor {
    /// A compressor for a rate in Hz, at rest. Any number of channels is linked: the loudest leads.
    pub fn new(settings: &Compress, rate: u32) -> Compressor {
        let mut compressor = Compressor {
            law: Law::new(settings, rate),
            rate,
            slowest: 0.0,
            hold: Hold::new(1),
            level: 0,
            target: 0.0,
            reduction: 0.0,
            deepest: 0.0,
            gains: Vec::new(),
        };
        compressor.set(settings);
        compressor
    }

    /// Changes its settings from the next frame on; its state stays.
    pub fn set(&mut self, settings: &Compress) {
        let held = hold_seconds(settings.release.max(0.0)) * f64::from(self.rate);
        self.law = Law::new(settings, self.rate);
        self.slowest = settings.release.max(settings.attack);
        self.hold.resize(libm::round(held) as usize + 1);
        self.level = 0;
        self.target = 0.0;
    }

    /// The factor by which each frame of the last block was multiplied: squeeze, makeup and blend in one, so that a stem
    /// multiplied by it sounds as it does inside the whole.
    pub fn gains(&self) -> &[f32] {
        &self.gains
    }

    /// The largest gain reduction so far in dB, 0 or more, before makeup and blend.
    pub fn deepest_db(&self) -> f64 {
        self.deepest / LOG2_OF_DB
    }

    /// Forgets the largest gain reduction, for instance after the run-in.
    pub fn reset_deepest(&mut self) {
        self.deepest = 0.0;
    }

    /// Turns levels (as bits) into the factors of the last block.
    fn follow(&mut self) {
        let law = self.law;
        let (mut reduction, mut deepest) = (self.reduction, self.deepest);
        for gain in &mut self.gains {
            let level = self.hold.push(gain.to_bits());
            if level != self.level {
                self.level = level;
                self.target = if level <= law.below {
                    0.0
                } else {
                    law.reduction(log2(f32::from_bits(level)))
                };
            }
            let kept = if self.target > reduction {
                law.attack
            } else {
                law.release
            };
            reduction = kept * reduction + (1.0 - kept) * self.target;
            if reduction < NONE {
                reduction = 0.0;
            }
            deepest = if reduction > deepest { reduction } else { deepest };
            *gain = reduction as f32;
        }
        (self.reduction, self.deepest) = (reduction, deepest);
        for gain in &mut self.gains {
            *gain = law.dry + law.wet * exp2(-*gain);
        }
    }
}

impl Effect for Compressor {
    fn run_in(&self) -> usize {
        let seconds = 7.0 * self.slowest;
        libm::ceil(seconds * f64::from(self.rate)) as usize + self.hold.window()
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        loudest(block, &mut self.gains);
        self.follow();
        for channel in block {
            for (sample, gain) in channel.iter_mut().zip(&self.gains) {
                *sample = (*sample * gain).clamp(f32::MIN, f32::MAX);
            }
        }
    }
}

/// Each frame's level: the largest of its channels, without sign.
pub(super) fn loudest<C: AsRef<[f32]>>(block: &[C], levels: &mut Vec<f32>) {
    levels.clear();
    if let [left, right] = block {
        let sides = left.as_ref().iter().zip(right.as_ref());
        levels.extend(sides.map(|(l, r)| l.abs().max(r.abs())));
    } else if let Some(first) = block.first() {
        levels.extend(first.as_ref().iter().map(|sample| sample.abs()));
        for channel in &block[1..] {
            for (level, sample) in levels.iter_mut().zip(channel.as_ref()) {
                *level = level.max(sample.abs());
            }
        }
    }
}
