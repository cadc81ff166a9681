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

use super::sliding_maximum::SlidingMaximum;
use crate::base::fast_math::{LOG2_OF_DB, exp2, log2};
use crate::base::simd::wide;
use crate::loopfile::Compress;
use crate::mix::Effect;

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
            hold: SlidingMaximum::new(1),
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

    /// True while silence changes nothing in it.
    pub(crate) fn rests(&self) -> bool {
        self.reduction == 0.0 && self.hold.most() == 0
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
        wide(|| {
            for gain in &mut self.gains {
                *gain = law.dry + law.wet * exp2(-*gain);
            }
        });
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
pub(crate) fn loudest<C: AsRef<[f32]>>(block: &[C], levels: &mut Vec<f32>) {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::test_signals::{beat, db, noise, run, sine};
    use proptest::prelude::*;

    fn settings(threshold_db: f64, ratio: f64, knee_db: f64) -> Compress {
        Compress {
            threshold_db,
            ratio,
            attack: 0.02,
            release: 0.15,
            knee_db,
            makeup_db: 0.0,
            blend: 1.0,
        }
    }

    /// The gain in dB after two seconds of a sine at a peak level.
    fn steady(settings: &Compress, level_db: f64, hz: f64) -> (f64, f64) {
        let signal = vec![sine(libm::exp10(level_db / 20.0), hz, 0.0, 48_000, 96_000)];
        let mut compressor = Compressor::new(settings, 48_000);
        run(&mut compressor, &signal, &[95_000]);
        let tail = run(&mut compressor, &signal, &[96_000]);
        assert_eq!(tail[0].len(), compressor.gains().len());
        let late = compressor.gains()[48_000..].iter().map(|gain| db(f64::from(*gain)));
        late.fold((f64::MAX, f64::MIN), |(low, high), gain| {
            (low.min(gain), high.max(gain))
        })
    }

    #[test]
    fn follows_its_static_curve_on_steady_sines() {
        // Giannoulis, Massberg, Reiss, JAES 2012, equation 4 [memory]: T -20, R 4, hard knee, in -8 gives -17;
        // W 8 at the threshold gives (1/R - 1)·W/8 = -0.75 dB.
        for hz in [100.0, 1000.0] {
            for (settings, level_db, gain_db) in [
                (settings(-20.0, 4.0, 0.0), -8.0, -9.0),
                (settings(-20.0, 4.0, 8.0), -20.0, -0.75),
                (settings(-20.0, 4.0, 8.0), -24.5, 0.0),
                (settings(-20.0, 4.0, 8.0), -16.0, -3.0),
                (settings(-30.0, 2.0, 6.0), 0.0, -15.0),
                (settings(-18.0, f64::INFINITY, 0.0), -6.0, -12.0),
                (settings(-18.0, 1.0, 6.0), -6.0, 0.0),
            ] {
                let (low, high) = steady(&settings, level_db, hz);
                assert!(
                    (low - gain_db).abs() < 0.05 && (high - gain_db).abs() < 0.05,
                    "{hz} {settings:?} {low} {high}"
                );
            }
        }
    }

    #[test]
    fn reaches_63_percent_in_its_attack_and_release() {
        for (attack, release) in [(0.02, 0.15), (0.001, 0.05), (0.1, 1.0), (0.005, 0.02)] {
            let mut settings = settings(-30.0, 4.0, 0.0);
            (settings.attack, settings.release) = (attack, release);
            let mut signal = vec![0.001_f32; 1000];
            signal.extend(vec![1.0; 96_000]);
            signal.extend(vec![0.001; 96_000]);
            let mut compressor = Compressor::new(&settings, 48_000);
            run(&mut compressor, &[signal], &[193_000]);
            let gains: Vec<f64> = compressor.gains().iter().map(|gain| db(f64::from(*gain))).collect();
            let full = gains[96_999];
            assert!((full + 22.5).abs() < 0.01, "{full}");
            let risen = gains[1000..].iter().position(|gain| *gain <= full * 0.632);
            let fallen = gains[97_000..].iter().position(|gain| *gain >= full * 0.368);
            for (frames, seconds) in [(risen, attack), (fallen, release)] {
                let measured = frames.map_or(f64::NAN, |frames| (frames as f64 + 1.0) / 48_000.0);
                assert!((measured / seconds - 1.0).abs() < 0.05, "{measured} {seconds}");
            }
        }
    }

    #[test]
    fn blend_nulls_against_a_plain_mix() {
        let signal = vec![beat(0.9), noise(0.3, 2, 96_000)];
        let mut settings = settings(-24.0, 5.0, 6.0);
        settings.makeup_db = 4.0;
        let squeezed = run(&mut Compressor::new(&settings, 48_000), &signal, &[1024]);
        settings.blend = 0.6;
        let blended = run(&mut Compressor::new(&settings, 48_000), &signal, &[1024]);
        for ((blended, squeezed), plain) in blended
            .iter()
            .flatten()
            .zip(squeezed.iter().flatten())
            .zip(signal.iter().flatten())
        {
            assert!((blended - (0.6 * squeezed + 0.4 * plain)).abs() < 1e-6);
        }
    }

    #[test]
    fn its_gains_are_all_it_does_and_both_sides_get_the_same() {
        let signal = vec![beat(0.9), sine(0.2, 440.0, 0.0, 48_000, 96_000)];
        let mut settings = settings(-24.0, 5.0, 6.0);
        (settings.makeup_db, settings.blend) = (3.0, 0.7);
        let mut compressor = Compressor::new(&settings, 48_000);
        let out = run(&mut compressor, &signal, &[96_000]);
        for (out, x) in out.iter().zip(&signal) {
            for ((out, x), gain) in out.iter().zip(x).zip(compressor.gains()) {
                assert_eq!(*out, x * gain);
            }
        }
        // The louder side leads, whichever it is.
        let turned = vec![signal[1].clone(), signal[0].clone()];
        let mut other = Compressor::new(&settings, 48_000);
        run(&mut other, &turned, &[96_000]);
        assert!(compressor.gains() == other.gains());
        assert!(compressor.deepest_db() > 5.0);
        compressor.reset_deepest();
        assert_eq!(compressor.deepest_db(), 0.0);
    }

    #[test]
    fn forgets_within_its_run_in_while_something_plays() {
        let signal = beat(0.9);
        let mut compressor = Compressor::new(&settings(-20.0, 4.0, 6.0), 48_000);
        let frames = compressor.run_in();
        // One has been hit hard before, the other starts from rest.
        let mut hit = compressor.clone();
        run(&mut hit, &[vec![1.0; 48_000]], &[480]);
        run(&mut hit, &[signal[..frames].to_vec()], &[480]);
        run(&mut compressor, &[signal[..frames].to_vec()], &[480]);
        let rest = vec![signal[frames..].to_vec()];
        let (one, other) = (run(&mut hit, &rest, &[480]), run(&mut compressor, &rest, &[480]));
        let off = one[0]
            .iter()
            .zip(&other[0])
            .fold(0.0_f32, |most, (a, b)| most.max((a - b).abs()));
        assert!(off < 1e-5, "{off}");
    }

    #[test]
    fn leaves_what_is_below_the_knee_bit_for_bit() {
        let signal = vec![noise(0.05, 1, 48_000), noise(0.05, 2, 48_000)];
        let mut compressor = Compressor::new(&settings(-18.0, 4.0, 6.0), 48_000);
        assert!(run(&mut compressor, &signal, &[480]) == signal);
        assert_eq!(compressor.deepest_db(), 0.0);
    }

    #[test]
    fn setting_the_same_again_changes_nothing() {
        let signal = vec![beat(0.9)];
        let settings = settings(-24.0, 4.0, 6.0);
        let whole = run(&mut Compressor::new(&settings, 48_000), &signal, &[480]);
        let mut compressor = Compressor::new(&settings, 48_000);
        let mut again = Vec::new();
        for part in signal[0].chunks(32) {
            compressor.set(&settings);
            again.extend(run(&mut compressor, &[part.to_vec()], &[32]).remove(0));
        }
        assert!(again == whole[0]);
    }

    proptest! {
        #[test]
        fn cuts_into_blocks_change_no_bit(blocks in prop::collection::vec(1_usize..700, 1..6)) {
            let signal = vec![beat(1.2)[..9600].to_vec(), noise(0.3, 2, 9600)];
            let whole = run(&mut Compressor::new(&settings(-24.0, 4.0, 6.0), 48_000), &signal, &[9600]);
            prop_assert!(run(&mut Compressor::new(&settings(-24.0, 4.0, 6.0), 48_000), &signal, &blocks) == whole);
        }

        #[test]
        fn stays_finite_and_silent(
            threshold_db in -80.0_f64..10.0, ratio in 0.5_f64..100.0, attack in 0.0_f64..2.0, release in 0.0_f64..5.0,
            knee_db in 0.0_f64..40.0, makeup_db in -40.0_f64..40.0, blend in 0.0_f64..1.0,
        ) {
            let settings = Compress { threshold_db, ratio, attack, release, knee_db, makeup_db, blend };
            let mut compressor = Compressor::new(&settings, 48_000);
            let mut signal = noise(f64::from(f32::MAX), 1, 500);
            signal.extend([f32::MIN, f32::MIN_POSITIVE, 1e-42]);
            signal.extend([0.0; 500]);
            let out = run(&mut compressor, &[signal], &[100]);
            prop_assert!(out[0].iter().all(|x| x.is_finite()));
            prop_assert!(out[0][503..].iter().all(|x| *x == 0.0));
        }
    }
}
