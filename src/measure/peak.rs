//! Sample peak and true peak.

use std::f64::consts::PI;

use rayon::prelude::*;

use crate::audio::{Audio, db_of_gain, peak};

/// ITU-R BS.1770-5 annex 2 asks for at least four times as many samples at 48 kHz.
const FACTOR: usize = 4;

/// Frames that each interpolated value is made from.
const TAPS: usize = 24;

/// Frames that are looked at together.
const GLANCE: usize = 32;

/// Frames one task goes through.
const STRETCH: usize = 1 << 16;

/// The largest sample in dBFS; none for silence.
pub fn sample_peak_db(audio: &Audio) -> Option<f64> {
    level(peak(&audio.channels))
}

/// The true peak in dBTP: the largest absolute value of the samples and of three more between each two of them;
/// none for silence.
///
/// Like a meter, it starts from silence, and does not look past what an interpolation at the last frames would need:
/// a repeating loop may end at full level without being told of an overshoot that its repeat never makes.
pub fn true_peak_db(audio: &Audio) -> Option<f64> {
    level(true_peak(&audio.channels))
}

fn level(peak: f32) -> Option<f64> {
    (peak > 0.0).then(|| db_of_gain(f64::from(peak)))
}

fn true_peak(channels: &[Vec<f32>]) -> f32 {
    let between = Between::new();
    let known = peak(channels);
    channels
        .par_iter()
        .map(|channel| {
            let stretches = channel.len().div_ceil(STRETCH).max(1);
            (0..stretches)
                .into_par_iter()
                .map(|number| between.stretch(channel, number * STRETCH, known))
                .reduce(|| known, f32::max)
        })
        .reduce(|| known, f32::max)
}

/// The interpolator: three phases of a sinc under a Hann window. The fourth is the samples themselves.
struct Between {
    phases: [[f32; TAPS]; FACTOR - 1],
    /// By how much an interpolated value can exceed the largest of the samples that it's made from.
    most: f32,
}

impl Between {
    fn new() -> Between {
        let phases: [[f32; TAPS]; FACTOR - 1] = std::array::from_fn(|phase| {
            let place = (phase + 1) as f64 / FACTOR as f64;
            let weights: [f64; TAPS] = std::array::from_fn(|tap| {
                let x = tap as f64 - (TAPS / 2 - 1) as f64 - place;
                let edge = x / (TAPS / 2) as f64;
                libm::sin(PI * x) / (PI * x) * (0.5 + 0.5 * libm::cos(PI * edge))
            });
            let sum: f64 = weights.iter().sum();
            weights.map(|weight| (weight / sum) as f32)
        });
        let most = phases
            .iter()
            .map(|taps| taps.iter().map(|tap| tap.abs()).sum())
            .fold(1.0, f32::max);
        Between { phases, most }
    }

    /// The true peak of one stretch, or `known` where that is more.
    fn stretch(&self, channel: &[f32], from: usize, known: f32) -> f32 {
        let before = TAPS / 2 - 1;
        let to = (from + STRETCH).min(channel.len().saturating_sub(TAPS / 2));
        let mut most = known;
        let mut near = [0.0; GLANCE + TAPS];
        let mut at = from;
        while at < to {
            let run = GLANCE.min(to - at);
            let near = match at.checked_sub(before) {
                Some(first) if first + GLANCE + TAPS <= channel.len() => &channel[first..first + GLANCE + TAPS],
                _ => {
                    for (offset, sample) in near.iter_mut().enumerate() {
                        let frame = (at + offset).checked_sub(before);
                        *sample = frame.and_then(|frame| channel.get(frame)).map_or(0.0, |s| *s);
                    }
                    &near[..]
                }
            };
            let loudest = near.iter().fold(0.0_f32, |loudest, sample| loudest.max(sample.abs()));
            if loudest * self.most > most {
                most = most.max(self.glance(near, run));
            }
            at += run;
        }
        most
    }

    /// The largest interpolated value over the first `run` frames of a glance.
    fn glance(&self, near: &[f32], run: usize) -> f32 {
        let mut most = 0.0_f32;
        for taps in &self.phases {
            let mut sums = [0.0_f32; GLANCE];
            for (tap, weight) in taps.iter().enumerate() {
                for (sum, sample) in sums.iter_mut().zip(&near[tap..tap + GLANCE]) {
                    *sum += weight * sample;
                }
            }
            most = sums[..run].iter().fold(most, |most, sum| most.max(sum.abs()));
        }
        most
    }
}
