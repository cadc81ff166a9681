//! Convolution of a send with a room's response: overlap-save by FFT, on a circle or on a line.
//!
//! Overlap-save: Stockham, "High-speed convolution and correlation", AFIPS 28 (1966). Each block of output is
//! made by one task from the send alone, so the number of threads never changes a bit.

use std::ops::Range;
use std::sync::Arc;

use crate::base::stages::{fork, join, stage};
use rayon::prelude::*;
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use super::room::Response;

/// Blocks between these sizes are worth considering, in points.
const SMALLEST: usize = 1 << 9;
const LARGEST: usize = 1 << 23;
/// The most frames of a response that are worked on at a time: of the largest block they leave half for new output.
const MOST_TAPS: usize = LARGEST / 2;

/// What lies before the first frame and after the last one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// The send is a circle: its end comes before its beginning, and what rings past the end sounds there.
    Circle,
    /// The send begins from silence and is silent after its end.
    Line,
}

/// A response, ready to be convolved with sends of one length.
pub(crate) struct Convolution {
    /// The response in pieces, each of which answers by itself, as much later as it lies in the response.
    pieces: Vec<Block>,
    reach: usize,
}

impl Convolution {
    /// Ready for a send of so many frames and a place of so many, times a gain.
    pub(crate) fn new(response: &Response, send: usize, place: usize, shape: Shape, gain: f32) -> Convolution {
        Convolution::cut(response, send, place, shape, gain, MOST_TAPS)
    }

    /// The same in pieces of so many taps.
    fn cut(response: &Response, send: usize, place: usize, shape: Shape, gain: f32, most: usize) -> Convolution {
        let taps = response.frames();
        let (taps, reach) = match shape {
            _ if send == 0 || taps == 0 => (0, 0),
            Shape::Circle => (taps.min(send), send),
            Shape::Line => (taps, send + taps - 1),
        };
        let reach = reach.min(place);
        let block = |piece: Range<usize>| {
            let points = block_points(piece.len(), reach.saturating_sub(from(shape, piece.start)))?;
            Some(Block::new(response, piece, taps, points, shape, gain))
        };
        Convolution {
            pieces: pieces(taps, most).map_while(block).collect(),
            reach,
        }
    }

    /// Adds the convolution with a send to a place. What has no room in it is left away.
    pub(crate) fn add(&self, send: &[Vec<f32>; 2], place: &mut [Vec<f32>; 2]) {
        for block in &self.pieces {
            let from = from(block.shape, block.lag);
            let [left, right] = &mut *place;
            let hops = left[from..self.reach].par_chunks_mut(block.hop);
            let hops = hops.zip(right[from..self.reach].par_chunks_mut(block.hop)).enumerate();
            let hop = |bench: &mut Bench, (number, (left, right)): (usize, (&mut [f32], &mut [f32]))| {
                stage("room", || {
                    block.add(from + number * block.hop, send, bench, [left, right])
                });
            };
            fork("room", || hops.for_each_init(|| block.bench(), hop));
        }
    }
}

/// Where a piece of a response that begins so late begins to answer: on a line nothing of it comes before its lag.
fn from(shape: Shape, lag: usize) -> usize {
    match shape {
        Shape::Circle => 0,
        Shape::Line => lag,
    }
}

/// Adds `gain` times the send's convolution with the response to `out`.
///
/// On a circle `out` is as long as the send; on a line it may be longer, to hold the ring, or shorter. What has no
/// place in `out` is left away. Both sides of the send are equally long, and so are both sides of `out`.
pub fn add(response: &Response, send: &[Vec<f32>; 2], shape: Shape, gain: f32, out: &mut [Vec<f32>; 2]) {
    Convolution::new(response, send[0].len(), out[0].len(), shape, gain).add(send, out);
}

/// A response of so many taps, cut into pieces.
fn pieces(taps: usize, most: usize) -> impl Iterator<Item = Range<usize>> {
    (0..taps).step_by(most).map(move |lag| lag..taps.min(lag + most))
}

/// The power of two that makes `reach` frames of output cheapest; none where there is nothing to make.
fn block_points(taps: usize, reach: usize) -> Option<usize> {
    if reach == 0 {
        return None;
    }
    let cost = |points: usize| {
        let blocks = reach.div_ceil(points - taps + 1) as f64;
        // Two transforms each way a block, and four of the response. Beyond the nearest cache a point costs
        // more: measured, about a third more for each doubling past 65,536.
        let crowded = (points as f64 / 65_536.0).max(1.0);
        (blocks + 1.0) * points as f64 * f64::from(points.trailing_zeros()) * (1.0 + 0.33 * libm::log2(crowded))
    };
    let fitting = taps.next_power_of_two().max(SMALLEST);
    std::iter::successors(Some(fitting), |points| Some(points * 2))
        .take_while(|points| *points == fitting || *points <= LARGEST.min(4 * (taps + reach).next_power_of_two()))
        .min_by(|a, b| cost(*a).total_cmp(&cost(*b)))
}

/// The response's spectra, ready for blocks of one size.
struct Block {
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    direct: [Vec<Complex<f32>>; 2],
    cross: Option<[Vec<Complex<f32>>; 2]>,
    shape: Shape,
    /// Where in the response the taps begin, and how many they are.
    lag: usize,
    taps: usize,
    hop: usize,
}

/// What one task works on.
struct Bench {
    time: Vec<f32>,
    send: [Vec<Complex<f32>>; 2],
    wet: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

impl Block {
    /// Ready for a piece of a response that is folded to `period` frames.
    fn new(response: &Response, piece: Range<usize>, period: usize, points: usize, shape: Shape, gain: f32) -> Block {
        let mut planner = RealFftPlanner::new();
        let forward = planner.plan_fft_forward(points);
        let inverse = planner.plan_fft_inverse(points);
        let scale = gain / points as f32;
        let spectra = |pair: &[Vec<f32>; 2]| {
            let [first, second] = pair;
            join(
                ("spectrum", || spectrum(&*forward, first, &piece, period, scale)),
                ("spectrum", || spectrum(&*forward, second, &piece, period, scale)),
            )
            .into()
        };
        Block {
            direct: spectra(&response.direct),
            cross: response.cross.as_ref().map(spectra),
            forward,
            inverse,
            shape,
            lag: piece.start,
            taps: piece.len(),
            hop: points - piece.len() + 1,
        }
    }

    fn bench(&self) -> Bench {
        let bins = self.forward.complex_len();
        let scratch = self.forward.get_scratch_len().max(self.inverse.get_scratch_len());
        Bench {
            time: vec![0.0; self.forward.len()],
            send: [vec![Complex::default(); bins], vec![Complex::default(); bins]],
            wet: vec![Complex::default(); bins],
            scratch: vec![Complex::default(); scratch],
        }
    }

    /// Makes `hop` frames from one on.
    fn add(&self, at: usize, send: &[Vec<f32>; 2], bench: &mut Bench, out: [&mut [f32]; 2]) {
        let from = at as isize - (self.lag + self.taps - 1) as isize;
        let mut silent = true;
        for (side, spectrum) in send.iter().zip(&mut bench.send) {
            match self.shape {
                Shape::Circle => take_circle(side, from, &mut bench.time),
                Shape::Line => take_line(side, from, &mut bench.time),
            }
            silent &= bench.time.iter().all(|sample| *sample == 0.0);
            self.forward
                .process_with_scratch(&mut bench.time, spectrum, &mut bench.scratch)
                .expect("buffers made to measure");
        }
        if silent {
            return;
        }
        for (side, out) in out.into_iter().enumerate() {
            let near = bench.send[side].iter().zip(&self.direct[side]);
            match &self.cross {
                None => near.zip(&mut bench.wet).for_each(|((s, d), wet)| *wet = s * d),
                Some(cross) => near
                    .zip(bench.send[1 - side].iter().zip(&cross[1 - side]))
                    .zip(&mut bench.wet)
                    .for_each(|(((s, d), (far, c)), wet)| *wet = s * d + far * c),
            }
            // Rounding may leave a trace here, which an inverse transform to real samples refuses.
            bench.wet[0].im = 0.0;
            if let Some(last) = bench.wet.last_mut() {
                last.im = 0.0;
            }
            self.inverse
                .process_with_scratch(&mut bench.wet, &mut bench.time, &mut bench.scratch)
                .expect("buffers made to measure");
            for (out, wet) in out.iter_mut().zip(&bench.time[self.taps - 1..]) {
                *out += wet;
            }
        }
    }
}

/// The spectrum of a piece of a response, folded to `period` frames: on a circle, what is longer than it comes round again.
fn spectrum(
    forward: &dyn RealToComplex<f32>,
    response: &[f32],
    piece: &Range<usize>,
    period: usize,
    scale: f32,
) -> Vec<Complex<f32>> {
    let mut folded = forward.make_input_vec();
    for turn in response.chunks(period) {
        let taps = turn.iter().skip(piece.start);
        for (sum, tap) in folded[..piece.len()].iter_mut().zip(taps) {
            *sum += tap * scale;
        }
    }
    let mut spectrum = forward.make_output_vec();
    forward
        .process(&mut folded, &mut spectrum)
        .expect("buffers made to measure");
    spectrum
}

/// Fills `into` with a circle's frames from `from` on; the first follows the last.
pub(crate) fn take_circle(side: &[f32], from: isize, into: &mut [f32]) {
    let mut at = from.rem_euclid(side.len() as isize) as usize;
    let mut done = 0;
    while done < into.len() {
        let run = (side.len() - at).min(into.len() - done);
        into[done..done + run].copy_from_slice(&side[at..at + run]);
        done += run;
        at = 0;
    }
}

/// Fills `into` with a line's frames from `from` on; silence lies before and after it.
pub(crate) fn take_line(side: &[f32], from: isize, into: &mut [f32]) {
    let before = from.min(0).unsigned_abs().min(into.len());
    let first = (from.max(0) as usize).min(side.len());
    let run = (side.len() - first).min(into.len() - before);
    into[..before].fill(0.0);
    into[before..before + run].copy_from_slice(&side[first..first + run]);
    into[before + run..].fill(0.0);
}

#[cfg(test)]
#[path = "convolution_tests.rs"]
mod tests;
