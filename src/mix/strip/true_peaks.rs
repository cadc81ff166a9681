//! True peaks: the largest value that a signal reaches between its frames.
//!
//! Read at eighths of a frame, in two steps: a long half-band filter finds the values midway, and from the doubled
//! signal, which leaves room, a short windowed sinc finds the three between each two of those.

use super::oversampling::{between, half_band};
use crate::base::audio::highest;
use crate::base::simd::Work;

/// Pairs of taps that find the value midway.
const HALF: usize = 32;

/// Kaiser's beta for them: flat to 0.46 of the rate, above which ordinary programme has next to nothing.
const HALF_BETA: f64 = 5.0;

/// Taps on each side that find the rest.
const SHORT: usize = 4;

/// Frames on each side of an interval that its reading looks at.
pub(crate) const REACH: usize = HALF + SHORT / 2;

/// Intervals that are read, or passed over, together: with the midway values around them they make thirty-two.
pub(crate) const GROUP: usize = 32 - SHORT;

/// Groups that are passed over together, where that is sure of all of them: for most that is.
const GLANCE: usize = 8;

/// Rounding's share of a bound.
const SLACK: f32 = 1.0001;

/// Reads peaks between frames where there may be any over a ceiling.
#[derive(Debug, Clone)]
pub(crate) struct Between {
    midway: [f32; HALF],
    quarters: [[f32; 2 * SHORT]; 3],
    /// How much of the largest second difference around an interval its reading can lie beyond both ends.
    bulge: f32,
}

impl Between {
    /// Eighths of a frame.
    pub(crate) fn new() -> Between {
        let mut midway = [0.0; HALF];
        midway.copy_from_slice(&half_band(HALF, HALF_BETA));
        let quarters = [0.25, 0.5, 0.75].map(|share| between(SHORT, share, 6.0));
        let ways = quarters.iter().enumerate().flat_map(|(place, taps)| {
            [0, 1].map(|half| {
                beyond_line(
                    &whole(&midway, taps, half),
                    (half as f64 + (place + 1) as f64 / 4.0) / 2.0,
                )
            })
        });
        let plain = [0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0];
        let bulge = ways.fold(beyond_line(&whole(&midway, &plain, 1), 0.5), f64::max);
        Between {
            midway,
            quarters: quarters.map(|taps| std::array::from_fn(|tap| taps[tap] as f32)),
            bulge: bulge as f32,
        }
    }

    /// By how much a reading can exceed the highest frame around it: a second difference is at most four times that.
    pub(crate) fn most(&self) -> f32 {
        (1.0 + 4.0 * self.bulge) * SLACK
    }

    /// For each of `peaks`, the largest absolute value from one frame up to the next one, over all lines; the first
    /// interval begins at frame `at` of the lines, which must reach [`REACH`] frames beyond the last and begin as many
    /// before the first. Where no value can be over `ceiling`, it may be left out.
    #[inline(always)]
    fn peaks(&self, lines: &[Vec<f32>], at: usize, ceiling: f32, peaks: &mut [f32]) {
        peaks.fill(0.0);
        for (glance, peaks) in peaks.chunks_mut(GLANCE * GROUP).enumerate() {
            let at = at + glance * GLANCE * GROUP;
            for line in lines {
                if !self.is_below(&line[at + 1 - REACH..at + peaks.len() + REACH], ceiling) {
                    self.groups(line, at, ceiling, peaks);
                }
            }
        }
    }

    /// Raises peaks to those of a line, group by group.
    #[inline(always)]
    fn groups(&self, line: &[f32], at: usize, ceiling: f32, peaks: &mut [f32]) {
        for (group, peaks) in peaks.chunks_mut(GROUP).enumerate() {
            let at = at + group * GROUP;
            let near = &line[at + 1 - REACH..at + peaks.len() + REACH];
            if self.is_below(near, ceiling) {
                continue;
            }
            for (peak, x) in peaks.iter_mut().zip(&near[REACH - 1..]) {
                *peak = larger(*peak, *x);
            }
            self.read(near, peaks);
        }
    }

    /// True if nothing on the frames or between them can be over the ceiling: a reading is the straight line between the
    /// interval's ends and a weighted sum of second differences. Both are bounded by their largest.
    #[inline(always)]
    fn is_below(&self, near: &[f32], ceiling: f32) -> bool {
        let ends = highest(&near[REACH - 1..=near.len() - REACH]);
        ends <= ceiling && (ends + self.bulge * bend(near)) * SLACK <= ceiling
    }

    /// Raises peaks to what lies between the frames. Fewer than a group are read as a whole one, so the cut into
    /// blocks changes no bit.
    #[inline(always)]
    fn read(&self, near: &[f32], peaks: &mut [f32]) {
        const HALVES: usize = GROUP + SHORT;
        let mut frames = [0.0_f32; GROUP + 2 * REACH];
        frames[..near.len()].copy_from_slice(near);
        let mut halves = [0.0_f32; HALVES];
        for (k, tap) in self.midway.iter().enumerate() {
            let left = &frames[HALF - 1 - k..][..HALVES];
            let right = &frames[HALF + k..][..HALVES];
            for i in 0..HALVES {
                halves[i] += tap * (left[i] + right[i]);
            }
        }
        // The doubled signal, from the first value midway on.
        let mut doubled = [0.0_f32; 2 * HALVES];
        for i in 0..HALVES {
            doubled[2 * i] = halves[i];
            doubled[2 * i + 1] = frames[HALF + i];
        }
        let mut most = [0.0_f32; 2 * GROUP];
        for (i, most) in most.iter_mut().enumerate() {
            *most = larger(0.0, doubled[SHORT - 1 + i]);
        }
        for taps in &self.quarters {
            let mut sums = [0.0_f32; 2 * GROUP];
            for (k, tap) in taps.iter().enumerate() {
                let doubled = &doubled[k..][..2 * GROUP];
                for i in 0..2 * GROUP {
                    sums[i] += tap * doubled[i];
                }
            }
            for i in 0..2 * GROUP {
                most[i] = larger(most[i], sums[i]);
            }
        }
        for (peak, pair) in peaks.iter_mut().zip(most.chunks_exact(2)) {
            *peak = larger(larger(*peak, pair[0]), pair[1]).min(f32::MAX);
        }
    }
}

/// A look for the peaks of some lines.
pub(crate) struct Peaks<'a> {
    /// What reads.
    pub between: &'a Between,
    /// The lines.
    pub lines: &'a [Vec<f32>],
    /// The frame at which the first interval begins.
    pub at: usize,
    /// What none may be over to be passed by.
    pub ceiling: f32,
    /// Where they go.
    pub peaks: &'a mut [f32],
}

impl Work for Peaks<'_> {
    type Made = ();

    #[inline(always)]
    fn work(self) {
        self.between.peaks(self.lines, self.at, self.ceiling, self.peaks);
    }
}

/// The larger of a positive value and another's size; one comparison, where `max` would also ask for NaN.
#[inline(always)]
fn larger(most: f32, x: f32) -> f32 {
    let size = x.abs();
    if size > most { size } else { most }
}

/// The largest second difference, found in eight lanes side by side.
#[inline(always)]
fn bend(frames: &[f32]) -> f32 {
    let count = frames.len().saturating_sub(2);
    let of = |before: f32, here: f32, after: f32| (before - here) + (after - here);
    let (before, here, after) = (&frames[..count], &frames[1..][..count], &frames[2..][..count]);
    let ((before, here, after), rest) = (
        (
            before.as_chunks::<8>().0,
            here.as_chunks::<8>().0,
            after.as_chunks::<8>().0,
        ),
        count / 8 * 8..count,
    );
    let mut most = [0.0_f32; 8];
    for ((before, here), after) in before.iter().zip(here).zip(after) {
        for lane in 0..8 {
            most[lane] = larger(most[lane], of(before[lane], here[lane], after[lane]));
        }
    }
    let lanes = most.into_iter().fold(0.0, f32::max);
    rest.fold(lanes, |most, at| {
        larger(most, of(frames[at], frames[at + 1], frames[at + 2]))
    })
}

/// What each frame weighs in a reading from the doubled signal around its `half`-th place (0: a frame, 1: midway).
fn whole(midway: &[f32], taps: &[f64], half: usize) -> Vec<f64> {
    let mut whole = vec![0.0; 2 * REACH];
    for (tap, weight) in taps.iter().enumerate() {
        // In halves of a frame from the whole kernel's first.
        let place = 2 * (REACH - 1) + half + tap + 1 - SHORT;
        if place.is_multiple_of(2) {
            whole[place / 2] += weight;
        } else {
            for (k, midway) in midway.iter().enumerate() {
                whole[place / 2 - k] += weight * f64::from(*midway);
                whole[place / 2 + 1 + k] += weight * f64::from(*midway);
            }
        }
    }
    whole
}

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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::test_signals::{noise, sine, true_peak};

    fn read(signal: &[f32], ceiling: f32) -> Vec<f32> {
        let mut line = vec![0.0; REACH];
        line.extend(signal);
        line.extend(vec![0.0; REACH]);
        let mut peaks = vec![0.0; signal.len()];
        Between::new().peaks(&[line], REACH, ceiling, &mut peaks);
        peaks
    }

    #[test]
    fn passes_over_nothing_that_is_over() {
        for (seed, amplitude) in [(1, 0.6), (2, 0.8), (3, 1.0)] {
            let mut signal = noise(amplitude, seed, 6000);
            // Duller and duller, so that every bound is met.
            for frame in 1..signal.len() {
                let keep = frame as f32 / signal.len() as f32;
                signal[frame] = keep * signal[frame - 1] + (1.0 - keep) * signal[frame];
            }
            let every = read(&signal, 0.0);
            for ceiling in [0.2, 0.4, 0.6, 0.8] {
                for (some, all) in read(&signal, ceiling).iter().zip(&every) {
                    assert!(some == all || *all <= ceiling, "{some} {all} at {ceiling}");
                }
            }
        }
    }

    #[test]
    fn reads_a_sine_between_its_frames() {
        // EBU Tech 3341: a quarter of the rate at 45 degrees, amplitude 1/2, is -6 dBTP; frames alone say -9. [memory]
        let signal = sine(0.5, 12_000.0, std::f64::consts::FRAC_PI_4, 48_000, 2000);
        let most = read(&signal, 0.0)[500..1500].iter().copied().fold(0.0, f32::max);
        assert!((most - 0.5).abs() < 0.002, "{most}");
        assert!(signal.iter().all(|x| x.abs() < 0.36));
    }

    #[test]
    fn keeps_company_with_a_longer_and_finer_meter() {
        let signal = noise(1.0, 9, 20_000);
        let most = read(&signal, 0.0).iter().copied().fold(0.0, f32::max);
        let exact = true_peak(&signal);
        assert!((f64::from(most) / exact - 1.0).abs() < 0.02, "{most} {exact}");
    }
}
