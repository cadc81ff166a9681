//! How far to lean into a ceiling for the sake of loudness: an estimate at a small part of the cost of trying, so that hardly more
//! than one try is needed.
//!
//! A signal is weighted as for loudness (ITU-R BS.1770-5, annex 1) and seen in cells of a millisecond or so: its power, and its
//! highest frame, which the ceiling is followed by roughly: held over its neighbours, and released. Whoever asks sets
//! the answer right by what a meter said of the real thing.

use crate::base::audio::{Audio, highest};
use crate::base::fast_math::{LOG2_OF_DB, exp2, log2};
use crate::base::simd::{Work, wide};
use crate::measure::gating::{TENTH, blocks, gated};
use crate::measure::weighted;
use crate::mix::strip::ceiling::{AT_REST, RELEASE, UNDER_DB};

/// Frames of a cell.
const CELL: usize = 64;
/// Cells before and behind one that its peak reaches into: the ceiling's look-ahead.
const REACH: usize = 1;
/// How much higher than the highest frame what lies between the frames mostly is, where something is over [measured on the demo loops].
const BETWEEN_DB: f64 = 0.12;
/// How near the estimate comes to a loudness, in LU, and in how many steps at the most.
const CLOSE: f64 = 0.002;
const STEPS_TO_GAIN: usize = 12;

/// A signal as the estimate sees it.
pub(crate) struct LoudnessEstimate {
    /// log2 of the highest frame of each cell and its neighbours.
    peaks: Vec<f32>,
    /// Each cell's weighted power, summed over frames and sides.
    powers: Vec<f32>,
    /// Of the release, what is left after a cell, and cells in which it has come to rest.
    kept: f32,
    run_in: usize,
    /// Cells of a step.
    step: usize,
}

impl LoudnessEstimate {
    /// Looks at a stereo signal.
    pub(crate) fn on(audio: &Audio) -> LoudnessEstimate {
        let cells = audio.frames().div_ceil(CELL);
        let cell_seconds = CELL as f64 / f64::from(audio.rate.max(1));
        let sides = weighted(audio, CELL, cells, |frames, power| (power, highest(frames)));
        let power = |cell: usize| sides.iter().map(|side| side[cell].0).sum::<f64>() as f32;
        let peak = |cell: usize| sides.iter().map(|side| side[cell].1).fold(0.0, f32::max);
        let peaks: Vec<f32> = (0..cells).map(peak).collect();
        let near = |cell: usize| (cell + cells - REACH..=cell + cells + REACH).map(|near| peaks[near % cells]);
        let most = |cell: usize| near(cell).fold(f32::MIN_POSITIVE, f32::max);
        LoudnessEstimate {
            peaks: (0..cells).map(|cell| log2(most(cell)) as f32).collect(),
            powers: (0..cells).map(power).collect(),
            kept: libm::exp(-cell_seconds / RELEASE) as f32,
            run_in: libm::round(AT_REST / cell_seconds) as usize,
            step: (libm::round(TENTH / cell_seconds) as usize).max(1),
        }
    }

    /// Bytes that one of so many frames takes.
    pub(crate) fn bytes(frames: usize) -> usize {
        2 * frames.div_ceil(CELL) * size_of::<f32>()
    }

    /// The estimate of how loud it comes out with so much gain before a ceiling, if there is one: in LUFS; none for silence, or less
    /// than a block.
    pub(crate) fn lufs(&self, gain_db: f64, ceiling_db: Option<f64>) -> Option<f64> {
        let gain = (gain_db * LOG2_OF_DB) as f32;
        let cells = self.peaks.len();
        let over = ceiling_db.map_or(f32::NEG_INFINITY, |db| gain - (db * LOG2_OF_DB) as f32);
        let under = ((UNDER_DB + BETWEEN_DB) * LOG2_OF_DB) as f32;
        let mut released = 0.0_f32;
        let mut follow = |peak: &f32| {
            let over = peak + over;
            let need = if over > 0.0 { over + under } else { 0.0 };
            released = need.max(released * self.kept);
            released
        };
        // Round the circle, as the ceiling always goes.
        self.peaks[cells - self.run_in.min(cells)..].iter().for_each(|peak| {
            follow(peak);
        });
        let reductions: Vec<f32> = self.peaks.iter().map(follow).collect();
        let steps = self
            .powers
            .chunks_exact(self.step)
            .zip(reductions.chunks_exact(self.step));
        let steps: Vec<f64> = steps
            .map(|(powers, reductions)| {
                let sum = wide(Reduced {
                    powers,
                    reductions,
                    gain,
                });
                f64::from(sum) / (self.step * CELL) as f64
            })
            .collect();
        gated(&blocks(&steps))
    }

    /// The least gain from `least_db` to `most_db` at which the estimate is so many LUFS, or the most.
    pub(crate) fn gain_for(&self, lufs: f64, ceiling_db: f64, least_db: f64, most_db: f64) -> f64 {
        let short = |gain_db: f64| lufs - self.lufs(gain_db, Some(ceiling_db)).unwrap_or(f64::NEG_INFINITY);
        let (mut low, mut high) = ((least_db, short(least_db)), (most_db, short(most_db)));
        if low.1 <= 0.0 {
            return low.0;
        }
        if high.1 > 0.0 || low.1.is_infinite() {
            return high.0;
        }
        // Where a straight line through both ends comes to it; that lies low, since a decibel more brings less and less, so the
        // high end moves by halves.
        for _ in 0..STEPS_TO_GAIN {
            let line = low.0 + (high.0 - low.0) * low.1 / (low.1 - high.1);
            let next = (line, short(line));
            if next.1.abs() < CLOSE {
                return line;
            }
            *(if next.1 > 0.0 { &mut low } else { &mut high }) = next;
            high.1 *= 0.5;
        }
        high.0
    }

    /// The gain at which its highest frame lies so many dB over a ceiling.
    pub(crate) fn gain_over(&self, over_db: f64, ceiling_db: f64) -> f64 {
        let highest = self.peaks.iter().copied().fold(f32::MIN, f32::max);
        over_db + ceiling_db - f64::from(highest) / LOG2_OF_DB
    }
}

/// What is left of the power of some cells.
struct Reduced<'a> {
    powers: &'a [f32],
    /// What the ceiling takes off each, in log2.
    reductions: &'a [f32],
    gain: f32,
}

impl Work for Reduced<'_> {
    type Made = f32;

    #[inline(always)]
    fn work(self) -> f32 {
        let mut sums = [0.0_f32; 8];
        let left = |power: f32, reduction: f32| power * exp2(2.0 * (self.gain - reduction));
        let (powers, reductions) = (self.powers.as_chunks::<8>(), self.reductions.as_chunks::<8>());
        for (powers, reductions) in powers.0.iter().zip(reductions.0) {
            for lane in 0..8 {
                sums[lane] += left(powers[lane], reductions[lane]);
            }
        }
        let rest = powers.1.iter().zip(reductions.1);
        sums.iter().sum::<f32>() + rest.map(|(power, reduction)| left(*power, *reduction)).sum::<f32>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::loudness;
    use crate::mix::test_signals::{beat, noise};

    fn audio(size: f32, rate: u32) -> Audio {
        let left: Vec<f32> = beat(1.0)
            .iter()
            .zip(noise(0.2, 3, 96_000))
            .map(|(a, b)| size * (a + b))
            .collect();
        let right = left.iter().rev().map(|sample| 0.3 * sample).collect();
        Audio {
            channels: vec![left.repeat(4), [right, vec![0.0; 288_000]].concat()],
            rate,
        }
    }

    #[test]
    fn what_passes_is_as_loud_as_the_meter_says() {
        for rate in [44_100, 48_000, 96_000] {
            for size in [0.1, 1e-3, 0.004] {
                let audio = audio(size, rate);
                let own = LoudnessEstimate::on(&audio).lufs(3.0, None).unwrap();
                let mut louder = audio.clone();
                let gain = crate::base::audio::gain_of_db(3.0) as f32;
                louder.channels.iter_mut().flatten().for_each(|sample| *sample *= gain);
                let meter = loudness(&louder).unwrap();
                assert!((own - meter).abs() < 0.02, "{rate}, {size}: {own} {meter}");
            }
        }
        for silent in [Audio::silence(2, 96_000, 48_000), Audio::silence(2, 0, 48_000)] {
            assert_eq!(LoudnessEstimate::on(&silent).lufs(0.0, Some(-1.0)), None);
        }
        let short = Audio {
            channels: vec![vec![0.5; 19_000]; 2],
            rate: 48_000,
        };
        assert_eq!(LoudnessEstimate::on(&short).lufs(0.0, None), None);
    }

    #[test]
    fn under_the_ceiling_a_decibel_is_a_decibel_and_over_it_less() {
        let lean = LoudnessEstimate::on(&audio(0.1, 48_000));
        let level = |gain_db: f64| lean.lufs(gain_db, Some(-1.0)).unwrap();
        assert!((level(3.0) - level(0.0) - 3.0).abs() < 1e-3);
        let over = lean.gain_over(0.0, -1.0);
        assert!(
            (level(over) - level(0.0) - over).abs() < 1e-3,
            "up to the ceiling nothing is taken off"
        );
        let steps: Vec<f64> = (0..6).map(|n| level(over + 2.0 * f64::from(n))).collect();
        assert!(
            steps
                .windows(2)
                .all(|pair| pair[1] > pair[0] && pair[1] - pair[0] < 2.0001),
            "{steps:?}"
        );
        assert!(steps[5] - steps[4] < 1.9, "{steps:?}");
    }

    #[test]
    fn the_gain_for_a_level_comes_to_it() {
        let lean = LoudnessEstimate::on(&audio(0.1, 48_000));
        let over = lean.gain_over(0.0, -1.0);
        let wanted = lean.lufs(over, Some(-1.0)).unwrap() + 1.0;
        let gain = lean.gain_for(wanted, -1.0, over, over + 12.0);
        assert!((lean.lufs(gain, Some(-1.0)).unwrap() - wanted).abs() < 0.01 && gain > over + 1.0);
        assert_eq!(lean.gain_for(wanted + 60.0, -1.0, over, over + 12.0), over + 12.0);
        assert_eq!(lean.gain_for(wanted - 60.0, -1.0, over, over + 12.0), over);
    }
}
