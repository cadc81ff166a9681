//! How far to lean into a ceiling for the sake of loudness: an estimate at next to no cost, so that few tries are needed.
//!
//! The ceiling is followed roughly, in cells of a millisecond or so: by the highest frame of each, held over its
//! neighbours, and released. What comes out is not weighted by frequency, so only its changes are of use: whoever asks sets
//! it right by what a meter said of the real thing.

use super::ceiling::{AT_REST, RELEASE};
use super::fast::{LOG2_OF_DB, exp2, log2};
use crate::audio::Audio;

/// Frames of a cell.
const CELL: usize = 64;
/// Cells before and behind one that its peak reaches into: the ceiling's look-ahead.
const REACH: usize = 1;
/// Blocks that are further under the mean do not count for loudness (ITU-R BS.1770-5), as a share of power.
const GATE: f64 = 0.1;
/// Halvings of the range in which the gain is looked for: 12 dB to some thousandths.
const HALVINGS: usize = 12;

/// A signal as the estimate sees it.
pub struct Lean {
    /// log2 of each cell's highest frame.
    peaks: Vec<f32>,
    /// Each cell's power.
    powers: Vec<f32>,
    /// log2 of the ceiling.
    ceiling: f32,
    /// Of the release, what is left after a cell, and cells in which it has come to rest.
    kept: f32,
    run_in: usize,
    /// Cells of a block of loudness.
    block: usize,
}

impl Lean {
    /// Looks at a stereo signal that is to go under a ceiling.
    pub fn on(audio: &Audio, ceiling_db: f64) -> Lean {
        let cells = audio.frames().div_ceil(CELL);
        let (mut peaks, mut powers) = (vec![0.0_f32; cells], vec![0.0_f32; cells]);
        for side in &audio.channels {
            for ((cell, peak), power) in side.chunks(CELL).zip(&mut peaks).zip(&mut powers) {
                let (most, sum) = reach(cell);
                *peak = if most > *peak { most } else { *peak };
                *power += sum;
            }
        }
        let peaks = peaks.into_iter().map(|peak| log2(peak.max(f32::MIN_POSITIVE)) as f32);
        let cell_seconds = CELL as f64 / f64::from(audio.rate.max(1));
        Lean {
            peaks: peaks.collect(),
            powers,
            ceiling: (ceiling_db * LOG2_OF_DB) as f32,
            kept: libm::exp(-cell_seconds / RELEASE) as f32,
            run_in: libm::round(AT_REST / cell_seconds) as usize,
            block: ((0.4 / cell_seconds) as usize).max(1),
        }
    }

    /// The estimate of how loud it comes out with so much gain before the ceiling, in dB from a reference of its own.
    pub fn level_db(&self, gain_db: f64) -> f64 {
        let gain = (gain_db * LOG2_OF_DB) as f32;
        let cells = self.peaks.len();
        let over = |cell: usize| (self.peaks[cell] + gain - self.ceiling).max(0.0);
        let held = |cell: usize| {
            (0..=2 * REACH).fold(0.0_f32, |most, near| {
                most.max(over((cell + cells + near - REACH) % cells))
            })
        };
        let mut released = 0.0_f32;
        let mut step = |cell: usize| {
            released = held(cell).max(released * self.kept);
            released
        };
        // Round the circle, as the ceiling always goes.
        (cells - self.run_in.min(cells)..cells).for_each(|cell| {
            step(cell);
        });
        let mut blocks = vec![0.0_f64; cells.div_ceil(self.block)];
        for (cell, power) in self.powers.iter().enumerate() {
            blocks[cell / self.block] += f64::from(power * exp2(2.0 * (gain - step(cell))));
        }
        let mean = |above: f64| {
            let counted = blocks.iter().filter(|block| **block >= above);
            counted.clone().sum::<f64>() / counted.count().max(1) as f64
        };
        10.0 * libm::log10(mean(GATE * mean(0.0)).max(f64::MIN_POSITIVE))
    }

    /// The least gain from `least_db` to `most_db` at which the estimate is `level_db`, or the most.
    pub fn gain_for(&self, level_db: f64, least_db: f64, most_db: f64) -> f64 {
        let (mut low, mut high) = (least_db, most_db);
        if self.level_db(low) >= level_db {
            return low;
        }
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if self.level_db(middle) < level_db {
                low = middle;
            } else {
                high = middle;
            }
        }
        high
    }

    /// The gain at which its highest frame lies so many dB over the ceiling.
    pub fn gain_over(&self, over_db: f64) -> f64 {
        let highest = self.peaks.iter().copied().fold(f32::MIN, f32::max);
        over_db + f64::from(self.ceiling - highest) / LOG2_OF_DB
    }
}

/// The highest frame and the sum of squares of some frames, in eight lanes side by side.
fn reach(cell: &[f32]) -> (f32, f32) {
    let (mut most, mut sums) = ([0.0_f32; 8], [0.0_f32; 8]);
    let (eights, rest) = cell.as_chunks::<8>();
    for eight in eights {
        for ((most, sum), sample) in most.iter_mut().zip(&mut sums).zip(eight) {
            *most = if sample.abs() > *most { sample.abs() } else { *most };
            *sum += sample * sample;
        }
    }
    let most = most
        .iter()
        .chain(rest)
        .fold(0.0_f32, |most, sample| most.max(sample.abs()));
    let rest: f32 = rest.iter().map(|sample| sample * sample).sum();
    (most, sums.iter().sum::<f32>() + rest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::signals::{beat, noise};

    fn audio(size: f32) -> Audio {
        let side: Vec<f32> = beat(1.0)
            .iter()
            .zip(noise(0.2, 3, 96_000))
            .map(|(a, b)| size * (a + b))
            .collect();
        Audio {
            channels: vec![side.clone(), side],
            rate: 48_000,
        }
    }

    #[test]
    fn under_the_ceiling_a_decibel_is_a_decibel_and_over_it_less() {
        let lean = Lean::on(&audio(0.1), -1.0);
        let level = |gain_db: f64| lean.level_db(gain_db);
        assert!((level(3.0) - level(0.0) - 3.0).abs() < 1e-3);
        let over = lean.gain_over(0.0);
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
        let lean = Lean::on(&audio(0.1), -1.0);
        let over = lean.gain_over(0.0);
        let wanted = lean.level_db(over) + 1.0;
        let gain = lean.gain_for(wanted, over, over + 12.0);
        assert!((lean.level_db(gain) - wanted).abs() < 0.01 && gain > over + 1.0);
        assert_eq!(lean.gain_for(wanted + 60.0, over, over + 12.0), over + 12.0);
        assert_eq!(lean.gain_for(wanted - 60.0, over, over + 12.0), over);
    }
}
