//! Tables for reading a signal between its frames: windowed sincs.

use crate::base::windowed_sinc::{kaiser, sinc};

/// One side of a half-band interpolator: what the neighbours at distances 1, 3, 5 … (in halves of a frame) weigh in the
/// value midway between two frames. Both sides together weigh 1.
pub(crate) fn half_band(pairs: usize, beta: f64) -> Vec<f32> {
    let reach = 2.0 * pairs as f64;
    let weights: Vec<f64> = (0..pairs)
        .map(|pair| {
            let distance = (2 * pair + 1) as f64;
            sinc(distance / 2.0) * kaiser(distance / reach, beta)
        })
        .collect();
    let sum: f64 = weights.iter().sum();
    weights.iter().map(|weight| (weight / sum / 2.0) as f32).collect()
}

/// One side of a low-pass, its middle first: `reach` taps beyond the middle, `cut` as a share of the rate it runs at, the
/// whole weighing 1.
pub(crate) fn low_pass(reach: usize, cut: f64, beta: f64) -> Vec<f32> {
    let weights: Vec<f64> = (0..=reach)
        .map(|tap| sinc(2.0 * cut * tap as f64) * kaiser(tap as f64 / (reach as f64 + 1.0), beta))
        .collect();
    let sum = weights[0] + 2.0 * weights[1..].iter().sum::<f64>();
    weights.iter().map(|weight| (weight / sum) as f32).collect()
}

/// Taps that read a signal `share` of a frame after a frame, from `reach - 1` frames before it to `reach` after it.
///
/// They keep constants and straight lines exactly as they are.
pub(crate) fn between(reach: usize, share: f64, beta: f64) -> Vec<f64> {
    let place = |tap: usize| tap as f64 - (reach as f64 - 1.0) - share;
    let mut taps: Vec<f64> = (0..2 * reach)
        .map(|tap| sinc(place(tap)) * kaiser(place(tap) / reach as f64, beta))
        .collect();
    let sum: f64 = taps.iter().sum();
    taps.iter_mut().for_each(|tap| *tap /= sum);
    let lean: f64 = taps.iter().enumerate().map(|(tap, weight)| weight * place(tap)).sum();
    taps[reach - 1] += lean;
    taps[reach] -= lean;
    taps
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;
    use crate::mix::test_signals::db;

    /// The gain in dB of a symmetrical filter given by its middle and one side, at a share of the rate it runs at; the
    /// side's taps are `step` apart, the first `first` from the middle.
    fn response(middle: f64, side: &[f32], first: usize, step: usize, share: f64) -> f64 {
        let sides = side
            .iter()
            .enumerate()
            .map(|(tap, weight)| 2.0 * f64::from(*weight) * libm::cos(2.0 * PI * share * (first + step * tap) as f64));
        db((middle + sides.sum::<f64>()).abs())
    }

    #[test]
    fn the_saturators_filters_close_where_they_say() {
        // Up: an interpolator's frames are its middle; of the two, half.
        let first: Vec<f32> = half_band(8, 6.5).iter().map(|weight| weight / 2.0).collect();
        for step in 0..=60 {
            let share = f64::from(step) / 60.0;
            assert!(response(0.5, &first, 1, 2, 0.16 * share).abs() < 0.02);
            assert!(response(0.5, &first, 1, 2, 0.5 - 0.16 * share) < -56.0);
        }
        // Down: shares of twice the rate.
        let last = low_pass(18, 0.203, 6.2);
        let at = |share: f64| response(f64::from(last[0]), &last[1..], 1, 1, share);
        assert!(
            at(0.15).abs() < 0.1 && at(1.0 / 6.0) > -1.0,
            "{} {}",
            at(0.15),
            at(1.0 / 6.0)
        );
        for step in 0..=100 {
            let share = 0.26 + 0.24 * f64::from(step) / 100.0;
            assert!(at(share) < -60.0, "{share}: {}", at(share));
        }
    }

    #[test]
    fn the_meters_filter_is_flat_to_0_46_of_the_rate() {
        let halves: Vec<f32> = half_band(32, 5.0).iter().map(|weight| weight / 2.0).collect();
        for step in 0..=60 {
            let share = 0.46 / 2.0 * f64::from(step) / 60.0;
            assert!(response(0.5, &halves, 1, 2, share).abs() < 0.03, "{share}");
        }
    }

    #[test]
    fn readings_between_frames_keep_straight_lines() {
        for share in [0.1, 0.25, 0.5, 0.9] {
            let taps = between(4, share, 6.0);
            let read = |line: fn(f64) -> f64| {
                taps.iter()
                    .enumerate()
                    .map(|(tap, weight)| weight * line(tap as f64 - 3.0))
                    .sum::<f64>()
            };
            assert!((read(|_| 1.0) - 1.0).abs() < 1e-12);
            assert!((read(|x| 2.0 + x) - 2.0 - share).abs() < 1e-12);
        }
    }
}
