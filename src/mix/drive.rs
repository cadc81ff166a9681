//! The soft saturator.
//!
//! The curve is the odd rational f(x) = x·(27 + x²) / (27 + 9x²), a relative of tanh's Padé approximants that meets ±1 at
//! ±3 with no slope and no curvature left, and stays there [practice]: soft, monotone, and smooth enough that its
//! harmonics die quickly. It runs on the signal oversampled four times by two stages of polyphase half-band filters
//! (M. Bellanger, "Digital Processing of Signals", polyphase networks [memory]), and only what it *adds* to the
//! signal comes back down, through a filter that is closed at half the rate. So the clean signal itself passes
//! untouched but for its delay, and `blend` can't comb.
//!
//! What is added has its offset taken out below 5 Hz, and its highs by `high_cut`.

use std::f64::consts::TAU;

use super::Effect;
use super::filter::{Curve, Filter, narrow};
use super::oversample::{half_band, low_pass};
use crate::loopfile::Drive;

/// Frames that every line keeps of what went before.
const PAST: usize = 32;

/// Frames that are worked through at a time, so that all lines stay in the cache.
const CHUNK: usize = 256;

/// Pairs of taps of the first doubling of the rate.
const FIRST: usize = 8;

/// Pairs of taps of the second, whose images lie far away.
const SECOND: usize = 3;

/// Frames by which the last filter reaches beyond its middle.
const LAST: usize = 9;

/// Frames from a frame's arrival to its leaving: the first doubling's reach, the second's both ways, the last's.
const LATENCY: usize = FIRST + 2 + LAST;

/// A full-scale signal goes this far into the curve at 0 dB.
const INTO: f64 = 0.5;

/// The level whose amplitude the curve keeps, whatever is driven into it: the programme's mean.
const KEPT: f64 = 0.35;

/// dB below which the effect fades, so that a sweep up from 0 begins with nothing.
const FADED_DB: f64 = 1.0;

/// Below this frequency in Hz what is added loses its offset.
const OFFSET_HZ: f64 = 5.0;

/// Frames from one look at the offset to the next, and what is taken for none; see the filters.
const LOOK: usize = 256;

#[inline(always)]
fn curve(x: f32) -> f32 {
    let x = x.clamp(-3.0, 3.0);
    let square = x * x;
    x * (27.0 + square) / (27.0 + 9.0 * square)
}

/// The weights of every filter on the way up and down.
#[derive(Debug, Clone)]
struct Weights {
    first: Vec<f32>,
    second: [f32; SECOND],
    /// The last filter's taps at whole frames, its middle first, and those between them.
    last: Vec<f32>,
    last_between: Vec<f32>,
}

impl Weights {
    fn new() -> Weights {
        let mut second = [0.0; SECOND];
        second.copy_from_slice(&half_band(SECOND, 4.0));
        let last = low_pass(2 * LAST, 0.203, 6.2);
        Weights {
            first: half_band(FIRST, 6.5),
            second,
            last_between: last.iter().copied().skip(1).step_by(2).collect(),
            last: last.into_iter().step_by(2).collect(),
        }
    }
}

/// One channel's lines. Each holds [`PAST`] frames and then the chunk's; `whole` and the rest lie at 0, 1/4, 1/2 and 3/4
/// of a frame.
#[derive(Debug, Clone)]
struct Lane {
    input: Vec<f32>,
    midway: Vec<f32>,
    bent: [Vec<f32>; 4],
    doubled: [Vec<f32>; 2],
    added: Vec<f32>,
    /// The slow mean of what is added.
    offset: f64,
}

impl Lane {
    fn new() -> Lane {
        let line = || vec![0.0; PAST + CHUNK];
        Lane {
            input: line(),
            midway: line(),
            bent: [line(), line(), line(), line()],
            doubled: [line(), line()],
            added: vec![0.0; CHUNK],
            offset: 0.0,
        }
    }

    /// Takes a chunk and leaves what the curve adds to it, [`LATENCY`] frames late, in `added`.
    fn run(&mut self, chunk: &[f32], weights: &Weights, into: f32, out: f32) {
        let n = chunk.len();
        self.input[PAST..PAST + n].copy_from_slice(chunk);
        let at = PAST - FIRST;
        fold(
            &mut self.midway[PAST..PAST + n],
            &self.input,
            at,
            &self.input,
            at + 1,
            &weights.first,
        );
        self.bend(n, weights, into, out);
        self.come_down(n, weights.second.map(|weight| weight / 2.0));
        let middle = PAST - LAST;
        let [even, odd] = &self.doubled;
        let added = &mut self.added[..n];
        fold(added, even, middle - 1, even, middle + 1, &weights.last[1..]);
        add_fold(added, odd, middle - 1, odd, middle, &weights.last_between);
        for (added, even) in added.iter_mut().zip(&even[middle..]) {
            *added += weights.last[0] * even;
        }
    }

    /// The signal at four times the rate through the curve, less itself.
    fn bend(&mut self, n: usize, weights: &Weights, into: f32, out: f32) {
        let whole = |shift: usize| PAST - FIRST - 2 + shift;
        let between = |shift: usize| PAST - 2 + shift;
        let (a, b) = (&self.input, &self.midway);
        let [s0, s1, s2, s3] = &mut self.bent;
        added(&mut s0[PAST..PAST + n], &a[whole(1)..], into, out);
        added(&mut s2[PAST..PAST + n], &b[between(1)..], into, out);
        quarter(
            &mut s1[PAST..PAST + n],
            [
                (&a[whole(1)..], &b[between(1)..]),
                (&b[between(0)..], &a[whole(2)..]),
                (&a[whole(0)..], &b[between(2)..]),
            ],
            weights.second,
            into,
            out,
        );
        quarter(
            &mut s3[PAST..PAST + n],
            [
                (&b[between(1)..], &a[whole(2)..]),
                (&a[whole(1)..], &b[between(2)..]),
                (&b[between(0)..], &a[whole(3)..]),
            ],
            weights.second,
            into,
            out,
        );
    }

    /// From four times the rate to twice.
    fn come_down(&mut self, n: usize, half: [f32; SECOND]) {
        let at = |shift: usize| PAST - 3 + shift;
        let [s0, s1, s2, s3] = &self.bent;
        let [even, odd] = &mut self.doubled;
        let pairs = [
            (&s1[at(2)..], &s3[at(1)..]),
            (&s3[at(2)..], &s1[at(1)..]),
            (&s1[at(3)..], &s3[at(0)..]),
        ];
        down(&mut even[PAST..PAST + n], &s0[at(2)..], pairs, half);
        let pairs = [
            (&s1[at(2)..], &s3[at(2)..]),
            (&s3[at(1)..], &s1[at(3)..]),
            (&s1[at(1)..], &s3[at(3)..]),
        ];
        down(&mut odd[PAST..PAST + n], &s2[at(2)..], pairs, half);
    }

    /// Moves the chunk's last frames to where the next one looks for its past.
    fn keep(&mut self, n: usize) {
        let lines = [&mut self.input, &mut self.midway];
        for line in lines.into_iter().chain(&mut self.bent).chain(&mut self.doubled) {
            line.copy_within(n..n + PAST, 0);
        }
    }
}

/// `out[i]` becomes the sum of each weight k times `a[at_a + i - k] + b[at_b + i + k]`.
fn fold(out: &mut [f32], a: &[f32], at_a: usize, b: &[f32], at_b: usize, weights: &[f32]) {
    out.fill(0.0);
    add_fold(out, a, at_a, b, at_b, weights);
}

/// Adds that sum to `out`. Sixteen frames at a time stay in registers; the order of adding is the same for the rest.
#[inline(never)]
fn add_fold(out: &mut [f32], a: &[f32], at_a: usize, b: &[f32], at_b: usize, weights: &[f32]) {
    const WIDE: usize = 16;
    let mut base = 0;
    let mut wide = out.chunks_exact_mut(WIDE);
    for out in &mut wide {
        let mut sum = [0.0_f32; WIDE];
        for (k, weight) in weights.iter().enumerate() {
            let left = &a[at_a + base - k..][..WIDE];
            let right = &b[at_b + base + k..][..WIDE];
            for j in 0..WIDE {
                sum[j] += weight * (left[j] + right[j]);
            }
        }
        for j in 0..WIDE {
            out[j] += sum[j];
        }
        base += WIDE;
    }
    for (i, out) in wide.into_remainder().iter_mut().enumerate() {
        let mut sum = 0.0;
        for (k, weight) in weights.iter().enumerate() {
            sum += weight * (a[at_a + base + i - k] + b[at_b + base + i + k]);
        }
        *out += sum;
    }
}

/// What the curve makes of a line, less the line.
#[inline(never)]
fn added(out: &mut [f32], line: &[f32], into: f32, back: f32) {
    for (out, x) in out.iter_mut().zip(line) {
        *out = back * curve(into * x) - x;
    }
}

/// The values a quarter of a frame off, from three pairs of neighbours, through the curve and less themselves.
#[inline(never)]
fn quarter(out: &mut [f32], pairs: [(&[f32], &[f32]); SECOND], weights: [f32; SECOND], into: f32, back: f32) {
    let n = out.len();
    let [(a, b), (c, d), (e, f)] = pairs.map(|(left, right)| (&left[..n], &right[..n]));
    for i in 0..n {
        let x = weights[0] * (a[i] + b[i]) + weights[1] * (c[i] + d[i]) + weights[2] * (e[i] + f[i]);
        out[i] = back * curve(into * x) - x;
    }
}

/// Half of the middle line and the pairs' weighted sum.
#[inline(never)]
fn down(out: &mut [f32], middle: &[f32], pairs: [(&[f32], &[f32]); SECOND], weights: [f32; SECOND]) {
    let n = out.len();
    let middle = &middle[..n];
    let [(a, b), (c, d), (e, f)] = pairs.map(|(left, right)| (&left[..n], &right[..n]));
    for i in 0..n {
        let sum = weights[0] * (a[i] + b[i]) + weights[1] * (c[i] + d[i]) + weights[2] * (e[i] + f[i]);
        out[i] = 0.5 * middle[i] + sum;
    }
}

/// The saturator of one strip.
#[derive(Debug, Clone)]
pub struct Saturator {
    rate: u32,
    weights: Weights,
    lanes: Vec<Lane>,
    high_cut: Option<Filter>,
    into: f32,
    back: f32,
    share: f32,
    /// What the offset takes of each new frame.
    slow: f64,
    until_look: usize,
}

impl Saturator {
    /// A saturator for a rate in Hz and a number of channels, at rest.
    pub fn new(settings: &Drive, rate: u32, channels: usize) -> Saturator {
        let mut saturator = Saturator {
            rate,
            weights: Weights::new(),
            lanes: vec![Lane::new(); channels],
            high_cut: None,
            into: 1.0,
            back: 1.0,
            share: 0.0,
            slow: 1.0 - libm::exp(-TAU * OFFSET_HZ / f64::from(rate)),
            until_look: LOOK,
        };
        saturator.set(settings);
        saturator
    }

    /// Changes its settings from the next frame on; its state stays.
    pub fn set(&mut self, settings: &Drive) {
        let amount_db = settings.amount_db.clamp(0.0, 60.0);
        let into = INTO * libm::exp10(amount_db / 20.0);
        self.into = into as f32;
        self.back = (KEPT / f64::from(curve((into * KEPT) as f32))) as f32;
        self.share = (settings.blend.clamp(0.0, 1.0) * (amount_db / FADED_DB).min(1.0)) as f32;
        let cut = settings.high_cut.map(Curve::HighCut);
        match (&mut self.high_cut, cut) {
            (Some(filter), Some(cut)) => filter.set(&cut),
            (none, Some(cut)) => *none = Some(Filter::new(&cut, self.rate, self.lanes.len())),
            (some, None) => *some = None,
        }
    }

    fn chunk(&mut self, block: &mut [&mut [f32]]) {
        let n = block.first().map_or(0, |channel| channel.len());
        for (lane, channel) in self.lanes.iter_mut().zip(block.iter()) {
            lane.run(channel, &self.weights, self.into, self.back);
        }
        if let Some(filter) = &mut self.high_cut {
            let mut added: Vec<&mut [f32]> = self.lanes.iter_mut().map(|lane| &mut lane.added[..n]).collect();
            filter.process(&mut added);
        }
        let (share, slow) = (self.share, self.slow);
        for (lane, channel) in self.lanes.iter_mut().zip(block.iter_mut()) {
            let clean = &lane.input[PAST - LATENCY..];
            let mut offset = lane.offset;
            for ((out, clean), added) in channel.iter_mut().zip(clean).zip(&lane.added) {
                let x = f64::from(*added);
                offset = (1.0 - slow) * offset + slow * x;
                *out = clean + share * narrow(x - offset);
            }
            lane.offset = offset;
            lane.keep(n);
        }
    }
}

impl Effect for Saturator {
    fn latency(&self) -> usize {
        LATENCY
    }

    fn run_in(&self) -> usize {
        let offset = libm::ceil(14.0 / self.slow) as usize;
        let cut = self.high_cut.as_ref().map_or(0, Effect::run_in);
        2 * LATENCY + cut + offset
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        let mut rest: Vec<&mut [f32]> = block.iter_mut().map(|channel| &mut channel[..]).collect();
        while rest.first().is_some_and(|channel| !channel.is_empty()) {
            let n = rest[0].len().min(CHUNK).min(self.until_look);
            let mut now = Vec::with_capacity(rest.len());
            for channel in &mut rest {
                let (head, tail) = std::mem::take(channel).split_at_mut(n);
                now.push(head);
                *channel = tail;
            }
            self.chunk(&mut now);
            self.until_look -= n;
            if self.until_look == 0 {
                self.until_look = LOOK;
                for lane in &mut self.lanes {
                    if lane.offset.abs() < 1e-30 {
                        lane.offset = 0.0;
                    }
                }
            }
        }
    }
}
