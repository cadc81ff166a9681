//! True peaks: the largest value that a signal reaches between its frames.

use super::oversample::between;

/// Frames on each side of an interval that its reading between looks at.
pub const REACH: usize = 12;

/// Taps of each reading.
const TAPS: usize = 2 * REACH;

/// Places looked at in an interval, without the frame that begins it.
const PLACES: usize = 7;

/// Intervals that are looked at, or passed over, together.
pub const GROUP: usize = 16;

/// Rounding's share of a bound.
const SLACK: f32 = 1.0001;

/// Reads peaks between frames where there may be any over a ceiling.
#[derive(Debug, Clone)]
pub struct Between {
    taps: [[f32; TAPS]; PLACES],
    /// How much of the largest second difference around an interval its reading can lie beyond both ends.
    bulge: f32,
}

impl Between {
    /// Eighths of a frame.
    pub fn new() -> Between {
        let mut taps = [[0.0; TAPS]; PLACES];
        let mut bulge = 0.0_f64;
        for (place, taps) in taps.iter_mut().enumerate() {
            let share = (place + 1) as f64 / (PLACES + 1) as f64;
            let exact = between(REACH, share, BETA);
            bulge = bulge.max(beyond_line(&exact, share));
            for (tap, exact) in taps.iter_mut().zip(exact) {
                *tap = exact as f32;
            }
        }
        Between {
            taps,
            bulge: bulge as f32,
        }
    }

    /// For each of `peaks`, the largest absolute value from one frame up to the next one, over all lines; the first
    /// interval begins at frame `at` of the lines, which must reach [`REACH`] frames beyond the last and begin as many
    /// before the first. Where no value can be over `ceiling`, the frames' own are enough.
    pub fn peaks(&self, lines: &[Vec<f32>], at: usize, ceiling: f32, peaks: &mut [f32]) {
        peaks.fill(0.0);
        for (group, peaks) in peaks.chunks_mut(GROUP).enumerate() {
            let at = at + group * GROUP;
            for line in lines {
                let near = &line[at + 1 - REACH..at + peaks.len() + REACH];
                for (peak, x) in peaks.iter_mut().zip(&near[REACH - 1..]) {
                    *peak = peak.max(x.abs());
                }
                if !self.is_below(near, ceiling) {
                    self.read(near, peaks);
                }
            }
        }
    }

    /// True if nothing between the frames can be over the ceiling: a reading is the straight line between the interval's ends and a
    /// weighted sum of second differences.
    fn is_below(&self, near: &[f32], ceiling: f32) -> bool {
        let most = |values: &[f32]| {
            values
                .iter()
                .fold(0.0_f32, |most, x| if x.abs() > most { x.abs() } else { most })
        };
        let ends = most(&near[REACH - 1..=near.len() - REACH]);
        if ends > ceiling {
            return false;
        }
        let bend = near.windows(3).fold(0.0_f32, |most, x| {
            let bend = (x[0] - x[1] + (x[2] - x[1])).abs();
            if bend > most { bend } else { most }
        });
        (ends + self.bulge * bend) * SLACK <= ceiling
    }

    fn read(&self, near: &[f32], peaks: &mut [f32]) {
        for taps in &self.taps {
            if peaks.len() == GROUP {
                let mut sum = [0.0_f32; GROUP];
                for (k, tap) in taps.iter().enumerate() {
                    let near = &near[k..][..GROUP];
                    for j in 0..GROUP {
                        sum[j] += tap * near[j];
                    }
                }
                for (peak, sum) in peaks.iter_mut().zip(sum) {
                    *peak = peak.max(sum.abs());
                }
            } else {
                for (j, peak) in peaks.iter_mut().enumerate() {
                    let mut sum = 0.0_f32;
                    for (k, tap) in taps.iter().enumerate() {
                        sum += tap * near[j + k];
                    }
                    *peak = peak.max(sum.abs());
                }
            }
        }
        for peak in peaks {
            *peak = peak.min(f32::MAX);
        }
    }
}

/// The deepest stop band that 24 taps leave room for beside a pass band up to 20 kHz.
const BETA: f64 = 5.0;

/// The sum of absolute weights by which second differences enter a reading, once the straight line between the
/// interval's ends is taken out of it: the kernel summed twice.
fn beyond_line(taps: &[f64], share: f64) -> f64 {
    let (mut once, mut twice, mut size) = (0.0, 0.0, 0.0);
    for (k, tap) in taps.iter().enumerate() {
        let line = match k + 1 {
            REACH => 1.0 - share,
            k if k == REACH + 1 => share,
            _ => 0.0,
        };
        once += tap - line;
        twice += once;
        size += f64::abs(twice);
    }
    size
}
