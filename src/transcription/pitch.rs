//! The pitch of a voice or an instrument from moment to moment, by probabilistic YIN (M. Mauch, S. Dixon, "pYIN: a fundamental
//! frequency estimator using probabilistic threshold distributions", ICASSP 2014 [memory]).
//!
//! A frame's candidates are the dips of YIN's normalised difference, each as likely as a threshold that would have picked it.
//! The likeliest way through all frames' candidates is the pitch.

use rayon::prelude::*;

use super::RATE;
use crate::base::periodicity::{differences, normalised, refined, rise, vertex};
use crate::base::stages;

/// Samples from one frame to the next.
pub(super) const HOP: usize = 256;
/// Samples over which a difference is summed: almost two periods of the lowest note.
const WINDOW: usize = 2048;
/// The longest period, in samples: 37 Hz, a bass's low D.
const LONGEST: usize = 1290;
/// The shortest: 4.4 kHz, beyond a whistle.
const SHORTEST: usize = 11;
/// Periods at the most over which one is measured.
const MOST_PERIODS: f64 = 4.0;
/// Frames that one task analyses.
const STRETCH: usize = 64;
/// Beta's second parameters: of the threshold that says whether there is a pitch (the paper's, mean 0.1), and of the one above the
/// deepest dip that says which is its period.
const PITCHED: f64 = 18.0;
const PERIOD: f64 = 70.0;
/// How much farther above the deepest dip thresholds lie where that is not deep, as in noise.
const NOISE: f64 = 20.0;
/// Semitones that count as near where a take mostly lies; the least share that a pitch has there; how much that says.
const NEAR: f64 = 3.0;
const SELDOM: f64 = 0.02;
const TRUST: f64 = 0.3;
/// How likely the deepest dip is where no threshold is deep enough (the paper's p_a).
const DEEPEST: f64 = 0.01;
/// Dips above this say nothing.
const SHALLOW: f64 = 0.9;

/// What is heard in a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PitchFrame {
    /// A fractional MIDI note number; none where nothing has a pitch.
    pub pitch: Option<f64>,
    /// How periodic it is, from 0 to 1.
    pub periodic: f64,
    /// Root mean square.
    pub level: f64,
}

/// A pitch that a frame may have.
struct Candidate {
    pitch: f64,
    periodic: f64,
    /// From 0 to 1.
    likely: f64,
}

/// The candidates of a frame, and its level.
struct Heard {
    candidates: Vec<Candidate>,
    /// How likely it is that nothing has a pitch.
    none: f64,
    level: f64,
}

/// The pitch of one channel at [`RATE`], frame by frame: each is centred on its hop's first sample.
pub(super) fn pitches(samples: &[f32]) -> Vec<PitchFrame> {
    let frames: Vec<usize> = (0..samples.len().div_ceil(HOP)).collect();
    let stretches = stages::all("periods", frames.par_chunks(STRETCH), |stretch| {
        let heard = stretch.iter().map(|frame| heard(samples, *frame));
        heard.collect::<Vec<Heard>>()
    });
    let mut frames: Vec<Heard> = stretches.into_iter().flatten().collect();
    // Octaves are mistaken now and then, seldom most of the time: where the take mostly lies helps to choose.
    let mostly = Range::of(&likeliest(&frames));
    for candidate in frames.iter_mut().flat_map(|frame| &mut frame.candidates) {
        candidate.likely *= mostly.likely(candidate.pitch);
    }
    likeliest(&frames)
}

fn heard(samples: &[f32], frame: usize) -> Heard {
    let begin = frame * HOP;
    let look: Vec<f32> = (0..WINDOW + LONGEST)
        .map(|n| (begin + n).checked_sub(WINDOW / 2).and_then(|at| samples.get(at)))
        .map(|sample| sample.copied().unwrap_or(0.0))
        .collect();
    let energy: f64 = look[..WINDOW].iter().map(|x| f64::from(*x) * f64::from(*x)).sum();
    let level = libm::sqrt(energy / WINDOW as f64);
    let (candidates, none) = match level > 0.0 {
        true => candidates(&look),
        false => (Vec::new(), 1.0),
    };
    Heard {
        candidates,
        none,
        level,
    }
}

/// How likely a value is over a threshold that is drawn from beta's distribution with parameters 2 and `beta`.
fn over(value: f64, beta: f64) -> f64 {
    let rest = (1.0 - value).clamp(0.0, 1.0);
    // By the sum of binomials: what is left of all but none or one.
    1.0 - libm::pow(rest, beta) * (1.0 + beta * (1.0 - rest))
}

/// The candidates of a stretch, and how likely it is that it has no pitch.
///
/// The paper draws one threshold, which decides both. Here the deepest dip says how likely there is a pitch, and thresholds above
/// it which dip is the period: a voice whose vowel doubles one partial has a dip at that partial's period, too, but never as
/// deep a one.
fn candidates(look: &[f32]) -> (Vec<Candidate>, f64) {
    let differences = differences(look, LONGEST);
    let normal = normalised(&differences);
    let is_dip = |lag: &usize| normal[*lag] < normal[lag - 1] && normal[*lag] <= normal[lag + 1];
    // Each dip that is deeper than all before it.
    let mut dips: Vec<(usize, f64)> = Vec::new();
    for lag in (SHORTEST..LONGEST).filter(is_dip) {
        let depth = (normal[lag] - rise(&normal, lag)).clamp(0.0, 1.0);
        if depth < dips.last().map_or(SHALLOW, |(_, least)| *least) {
            dips.push((lag, depth));
        }
    }
    let Some((_, least)) = dips.last().copied() else {
        return (Vec::new(), 1.0);
    };
    let none = over(least, PITCHED);
    let above = |depth: f64| over((depth - least) / (1.0 + NOISE * least), PERIOD);
    let mut before = 1.0;
    let mut found = Vec::with_capacity(dips.len());
    for (lag, depth) in dips {
        // Thresholds between this dip's bottom and the lowest before it pick this one.
        let picked = before - above(depth);
        let deepest = if depth == least { DEEPEST * none } else { 0.0 };
        before = above(depth);
        let period = refined(&differences, vertex(&differences, lag), MOST_PERIODS);
        found.push(Candidate {
            pitch: 69.0 + 12.0 * libm::log2(f64::from(RATE) / period / 440.0),
            periodic: 1.0 - depth,
            likely: (1.0 - none) * picked + deepest,
        });
    }
    (found, none)
}

/// Where a take's pitches mostly lie.
struct Range {
    /// How much lies near each MIDI note number, as a share of the most.
    near: Vec<f64>,
}

impl Range {
    fn of(frames: &[PitchFrame]) -> Range {
        let place = |pitch: f64| pitch.clamp(0.0, 127.0) as usize;
        let mut at = [0.0; 128];
        for frame in frames {
            if let Some(pitch) = frame.pitch {
                at[place(pitch)] += frame.level;
            }
        }
        let near = |key: usize| {
            let shares = at.iter().enumerate().map(|(other, much)| {
                let away = (key as f64 - other as f64) / NEAR;
                much * libm::exp(-0.5 * away * away)
            });
            shares.sum::<f64>()
        };
        let near: Vec<f64> = (0..128).map(near).collect();
        let most = near.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
        Range {
            near: near.into_iter().map(|much| much / most).collect(),
        }
    }

    /// How likely a pitch is, from 0 to 1.
    fn likely(&self, pitch: f64) -> f64 {
        libm::pow(self.near[pitch.clamp(0.0, 127.0) as usize].max(SELDOM), TRUST)
    }
}

/// What a change of pitch costs from frame to frame, a semitone; and at the most, for a leap.
const SLOPE: f64 = 2.5;
const LEAP: f64 = 9.0;
/// What it costs to lose the pitch, to find it again, and to go on without.
const LOST: f64 = 4.0;
const FOUND: f64 = 5.0;
const WITHOUT: f64 = 0.05;

/// The likeliest way through the frames' candidates (Viterbi's algorithm).
fn likeliest(frames: &[Heard]) -> Vec<PitchFrame> {
    // Each frame's states are its candidates, then none of them; where each comes from.
    let mut from: Vec<Vec<u16>> = Vec::with_capacity(frames.len());
    let mut costs: Vec<f64> = vec![0.0];
    let mut before: &[Candidate] = &[];
    for frame in frames {
        let (mut next, mut backs) = (Vec::new(), Vec::new());
        let none = before.len();
        for candidate in &frame.candidates {
            let step = |other: &Candidate| (SLOPE * (candidate.pitch - other.pitch).abs()).min(LEAP);
            let ways = before.iter().map(step).chain([FOUND]);
            let (back, cost) = cheapest(costs.iter().zip(ways).map(|(cost, way)| cost + way));
            next.push(cost - libm::log(candidate.likely.max(1e-5)));
            backs.push(back);
        }
        let ways = (0..none).map(|_| LOST).chain([WITHOUT]);
        let (back, cost) = cheapest(costs.iter().zip(ways).map(|(cost, way)| cost + way));
        next.push(cost - libm::log((0.5 * frame.none).max(1e-3)));
        backs.push(back);
        from.push(backs);
        costs = next;
        before = &frame.candidates;
    }
    let (mut state, _) = cheapest(costs.into_iter());
    let mut way: Vec<PitchFrame> = Vec::with_capacity(frames.len());
    for (frame, backs) in frames.iter().zip(&from).rev() {
        let candidate = frame.candidates.get(usize::from(state));
        way.push(PitchFrame {
            pitch: candidate.map(|candidate| candidate.pitch),
            periodic: candidate.map_or(0.0, |candidate| candidate.periodic),
            level: frame.level,
        });
        state = backs[usize::from(state)];
    }
    way.reverse();
    way
}

/// The place of the least, the first of equals, and what it is.
fn cheapest(costs: impl Iterator<Item = f64>) -> (u16, f64) {
    (0..).zip(costs).fold(
        (0, f64::INFINITY),
        |best, next| if next.1 < best.1 { next } else { best },
    )
}
