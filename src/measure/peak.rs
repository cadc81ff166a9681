//! Sample peak and true peak.

use std::f64::consts::PI;
use std::ops::Range;

use rayon::prelude::*;

use crate::base::audio::{Audio, db_of_gain, highest};
use crate::base::simd::{Work, wide};
use crate::base::stages::all;
use crate::base::windowed_sinc::sinc;

/// Frames that each interpolated value is made from.
const TAPS: usize = 24;

/// Frames that are looked at together.
const GLANCE: usize = 32;

/// Frames that are worked out side by side.
const LANES: usize = 8;

/// Frames of a look: those whose highest sample tells whether there is anything to interpolate. More than an
/// interpolation reaches.
const LOOK: usize = 256;

/// Looks that one task goes through.
const STRETCH: usize = 256;

/// The true peak in dBTP: the largest absolute value of the samples and of three more between each two of them;
/// none for silence. ITU-R BS.1770-5 annex 2 asks for four times as many samples at 48 kHz.
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
    let looks: Vec<Vec<f32>> = channels.iter().map(|channel| highest_of_each_look(channel)).collect();
    let lines = || channels.iter().zip(&looks);
    // Around the loudest sample there is most often the highest peak, or one near it: all that stays far below it is
    // passed over.
    let known = lines().fold(0.0, |known, (channel, looks)| {
        let loudest = (0..looks.len()).fold(0, |most, at| if looks[at] > looks[most] { at } else { most });
        let around = loudest.saturating_sub(1)..looks.len().min(loudest + 2);
        let known = looks.iter().copied().fold(known, f32::max);
        between.search(channel, looks, around, known)
    });
    let stretches: Vec<_> = lines()
        .flat_map(|line| (0..line.1.len()).step_by(STRETCH).map(move |from| (line, from)))
        .collect();
    let most = all("true peak", stretches.into_par_iter(), |((channel, looks), from)| {
        between.search(channel, looks, from..looks.len().min(from + STRETCH), known)
    });
    most.into_iter().fold(known, f32::max)
}

/// The highest sample of each [`LOOK`] frames.
fn highest_of_each_look(channel: &[f32]) -> Vec<f32> {
    let looks = |stretch: &[f32]| -> Vec<f32> { stretch.chunks(LOOK).map(|look| wide(|| highest(look))).collect() };
    all("true peak", channel.par_chunks(LOOK * STRETCH), looks).concat()
}

/// Some looks of a channel in which to find more than is known.
struct Search<'a> {
    between: &'a Between,
    channel: &'a [f32],
    looks: &'a [f32],
    range: Range<usize>,
    known: f32,
}

impl Work for Search<'_> {
    type Made = f32;

    #[inline(always)]
    fn work(self) -> f32 {
        self.range.fold(self.known, |most, look| {
            // What is interpolated in a look is made of its neighbours' frames too.
            let near = &self.looks[look.saturating_sub(1)..self.looks.len().min(look + 2)];
            if near.iter().copied().fold(0.0, f32::max) * self.between.most > most {
                self.between.stretch(self.channel, look * LOOK, LOOK, most)
            } else {
                most
            }
        })
    }
}

/// The interpolator: a sinc under a Hann window at a quarter, a half and three quarters of the way to the next frame.
///
/// The weights of three quarters are those of one quarter backwards, so both are made from sums and differences of the
/// frames that lie equally far from the middle.
struct Between {
    half: [f32; TAPS / 2],
    quarter_even: [f32; TAPS / 2],
    quarter_odd: [f32; TAPS / 2],
    /// By how much an interpolated value can exceed the largest of the samples that it is made from.
    most: f32,
}

impl Between {
    fn new() -> Between {
        let (quarter, half) = (weights(0.25), weights(0.5));
        let opposite = |tap: usize| quarter[TAPS - 1 - tap];
        let sum_of_sizes = |weights: &[f64; TAPS]| weights.iter().map(|weight| weight.abs()).sum::<f64>();
        Between {
            half: std::array::from_fn(|tap| half[tap] as f32),
            quarter_even: std::array::from_fn(|tap| ((quarter[tap] + opposite(tap)) / 2.0) as f32),
            quarter_odd: std::array::from_fn(|tap| ((quarter[tap] - opposite(tap)) / 2.0) as f32),
            most: sum_of_sizes(&quarter).max(sum_of_sizes(&half)) as f32 * 1.000_01,
        }
    }

    /// The largest value of some looks, or `known` where that is more.
    fn search(&self, channel: &[f32], looks: &[f32], range: Range<usize>, known: f32) -> f32 {
        wide(Search {
            between: self,
            channel,
            looks,
            range,
            known,
        })
    }

    /// The true peak of `frames` frames, or `known` where that is more.
    #[inline(always)]
    fn stretch(&self, channel: &[f32], from: usize, frames: usize, known: f32) -> f32 {
        let before = TAPS / 2 - 1;
        let to = (from + frames).min(channel.len().saturating_sub(TAPS / 2));
        let mut most = known;
        let mut edge = [0.0; GLANCE + TAPS];
        for at in (from..to).step_by(GLANCE) {
            let near = match at
                .checked_sub(before)
                .and_then(|first| channel.get(first..first + edge.len()))
            {
                Some(near) => near,
                None => {
                    for (offset, sample) in edge.iter_mut().enumerate() {
                        let frame = (at + offset).checked_sub(before);
                        *sample = frame.and_then(|frame| channel.get(frame)).map_or(0.0, |s| *s);
                    }
                    &edge
                }
            };
            if highest(near) * self.most > most {
                most = most.max(self.glance(near, GLANCE.min(to - at)));
            }
        }
        most
    }

    /// The largest interpolated value over the first `run` frames of a glance.
    #[inline(always)]
    fn glance(&self, near: &[f32], run: usize) -> f32 {
        let mut most = [0.0_f32; GLANCE];
        for (lanes, most) in most.chunks_exact_mut(LANES).enumerate() {
            let near = &near[lanes * LANES..][..LANES + TAPS];
            let (mut half, mut even, mut odd) = ([0.0_f32; LANES], [0.0_f32; LANES], [0.0_f32; LANES]);
            for tap in 0..TAPS / 2 {
                let left = &near[tap..tap + LANES];
                let right = &near[TAPS - 1 - tap..TAPS - 1 - tap + LANES];
                for lane in 0..LANES {
                    let (sum, difference) = (left[lane] + right[lane], left[lane] - right[lane]);
                    half[lane] += self.half[tap] * sum;
                    even[lane] += self.quarter_even[tap] * sum;
                    odd[lane] += self.quarter_odd[tap] * difference;
                }
            }
            for (lane, most) in most.iter_mut().enumerate() {
                *most = half[lane].abs().max(even[lane].abs() + odd[lane].abs());
            }
        }
        highest(&most[..run])
    }
}

/// The weights of a value `place` of the way from a frame to the next; they sum to 1.
fn weights(place: f64) -> [f64; TAPS] {
    let weights: [f64; TAPS] = std::array::from_fn(|tap| {
        let x = tap as f64 - (TAPS / 2 - 1) as f64 - place;
        let edge = x / (TAPS / 2) as f64;
        sinc(x) * (0.5 + 0.5 * libm::cos(PI * edge))
    });
    let sum: f64 = weights.iter().sum();
    weights.map(|weight| weight / sum)
}
