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
//!
//! Only the smoothing waits for the frame before. What levels ask for, and what becomes of the gain reductions, is found in
//! pieces side by side.

use std::ops::Range;

use rayon::prelude::*;

use super::sliding_maximum::SlidingMaximum;
use crate::base::fast_math::{LOG2_OF_DB, exp2, log2};
use crate::base::simd::{Work, wide};
use crate::base::stages::each;
use crate::loopfile::Compress;
use crate::mix::Effect;

/// Seconds for which a peak is held, or half the release where that is shorter.
const HOLD: f64 = 0.006;

/// Gain reduction in log2 below which it is none: 0.0000006 dB, less than the last bit of a sample.
const NONE: f64 = 1e-7;

/// Frames that are followed at a time, so that all their lines stay in the cache.
const STRETCH: usize = 1024;

/// Frames of a piece: so many that it is worth handing over to another core.
const PIECE: usize = 4096;

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

    /// The gain reduction that a steady level, given as its bits, asks for, in log2.
    #[inline(always)]
    fn reduction(&self, level: u32) -> f64 {
        let over = log2(f32::from_bits(level)) - self.knee_from;
        let in_knee = self.slope * over * over / (2.0 * self.knee);
        let beyond = self.slope * (over - self.knee / 2.0);
        let asked = if over < self.knee { in_knee } else { beyond };
        if level <= self.below || over <= 0.0 { 0.0 } else { asked }
    }

    /// Makes factors of gain reductions, and multiplies signals by them.
    fn apply(&self, gains: &mut [f32], sides: Vec<&mut [f32]>) {
        for stretch in gains.chunks_mut(STRETCH) {
            match stretch.iter().all(|reduction| *reduction == 0.0) {
                true => stretch.fill(self.dry + self.wet),
                false => wide(Factors {
                    law: *self,
                    gains: stretch,
                }),
            }
        }
        for side in sides {
            let pairs = side.iter_mut().zip(&*gains);
            wide(|| pairs.for_each(|(sample, gain)| *sample = (*sample * gain).clamp(f32::MIN, f32::MAX)));
        }
    }

    /// What is heard of a gain reduction, given in log2, once the plain signal is blended in: in dB against what comes out where
    /// nothing is reduced.
    fn heard_db(&self, reduction: f64) -> f64 {
        let (wet, dry) = (f64::from(self.wet), f64::from(self.dry));
        let left = dry + wet * libm::exp2(-reduction);
        if left > 0.0 {
            20.0 * libm::log10((dry + wet) / left)
        } else {
            0.0
        }
    }
}

/// What is kept from frame to frame of a distance that shrinks to 37 % in `seconds`.
pub(crate) fn keep(seconds: f64, rate: u32) -> f64 {
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
    hold: SlidingMaximum,
    reduction: f64,
    /// The largest gain reduction with the settings that hold now, in log2.
    deepest: f64,
    /// The largest with settings before, in dB: before blend, and as heard.
    before: (f64, f64),
    gains: Vec<f32>,
    targets: Vec<f64>,
    pieces: Vec<Piece>,
}

impl Compressor {
    /// A compressor for a rate in Hz, at rest. Any number of channels is linked: the loudest leads.
    pub fn new(settings: &Compress, rate: u32) -> Compressor {
        let mut compressor = Compressor {
            law: Law::new(settings, rate),
            rate,
            slowest: 0.0,
            hold: SlidingMaximum::new(1),
            reduction: 0.0,
            deepest: 0.0,
            before: (0.0, 0.0),
            gains: Vec::new(),
            targets: Vec::new(),
            pieces: Vec::new(),
        };
        compressor.set(settings);
        compressor
    }

    /// Changes its settings from the next frame on; its state stays.
    pub fn set(&mut self, settings: &Compress) {
        let held = hold_seconds(settings.release.max(0.0)) * f64::from(self.rate);
        self.before = (self.deepest_db(), self.heard_db());
        self.deepest = self.reduction;
        self.law = Law::new(settings, self.rate);
        self.slowest = settings.release.max(settings.attack);
        self.hold.resize(libm::round(held) as usize + 1);
    }

    /// The factor by which each frame of the last block was multiplied: squeeze, makeup and blend in one, so that a stem
    /// multiplied by it sounds as it does inside the whole.
    pub fn gains(&self) -> &[f32] {
        &self.gains
    }

    /// The largest gain reduction so far in dB, 0 or more, before makeup and blend.
    pub fn deepest_db(&self) -> f64 {
        self.before.0.max(self.deepest / LOG2_OF_DB)
    }

    /// The same as it is heard, after blend: against the level of what is not reduced.
    pub fn heard_db(&self) -> f64 {
        self.before.1.max(self.law.heard_db(self.deepest))
    }

    /// True while silence changes nothing in it.
    pub(crate) fn rests(&self) -> bool {
        self.reduction == 0.0 && self.hold.is_zero()
    }

    /// Forgets the largest gain reduction, for instance after the run-in.
    pub fn reset_deepest(&mut self) {
        (self.deepest, self.before) = (0.0, (0.0, 0.0));
    }

    /// Frames of a piece, which spans all that a peak is held for.
    fn piece(&self) -> usize {
        PIECE.max(self.hold.window())
    }

    /// Finds what the levels of a block ask for.
    fn ask(&mut self, block: &[&mut [f32]]) {
        let frames = block.first().map_or(0, |channel| channel.len());
        let (law, window, length) = (self.law, self.hold.window(), self.piece());
        self.targets.resize(frames, 0.0);
        self.pieces.resize_with(frames.div_ceil(length), Piece::default);
        // The first goes on where the last block ended, and whatever the last one holds is held from then on.
        let Some(first) = self.pieces.first_mut() else { return };
        std::mem::swap(&mut first.hold, &mut self.hold);
        let pieces = self.pieces.par_iter_mut().zip(self.targets.par_chunks_mut(length));
        each("levels", pieces.enumerate(), |(number, (piece, targets))| {
            piece.ask(law, window, block, number * length, targets);
        });
        let last = self.pieces.last_mut().expect("there is a first");
        std::mem::swap(&mut last.hold, &mut self.hold);
    }

    /// Fills in the gain reduction, on its way from target to target. Ways up, ways down and rests last for many frames: each in a
    /// loop of its own, a frame waits for nothing but the reduction before it.
    fn smooth(&mut self) {
        let Law { attack, release, .. } = self.law;
        self.gains.resize(self.targets.len(), 0.0);
        let (targets, reductions) = (&self.targets[..], &mut self.gains[..]);
        let (mut at, mut reduction) = (0, self.reduction);
        while at < targets.len() {
            at += go(
                &mut reduction,
                attack,
                &targets[at..],
                &mut reductions[at..],
                |target, reduction| target > reduction,
            );
            self.deepest = self.deepest.max(reduction);
            at += go(
                &mut reduction,
                release,
                &targets[at..],
                &mut reductions[at..],
                |target, reduction| !(target > reduction || reduction == 0.0),
            );
            while at < targets.len() && reduction == 0.0 {
                if targets[at] > 0.0 {
                    break;
                }
                reductions[at] = 0.0;
                at += 1;
            }
        }
        self.reduction = reduction;
    }
}

/// Goes towards targets at one pace as long as it is the right one, or until no reduction is left. Gives how many frames that took.
#[inline(always)]
fn go(reduction: &mut f64, kept: f64, targets: &[f64], out: &mut [f32], holds: impl Fn(f64, f64) -> bool) -> usize {
    let mut now = *reduction;
    let mut frames = 0;
    for (out, target) in out.iter_mut().zip(targets) {
        if !holds(*target, now) {
            break;
        }
        now = kept * now + (1.0 - kept) * target;
        *out = now as f32;
        frames += 1;
        if now < NONE {
            *out = 0.0;
            *reduction = 0.0;
            return frames;
        }
    }
    *reduction = now;
    frames
}

/// A piece of a block.
#[derive(Debug, Clone)]
struct Piece {
    hold: SlidingMaximum,
    loudest: Vec<f32>,
    levels: Vec<u32>,
}

impl Default for Piece {
    fn default() -> Piece {
        Piece {
            hold: SlidingMaximum::new(1),
            loudest: Vec::new(),
            levels: Vec::new(),
        }
    }
}

impl Piece {
    /// Finds what the levels of a block from some frame on ask for.
    fn ask(&mut self, law: Law, window: usize, block: &[&mut [f32]], from: usize, targets: &mut [f64]) {
        if from > 0 {
            self.read(block, from + 1 - window..from);
            self.hold.follow(window, &self.levels);
        }
        for (number, targets) in targets.chunks_mut(STRETCH).enumerate() {
            let from = from + number * STRETCH;
            self.read(block, from..from + targets.len());
            if !(self.hold.is_zero() && self.levels.iter().all(|level| *level == 0)) {
                self.hold.run(&mut self.levels);
            }
            if self.levels.iter().all(|level| *level <= law.below) {
                targets.fill(0.0);
            } else {
                wide(Targets {
                    law,
                    levels: &self.levels,
                    targets,
                });
            }
        }
    }

    /// Reads the levels of some frames, as bits.
    fn read(&mut self, block: &[&mut [f32]], frames: Range<usize>) {
        let sides: Vec<&[f32]> = block.iter().map(|side| &side[frames.clone()]).collect();
        loudest(&sides, &mut self.loudest);
        self.levels.clear();
        self.levels.extend(self.loudest.iter().map(|level| level.to_bits()));
    }
}

/// What each frame's level asks for. Levels are held, so most frames ask for what the last one did.
struct Targets<'a> {
    law: Law,
    levels: &'a [u32],
    targets: &'a mut [f64],
}

impl Work for Targets<'_> {
    type Made = ();

    #[inline(always)]
    fn work(self) {
        const GROUP: usize = 16;
        for (levels, targets) in self.levels.chunks(GROUP).zip(self.targets.chunks_mut(GROUP)) {
            let mut differ = 0;
            for level in levels {
                differ |= level ^ levels[0];
            }
            if differ == 0 {
                targets.fill(self.law.reduction(levels[0]));
            } else {
                for k in 0..levels.len() {
                    targets[k] = self.law.reduction(levels[k]);
                }
            }
        }
    }
}

/// Makes factors of gain reductions.
struct Factors<'a> {
    law: Law,
    gains: &'a mut [f32],
}

impl Work for Factors<'_> {
    type Made = ();

    #[inline(always)]
    fn work(self) {
        let Law { dry, wet, .. } = self.law;
        for gain in self.gains {
            *gain = dry + wet * exp2(-*gain);
        }
    }
}

impl Effect for Compressor {
    fn run_in(&self) -> usize {
        let seconds = 7.0 * self.slowest;
        libm::ceil(seconds * f64::from(self.rate)) as usize + self.hold.window()
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        self.ask(block);
        self.smooth();
        let (law, length) = (self.law, self.piece());
        let mut sides: Vec<_> = block.iter_mut().map(|side| side.chunks_mut(length)).collect();
        let pieces = self.gains.chunks_mut(length);
        let pieces = pieces.map(|gains| (gains, sides.iter_mut().filter_map(Iterator::next).collect()));
        let pieces: Vec<(&mut [f32], Vec<&mut [f32]>)> = pieces.collect();
        each("gains", pieces.into_par_iter(), |(gains, sides)| {
            law.apply(gains, sides)
        });
    }
}

/// Each frame's level: the largest of its channels, without sign.
pub(crate) fn loudest<C: AsRef<[f32]>>(block: &[C], levels: &mut Vec<f32>) {
    let frames = block.first().map_or(0, |channel| channel.as_ref().len());
    levels.clear();
    levels.resize(frames, 0.0);
    for channel in block {
        let pairs = levels.iter_mut().zip(channel.as_ref());
        wide(|| pairs.for_each(|(level, sample)| *level = level.max(sample.abs())));
    }
}

#[cfg(test)]
#[path = "compressor_tests.rs"]
mod tests;
