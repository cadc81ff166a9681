//! What the saturator's curve adds to a signal, computed at four times its rate.
//!
//! The way up is two doublings by half-band filters, the way down their mirror and a filter that is closed at half the
//! signal's own rate. Every line of values (at the frames, midway, at the quarters) is kept apart, so that each filter is
//! a sum of shifted lines (polyphase; M. Bellanger, "Digital Processing of Signals" [memory]), and every filter is
//! symmetrical, so that all delay is whole frames.

use super::oversampling::{half_band, low_pass};
use crate::base::simd::Work;

/// Frames that every line keeps of what went before.
const PAST: usize = 32;

/// Frames that are worked through at a time, so that all lines stay in the cache.
pub(crate) const CHUNK: usize = 256;

/// Frames after which no line holds anything of a frame: what it was is forgotten to the bit.
pub(crate) const REACH: usize = 96;

/// Pairs of taps of the first doubling of the rate.
const FIRST: usize = 8;

/// Pairs of taps of the second, whose images lie far away.
const SECOND: usize = 3;

/// Frames by which the last filter reaches beyond its middle.
const LAST: usize = 9;

/// Frames from a frame's arrival to its leaving: the first doubling's reach, the second's both ways, the last's.
pub(crate) const LATENCY: usize = FIRST + 2 + LAST;

/// What is louder is taken for as loud as this, so no filter's sum overflows.
pub(crate) const LOUDEST: f32 = 1e30;

/// f(x) = x·(27 + x²) / (27 + 9x²), ±1 beyond ±3.
#[inline(always)]
pub(crate) fn curve(x: f32) -> f32 {
    let x = x.clamp(-3.0, 3.0);
    let square = x * x;
    x * (27.0 + square) / (27.0 + 9.0 * square)
}

/// The weights of every filter on the way up and down.
#[derive(Debug, Clone)]
pub(crate) struct Weights {
    first: Vec<f32>,
    second: [f32; SECOND],
    /// The last filter's taps at whole frames, its middle first, and those between them.
    last: Vec<f32>,
    last_between: Vec<f32>,
}

impl Weights {
    /// The filters; the last is down 60 dB from 1.04 times half the rate on, and 1 dB at a third of the rate.
    pub(crate) fn new() -> Weights {
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

/// One channel's lines. Each holds [`PAST`] frames and then the chunk's: the input, what lies midway, what the curve adds
/// at 0, 1/4, 1/2 and 3/4 of a frame, and the same at 0 and 1/2.
#[derive(Debug, Clone)]
pub(crate) struct Lane {
    input: Vec<f32>,
    midway: Vec<f32>,
    bent: [Vec<f32>; 4],
    doubled: [Vec<f32>; 2],
    /// Zeros that came last: once there are [`REACH`] of them, all lines are silent.
    zeros: usize,
}

impl Lane {
    /// A channel at rest.
    pub(crate) fn new() -> Lane {
        let line = || vec![0.0; PAST + CHUNK];
        Lane {
            input: line(),
            midway: line(),
            bent: [line(), line(), line(), line()],
            doubled: [line(), line()],
            zeros: REACH,
        }
    }

    /// Takes a chunk and gives what the curve adds to it, [`LATENCY`] frames late.
    #[inline(always)]
    fn run(&mut self, chunk: &[f32], added: &mut [f32], weights: &Weights, into: f32, out: f32) {
        let n = chunk.len();
        let mut bits = 0;
        for x in chunk {
            bits |= x.to_bits();
        }
        if bits == 0 && self.zeros >= REACH {
            return added.fill(0.0);
        }
        self.zeros = if bits == 0 { self.zeros + n } else { 0 };
        for (kept, x) in self.input[PAST..].iter_mut().zip(chunk) {
            *kept = x.clamp(-LOUDEST, LOUDEST);
        }
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
        fold(added, even, middle - 1, even, middle + 1, &weights.last[1..]);
        add_fold(added, odd, middle - 1, odd, middle, &weights.last_between);
        for (added, even) in added.iter_mut().zip(&even[middle..]) {
            *added += weights.last[0] * even;
        }
        self.keep(n);
    }

    /// The signal at four times the rate through the curve, less itself.
    #[inline(always)]
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
    #[inline(always)]
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
    #[inline(always)]
    fn keep(&mut self, n: usize) {
        let [a, b, c, d] = &mut self.bent;
        let [even, odd] = &mut self.doubled;
        for line in [&mut self.input, &mut self.midway, a, b, c, d, even, odd] {
            line.copy_within(n..n + PAST, 0);
        }
    }
}

/// A chunk for a lane to run.
pub(crate) struct Bending<'a> {
    /// The lane.
    pub lane: &'a mut Lane,
    /// The chunk.
    pub chunk: &'a [f32],
    /// What the curve adds to it, as long.
    pub added: &'a mut [f32],
    /// The filters.
    pub weights: &'a Weights,
    /// The factor before the curve.
    pub into: f32,
    /// The factor behind it.
    pub back: f32,
}

impl Work for Bending<'_> {
    type Made = ();

    #[inline(always)]
    fn work(self) {
        self.lane
            .run(self.chunk, self.added, self.weights, self.into, self.back);
    }
}

/// `out[i]` becomes the sum of each weight k times `a[at_a + i - k] + b[at_b + i + k]`.
#[inline(always)]
fn fold(out: &mut [f32], a: &[f32], at_a: usize, b: &[f32], at_b: usize, weights: &[f32]) {
    out.fill(0.0);
    add_fold(out, a, at_a, b, at_b, weights);
}

/// Adds that sum to `out`. Sixteen frames at a time stay in registers; the order of adding is the same for the rest.
#[inline(always)]
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
#[inline(always)]
fn added(out: &mut [f32], line: &[f32], into: f32, back: f32) {
    for (out, x) in out.iter_mut().zip(line) {
        *out = back * curve(into * x) - x;
    }
}

/// The values a quarter of a frame off, from three pairs of neighbours, through the curve and less themselves.
#[inline(always)]
fn quarter(out: &mut [f32], pairs: [(&[f32], &[f32]); SECOND], weights: [f32; SECOND], into: f32, back: f32) {
    let n = out.len();
    let [(a, b), (c, d), (e, f)] = pairs.map(|(left, right)| (&left[..n], &right[..n]));
    for i in 0..n {
        let x = weights[0] * (a[i] + b[i]) + weights[1] * (c[i] + d[i]) + weights[2] * (e[i] + f[i]);
        out[i] = back * curve(into * x) - x;
    }
}

/// Half of the middle line and the pairs' weighted sum.
#[inline(always)]
fn down(out: &mut [f32], middle: &[f32], pairs: [(&[f32], &[f32]); SECOND], weights: [f32; SECOND]) {
    let n = out.len();
    let middle = &middle[..n];
    let [(a, b), (c, d), (e, f)] = pairs.map(|(left, right)| (&left[..n], &right[..n]));
    for i in 0..n {
        let sum = weights[0] * (a[i] + b[i]) + weights[1] * (c[i] + d[i]) + weights[2] * (e[i] + f[i]);
        out[i] = 0.5 * middle[i] + sum;
    }
}
