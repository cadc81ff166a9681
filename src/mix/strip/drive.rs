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

use rayon::prelude::*;

use super::filter::{Curve, Filter, RunningSection};
use super::section::Section;
use super::waveshaper::{Bending, CHUNK, LATENCY, LOUDEST, Lane, REACH, Weights, curve};
use crate::base::simd::wide;
use crate::base::stages::each;
use crate::loopfile::Drive;
use crate::mix::Effect;

/// A full-scale signal goes this far into the curve at 0 dB.
const INTO: f64 = 0.5;

/// The level whose amplitude the curve keeps, whatever is driven into it: the programme's mean.
const KEPT: f64 = 0.35;

/// dB below which the effect fades, so that a sweep up from 0 begins with nothing.
const FADED_DB: f64 = 1.0;

/// Below this frequency in Hz what is added loses its offset.
const OFFSET_HZ: f64 = 5.0;

/// Frames that one core bends at a time. Each piece begins with what came before it, so a cut changes no bit.
const PIECE: usize = 4096;

/// The saturator of one strip.
#[derive(Debug, Clone)]
pub struct Saturator {
    rate: u32,
    bend: Bend,
    channels: Vec<Bent>,
    high_cut: Option<Filter>,
    /// Takes the slow mean out of what is added.
    offset: RunningSection,
    share: f32,
}

/// The way through the curve.
#[derive(Debug, Clone)]
struct Bend {
    weights: Weights,
    into: f32,
    back: f32,
}

/// One channel.
#[derive(Debug, Clone)]
struct Bent {
    /// A lane for each piece of a block. The first one goes on from block to block.
    lanes: Vec<Lane>,
    /// The last [`LATENCY`] frames and then the block's.
    clean: Vec<f32>,
    /// What is added to the block.
    added: Vec<f32>,
}

/// A piece of a block.
struct Piece<'a> {
    lane: &'a mut Lane,
    /// What the lane must hear before it, unless it has.
    before: &'a [f32],
    input: &'a [f32],
    added: &'a mut [f32],
}

impl Bend {
    fn run(&self, piece: Piece) {
        let Piece {
            lane,
            before,
            input,
            added,
        } = piece;
        let mut forgotten = [0.0; REACH];
        let chunks = input.chunks(CHUNK).zip(added.chunks_mut(CHUNK));
        for (chunk, added) in [(before, &mut forgotten[..before.len()])].into_iter().chain(chunks) {
            wide(Bending {
                lane,
                chunk,
                added,
                weights: &self.weights,
                into: self.into,
                back: self.back,
            });
        }
    }
}

impl Bent {
    fn new() -> Bent {
        Bent {
            lanes: vec![Lane::new()],
            clean: vec![0.0; LATENCY],
            added: Vec::new(),
        }
    }

    /// Takes the block's channel and cuts it into pieces.
    fn pieces(&mut self, channel: &[f32]) -> impl Iterator<Item = Piece<'_>> {
        let frames = channel.len();
        self.clean.truncate(LATENCY);
        self.clean.extend(channel.iter().map(|x| x.clamp(-LOUDEST, LOUDEST)));
        self.added.resize(frames, 0.0);
        let count = frames.div_ceil(PIECE);
        self.lanes.resize_with(count.max(self.lanes.len()), Lane::new);
        let input = &self.clean[LATENCY..];
        let pieces = self.lanes.iter_mut().zip(self.added.chunks_mut(PIECE)).enumerate();
        pieces.map(move |(number, (lane, added))| {
            let at = number * PIECE;
            Piece {
                lane,
                before: &input[at.saturating_sub(REACH)..at],
                input: &input[at..at + added.len()],
                added,
            }
        })
    }

    /// Puts the signal and its share of what is added in the channel's place, and goes on from the last piece.
    fn finish(&mut self, channel: &mut [f32], share: f32) {
        for ((out, clean), added) in channel.iter_mut().zip(&self.clean).zip(&self.added) {
            *out = clean + share * added;
        }
        self.clean.copy_within(channel.len().., 0);
        let last = channel.len().div_ceil(PIECE).saturating_sub(1);
        self.lanes.swap(0, last);
    }
}

impl Saturator {
    /// A saturator for a rate in Hz and a number of channels, at rest.
    pub fn new(settings: &Drive, rate: u32, channels: usize) -> Saturator {
        // x less its slow mean m: m[n] = kept·m[n-1] + (1 - kept)·x[n].
        let kept = libm::exp(-TAU * OFFSET_HZ / f64::from(rate));
        let offset = Section::over([kept, -kept, 0.0], [1.0, -kept, 0.0]);
        let mut saturator = Saturator {
            rate,
            bend: Bend {
                weights: Weights::new(),
                into: 1.0,
                back: 1.0,
            },
            channels: vec![Bent::new(); channels],
            high_cut: None,
            offset: RunningSection::new(offset, channels),
            share: 0.0,
        };
        saturator.set(settings);
        saturator
    }

    /// Changes its settings from the next frame on; its state stays.
    pub fn set(&mut self, settings: &Drive) {
        let amount_db = settings.amount_db.clamp(0.0, 60.0);
        let into = INTO * libm::exp10(amount_db / 20.0);
        self.bend.into = into as f32;
        self.bend.back = (KEPT / f64::from(curve((into * KEPT) as f32))) as f32;
        self.share = (settings.blend.clamp(0.0, 1.0) * (amount_db / FADED_DB).min(1.0)) as f32;
        let cut = settings.high_cut.map(Curve::HighCut);
        match (&mut self.high_cut, cut) {
            (Some(filter), Some(cut)) => filter.set(&cut),
            (none, Some(cut)) => *none = Some(Filter::new(&cut, self.rate, self.channels.len())),
            (some, None) => *some = None,
        }
    }
}

impl Effect for Saturator {
    fn latency(&self) -> usize {
        LATENCY
    }

    fn run_in(&self) -> usize {
        let slow = 1.0 - libm::exp(-TAU * OFFSET_HZ / f64::from(self.rate));
        let offset = libm::ceil(14.0 / slow) as usize;
        let cut = self.high_cut.as_ref().map_or(0, Effect::run_in);
        2 * LATENCY + cut + offset
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        let frames = block.first().map_or(0, |channel| channel.len());
        let pairs = self.channels.iter_mut().zip(block.iter());
        let pieces = pairs.flat_map(|(bent, channel)| bent.pieces(channel));
        if frames < PIECE {
            pieces.for_each(|piece| self.bend.run(piece));
        } else {
            let pieces: Vec<Piece> = pieces.collect();
            each("drive", pieces.into_par_iter(), |piece| self.bend.run(piece));
        }
        let mut added: Vec<&mut [f32]> = self.channels.iter_mut().map(|bent| &mut bent.added[..]).collect();
        if let Some(filter) = &mut self.high_cut {
            filter.process(&mut added);
        }
        self.offset.process(&mut added);
        for (bent, channel) in self.channels.iter_mut().zip(block) {
            bent.finish(channel, self.share);
        }
    }
}

#[cfg(test)]
#[path = "drive_tests.rs"]
mod tests;
