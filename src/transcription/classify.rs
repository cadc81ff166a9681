//! Which of a low, a middle and a high sound a hit is, or which of them together.
//!
//! Pairs of small networks tell it, all of which are asked. The first of a pair is told a hit's colour, and how that compares
//! with the loudest hits of the recording, so that a room, a microphone and a hand's or a mouth's own sounds matter less. The
//! second is told besides what the first makes of all hits: where no snare is heard without a hat, what seems to be both is
//! more likely a bright snare. The weights were fitted to synthetic grooves; `tests/real/sounds.py` makes and fits them.

use rayon::prelude::*;

use super::colour::{BANDS, Colour, share_below};
pub(super) use super::weights::CLASSES;
use super::weights::{INPUTS, MORE_INPUTS, Network, PAIRS};
use crate::base::stages;

/// The loudest hits of a recording are those above so large a share of all.
const LOUD: f64 = 0.9;
/// Inputs of hits so far apart weigh exp(-1/2) in what they share.
const NEAR: f64 = 0.6;
/// A logit is cut here, so that one sure hit does not outweigh many.
const LARGEST: f64 = 9.0;
/// What a hit may be: sounds alone and together. The first of them are common enough to tell what is usual for them.
const MIXES: [[bool; CLASSES]; 7] = [
    [true, false, false],
    [false, true, false],
    [false, false, true],
    [true, false, true],
    [false, true, true],
    [true, true, false],
    [true, true, true],
];
const COMMON: usize = MORE_INPUTS - INPUTS - CLASSES - MIXES.len();

/// Logits of low, middle and high.
type Logits = [f64; CLASSES];

/// How likely each hit is low, middle and high: three probabilities, since it may be several at once.
pub(super) fn classify(colours: &[Colour]) -> Vec<[f64; CLASSES]> {
    let loud: Vec<f64> = (0..2 * BANDS)
        .map(|band| share_below(colours.iter().map(|colour| colour.0[band]), LOUD))
        .collect();
    let loudest = share_below(colours.iter().map(Colour::top), LOUD);
    let inputs: Vec<[f64; INPUTS]> = colours.iter().map(|colour| inputs(colour, &loud, loudest)).collect();
    let near = Near::of(&inputs);
    let mut logits = vec![[0.0; CLASSES]; inputs.len()];
    for (first, second) in &PAIRS {
        let heard = near.shared(&inputs.iter().map(|inputs| first.logits(inputs)).collect::<Vec<_>>());
        let more = beside(&inputs, &heard);
        let heard = near.shared(&more.iter().map(|inputs| second.logits(inputs)).collect::<Vec<_>>());
        for (sums, heard) in logits.iter_mut().zip(heard) {
            sums.iter_mut().zip(heard).for_each(|(sum, logit)| *sum += logit);
        }
    }
    let mean = |sum: f64| logistic(sum / PAIRS.len() as f64);
    logits.into_iter().map(|sums| sums.map(mean)).collect()
}

fn logistic(logit: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-logit))
}

/// The hits that sound like each hit, each with its weight.
struct Near(Vec<Vec<(usize, f64)>>);

impl Near {
    fn of(inputs: &[[f64; INPUTS]]) -> Near {
        /// What weighs less is left out.
        const LEAST: f64 = 1e-4;
        let farthest = -2.0 * NEAR * NEAR * libm::log(LEAST);
        let near = |one: &[f64; INPUTS]| {
            let square = |other: &[f64; INPUTS]| one.iter().zip(other).map(|(a, b)| (a - b) * (a - b)).sum::<f64>();
            let squares = inputs.iter().map(square).enumerate();
            squares
                .filter(|(_, square)| *square < farthest)
                .map(|(other, square)| (other, libm::exp(-square / (2.0 * NEAR * NEAR))))
                .collect()
        };
        Near(stages::all("hits that sound alike", inputs.par_iter(), near))
    }

    /// What hits that sound alike have in common: the mean over all, weighted by how near they are.
    fn shared(&self, logits: &[Logits]) -> Vec<Logits> {
        let mean = |near: &Vec<(usize, f64)>| {
            let (mut sums, mut all) = ([0.0; CLASSES], 0.0);
            for (other, weight) in near {
                all += weight;
                sums.iter_mut()
                    .zip(logits[*other])
                    .for_each(|(sum, logit)| *sum += weight * logit.clamp(-LARGEST, LARGEST));
            }
            sums.map(|sum| sum / all)
        };
        self.0.iter().map(mean).collect()
    }
}

/// What the first network is told, in units of 20 dB.
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

/// What the second network is told: what the first was and what it made of it, how much of each mix the recording has, and how far
/// the hit is from what is usual for the common ones.
fn beside(inputs: &[[f64; INPUTS]], heard: &[Logits]) -> Vec<[f64; MORE_INPUTS]> {
    let count = inputs.len().max(1) as f64;
    let mixes: Vec<[f64; MIXES.len()]> = heard.iter().map(mixes).collect();
    let much: [f64; MIXES.len()] = std::array::from_fn(|mix| mixes.iter().map(|of| of[mix]).sum());
    let sum = |input: usize, weight: &dyn Fn(usize) -> f64| -> f64 {
        let weighted = inputs.iter().enumerate().map(|(hit, of)| weight(hit) * of[input]);
        weighted.sum()
    };
    // A mix that is hardly there is taken for the mean of all.
    let usual: [[f64; INPUTS]; COMMON] = std::array::from_fn(|mix| {
        std::array::from_fn(|input| {
            let all = sum(input, &|_| 1.0) / count;
            (sum(input, &|hit| mixes[hit][mix]) + 0.5 * all) / (much[mix] + 0.5)
        })
    });
    let more = |(inputs, heard): (&[f64; INPUTS], &Logits)| {
        let away = usual.iter().map(|usual| {
            let squares = inputs.iter().zip(usual).map(|(a, b)| (a - b) * (a - b));
            libm::sqrt(squares.sum::<f64>() / INPUTS as f64)
        });
        let told = inputs.iter().copied().chain(heard.iter().map(|logit| logit / 4.0));
        let all = told.chain(much.map(|much| 2.0 * much / count)).chain(away);
        let mut more = [0.0; MORE_INPUTS];
        more.iter_mut().zip(all).for_each(|(more, value)| *more = value);
        more
    };
    inputs.iter().zip(heard).map(more).collect()
}

/// How likely a hit is each mix, as shares of 1.
fn mixes(heard: &Logits) -> [f64; MIXES.len()] {
    let likely = heard.map(logistic);
    let product = |mix: [bool; CLASSES]| {
        let factors = mix
            .iter()
            .zip(likely)
            .map(|(is, likely)| if *is { likely } else { 1.0 - likely });
        factors.product::<f64>() + 1e-9
    };
    let all = MIXES.map(product);
    let sum: f64 = all.iter().sum();
    all.map(|mix| mix / sum)
}

impl<const N: usize> Network<N> {
    fn logits(&self, inputs: &[f64; N]) -> Logits {
        let sum = |weights: &[f32], of: &[f64]| -> f64 {
            let products = weights.iter().zip(of);
            products.map(|(weight, value)| f64::from(*weight) * value).sum()
        };
        let hidden: Vec<f64> = self
            .into_hidden
            .iter()
            .zip(self.of_hidden)
            .map(|(weights, of)| (sum(weights, inputs) + f64::from(of)).max(0.0))
            .collect();
        std::array::from_fn(|class| sum(&self.into_output[class], &hidden) + f64::from(self.of_output[class]))
    }
}
