//! Which of a low, a middle and a high sound a hit is, or which of them together.
//!
//! A small network tells it by the hit's colour and by how that compares with the loudest hits of the recording, so that a
//! room, a microphone and a hand's or a mouth's own sounds matter less. Its weights were fitted to synthetic grooves;
//! `tests/real/sounds.py` makes and fits them.

use rayon::prelude::*;

use super::colour::{BANDS, Colour, share_below};
use super::weights::{HIDDEN, INPUTS, INTO_HIDDEN, INTO_OUTPUT, OF_HIDDEN, OF_OUTPUT};
use crate::base::stages;

/// Low, middle, high.
pub(super) const CLASSES: usize = 3;
/// The loudest hits of a recording are those above so large a share of all.
const LOUD: f64 = 0.9;

/// How likely each hit is low, middle and high: three probabilities, since it may be several at once.
pub(super) fn classify(colours: &[Colour]) -> Vec<[f64; CLASSES]> {
    let loud: Vec<f64> = (0..2 * BANDS)
        .map(|band| share_below(colours.iter().map(|colour| colour.0[band]), LOUD))
        .collect();
    let loudest = share_below(colours.iter().map(Colour::top), LOUD);
    let inputs: Vec<[f64; INPUTS]> = colours.iter().map(|colour| inputs(colour, &loud, loudest)).collect();
    let logits: Vec<[f64; CLASSES]> = inputs.iter().map(logits).collect();
    let hits: Vec<usize> = (0..inputs.len()).collect();
    let logistic = |logit: f64| 1.0 / (1.0 + libm::exp(-logit));
    stages::all("sounds of hits", hits.par_iter(), |hit| {
        shared(*hit, &inputs, &logits).map(logistic)
    })
}

/// What hits that sound alike have in common: the mean over all, weighted by how near their inputs are.
fn shared(hit: usize, inputs: &[[f64; INPUTS]], logits: &[[f64; CLASSES]]) -> [f64; CLASSES] {
    /// Inputs so far apart weigh exp(-1/2).
    const NEAR: f64 = 0.6;
    let (mut sums, mut all) = ([0.0; CLASSES], 0.0);
    for (other, logits) in inputs.iter().zip(logits) {
        let square: f64 = inputs[hit]
            .iter()
            .zip(other)
            .map(|(one, other)| (one - other).powi(2))
            .sum();
        let weight = libm::exp(-square / (2.0 * NEAR * NEAR));
        all += weight;
        sums.iter_mut()
            .zip(logits)
            .for_each(|(sum, logit)| *sum += weight * logit.clamp(-LARGEST, LARGEST));
    }
    sums.map(|sum| sum / all)
}

/// A logit is cut here, so that one sure hit does not outweigh many.
const LARGEST: f64 = 9.0;

/// What the network is told, in units of 20 dB.
fn inputs(colour: &Colour, loud: &[f64], loudest: f64) -> [f64; INPUTS] {
    let top = colour.top();
    let shape = colour.0.iter().map(|db| (db - top).max(-60.0));
    let beside = colour
        .0
        .iter()
        .zip(loud)
        .map(|(db, loud)| (db - loud).clamp(-60.0, 10.0));
    let level = (top - loudest).clamp(-50.0, 10.0);
    let mut inputs = [0.0; INPUTS];
    let all = shape.chain(beside).chain([level]);
    inputs.iter_mut().zip(all).for_each(|(input, db)| *input = db / 20.0);
    inputs
}

/// One hidden layer of rectified sums; logits come out.
fn logits(inputs: &[f64; INPUTS]) -> [f64; CLASSES] {
    let sum = |weights: &[f32], of: &[f64]| -> f64 {
        weights
            .iter()
            .zip(of)
            .map(|(weight, value)| f64::from(*weight) * value)
            .sum()
    };
    let hidden: Vec<f64> = (0..HIDDEN)
        .map(|unit| (sum(&INTO_HIDDEN[unit], inputs) + f64::from(OF_HIDDEN[unit])).max(0.0))
        .collect();
    std::array::from_fn(|class| sum(&INTO_OUTPUT[class], &hidden) + f64::from(OF_OUTPUT[class]))
}
