//! Ducking: one strip gets quieter while another part plays.
//!
//! The two halves are apart because the key is often wanted by several strips, and because the depth is told against the
//! envelope's own maximum, which is known only when the whole key has been followed.

use super::compressor::{keep, loudest};
use crate::base::fast_math::{LOG2_OF_DB, exp2};
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
            // A frame waits for a product and a sum of the one before it, and for nothing else.
            self.peak = f64::from(*value).max(self.peak * self.fall);
            self.level = self.level * self.round + self.peak * (1.0 - self.round);
            *value = if self.level < SILENT { 0.0 } else { self.level as f32 };
        }
        // Slow numbers never build up.
        for state in [&mut self.peak, &mut self.level] {
            *state = if *state < SILENT { 0.0 } else { *state };
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::test_signals::{beat, db, noise, sine};
    use proptest::prelude::*;

    fn followed(key: &[Vec<f32>], release: f64, blocks: &[usize]) -> Vec<f32> {
        let mut follower = Follower::new(release, 48_000);
        let (mut all, mut block, mut from, mut turn) = (Vec::new(), Vec::new(), 0, 0);
        while from < key[0].len() {
            let to = key[0].len().min(from + blocks[turn % blocks.len()]);
            let cut: Vec<&[f32]> = key.iter().map(|channel| &channel[from..to]).collect();
            follower.follow(&cut, &mut block);
            all.extend_from_slice(&block);
            (from, turn) = (to, turn + 1);
        }
        all
    }

    fn most(envelope: &[f32]) -> f32 {
        envelope.iter().copied().fold(0.0, f32::max)
    }

    #[test]
    fn goes_down_by_its_depth_where_the_envelope_is_largest() {
        let envelope = followed(&[beat(0.6)], 0.15, &[512]);
        let largest = most(&envelope);
        for depth_db in [3.0, 6.0, 24.0] {
            let mut ducker = Ducker::new(&Duck {
                by: 0,
                depth_db,
                release: 0.15,
            });
            let mut signal = vec![0.5_f32; envelope.len()];
            ducker.process(&mut [&mut signal], &envelope, largest);
            let least = db(f64::from(signal.iter().copied().fold(1.0, f32::min)) / 0.5);
            assert!((least + depth_db).abs() < 0.01, "{least}");
            for ((x, gain), level) in signal.iter().zip(ducker.gains()).zip(&envelope) {
                assert_eq!(*x, 0.5 * gain);
                // In between the law is the depth times the share of the maximum.
                let right = -depth_db * f64::from(level / largest);
                assert!((db(f64::from(*gain)) - right).abs() < 0.001);
            }
        }
    }

    #[test]
    fn rises_within_milliseconds_without_a_step_and_falls_in_its_release() {
        for release in [0.05, 0.15, 0.6] {
            let mut key = vec![0.0_f32; 100];
            key.extend(vec![1.0; 24_000]);
            key.extend(vec![0.0; 96_000]);
            let envelope = followed(&[key], release, &[777]);
            let risen = envelope[100..].iter().position(|level| *level > 0.632).unwrap_or(0);
            assert!((48..=96).contains(&risen), "{risen} frames");
            let steepest = envelope
                .windows(2)
                .fold(0.0_f32, |most, pair| most.max((pair[1] - pair[0]).abs()));
            assert!(steepest < 0.02, "{steepest}");
            let fallen = envelope[24_100..].iter().position(|level| *level < 0.368).unwrap_or(0);
            let measured = fallen as f64 / 48_000.0;
            assert!((measured / release - 1.0).abs() < 0.05, "{measured} {release}");
        }
    }

    #[test]
    fn forgets_within_its_run_in_and_ends_in_silence() {
        let mut follower = Follower::new(0.15, 48_000);
        let mut envelope = Vec::new();
        follower.follow(&[vec![1.0_f32; 4800]], &mut envelope);
        let silence = vec![0.0_f32; follower.run_in() + 1];
        follower.follow(&[silence], &mut envelope);
        assert!(envelope.last().is_some_and(|level| *level < 1e-6));
        follower.follow(&[vec![0.0_f32; 700_000]], &mut envelope);
        assert_eq!(envelope.last(), Some(&0.0));
        assert!(envelope.iter().all(|level| *level == 0.0 || level.is_normal()));
    }

    #[test]
    fn a_silent_key_changes_nothing() {
        let mut signal = noise(0.5, 1, 1000);
        let before = signal.clone();
        let mut ducker = Ducker::new(&Duck {
            by: 0,
            depth_db: 12.0,
            release: 0.1,
        });
        ducker.process(&mut [&mut signal], &vec![0.0; 1000], 0.0);
        assert_eq!(signal, before);
    }

    proptest! {
        #[test]
        fn cuts_into_blocks_change_no_bit(blocks in prop::collection::vec(1_usize..500, 1..6)) {
            let key = vec![sine(0.7, 55.0, 0.0, 48_000, 5000), noise(0.3, 2, 5000)];
            prop_assert!(followed(&key, 0.15, &blocks) == followed(&key, 0.15, &[5000]));
        }

        #[test]
        fn stays_finite(release in 0.0_f64..10.0, depth_db in 0.0_f64..96.0, size in 0_i32..39) {
            let key = vec![noise(libm::pow(10.0, f64::from(size)).min(f64::from(f32::MAX)), 3, 500)];
            let envelope = followed(&key, release, &[100]);
            let mut signal = vec![f32::MAX; 500];
            Ducker::new(&Duck { by: 0, depth_db, release }).process(&mut [&mut signal], &envelope, most(&envelope));
            prop_assert!(envelope.iter().chain(&signal).all(|x| x.is_finite()));
        }
    }
}
