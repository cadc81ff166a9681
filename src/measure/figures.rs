//! All figures of a file in one table.

use serde::Serialize;

use super::{loudness, loudness_range, sample_peak_db, true_peak_db};
use crate::audio::{Audio, db_of_gain, peak};

/// Seconds at either side of the seam whose steps the jump is held against.
const AROUND: f64 = 0.02;

/// Steps smaller than this (-120 dBFS) are silence.
const SMALLEST_STEP: f64 = 1e-6;

/// No mono loss is told to be more, in dB: what cancels altogether loses everything.
const MOST_LOSS: f64 = 120.0;

/// What `pressroll measure` tells of a file, under the names that `--json` uses. None is "undefined".
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Figures {
    /// Length.
    pub seconds: f64,
    /// Hz.
    pub rate: u32,
    /// How many.
    pub channels: usize,
    /// Integrated loudness, LUFS.
    pub lufs: Option<f64>,
    /// True peak, dBTP.
    pub true_peak_db: Option<f64>,
    /// Loudness range, LU.
    pub lra: Option<f64>,
    /// The largest sample, dBFS.
    pub sample_peak_db: Option<f64>,
    /// The sample peak over the mean power of all channels, dB.
    pub crest_db: Option<f64>,
    /// The mean of the samples, of the channel where it is furthest from 0; full scale is 1.
    pub dc: f64,
    /// Correlation of left and right, from -1 to 1; none for mono and where a side is silent.
    pub correlation: Option<f64>,
    /// What folding to mono, (L + R)/2, takes from the mean power of the sides, in dB: 0 for sides that are the
    /// same, 3 for sides that have nothing in common, at most 120; 0 for mono; none for silence.
    pub mono_loss_db: Option<f64>,
    /// The jump from the last frame to the first, of the channel where it's worst, over the root mean square of the
    /// steps from frame to frame in the 20 ms before and after it, in dB. About 0 or below for a seam that can't
    /// be heard; none where nothing sounds there.
    pub seam_db: Option<f64>,
}

/// Measures everything.
pub fn figures(audio: &Audio) -> Figures {
    let (lufs, true_peak_db) = rayon::join(|| loudness(audio), || true_peak_db(audio));
    figures_beside(audio, lufs, true_peak_db)
}

/// Measures everything but the loudness and the true peak of audio, which are known.
pub fn figures_beside(audio: &Audio, lufs: Option<f64>, true_peak_db: Option<f64>) -> Figures {
    Figures {
        seconds: audio.seconds(),
        rate: audio.rate,
        channels: audio.channels.len(),
        lufs,
        true_peak_db,
        lra: loudness_range(audio),
        sample_peak_db: sample_peak_db(audio),
        crest_db: crest_db(audio),
        dc: dc(audio),
        correlation: correlation(audio),
        mono_loss_db: mono_loss_db(audio),
        seam_db: seam_db(audio),
    }
}

fn product(a: &[f32], b: &[f32]) -> f64 {
    a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum()
}

fn crest_db(audio: &Audio) -> Option<f64> {
    let samples = audio.frames() * audio.channels.len();
    let power = audio.channels.iter().map(|c| product(c, c)).sum::<f64>() / samples as f64;
    (power > 0.0).then(|| db_of_gain(f64::from(peak(&audio.channels)) / power.sqrt()))
}

fn dc(audio: &Audio) -> f64 {
    let mean = |channel: &Vec<f32>| channel.iter().map(|s| f64::from(*s)).sum::<f64>() / channel.len().max(1) as f64;
    let means = audio.channels.iter().map(mean);
    means.fold(0.0, |most, mean| if mean.abs() > f64::abs(most) { mean } else { most })
}

fn correlation(audio: &Audio) -> Option<f64> {
    let [left, right, ..] = &audio.channels[..] else {
        return None;
    };
    let power = (product(left, left) * product(right, right)).sqrt();
    (power > 0.0).then(|| (product(left, right) / power).clamp(-1.0, 1.0))
}

fn mono_loss_db(audio: &Audio) -> Option<f64> {
    let [left, right, ..] = &audio.channels[..] else {
        return (peak(&audio.channels) > 0.0).then_some(0.0);
    };
    let (left_power, right_power) = (product(left, left), product(right, right));
    let sides = (left_power + right_power) / 2.0;
    let folded = (left_power + right_power + 2.0 * product(left, right)) / 4.0;
    let share = (folded / sides).max(libm::exp10(-MOST_LOSS / 10.0));
    (sides > 0.0).then(|| (-10.0 * libm::log10(share)).max(0.0))
}

fn seam_db(audio: &Audio) -> Option<f64> {
    let around = ((AROUND * f64::from(audio.rate)) as usize).min(audio.frames() / 2);
    let step = |pair: &[f32]| f64::from(pair[1]) - f64::from(pair[0]);
    let over = |channel: &Vec<f32>| {
        let jump = step(&[*channel.last()?, *channel.first()?]).abs();
        let steps = channel[..around]
            .windows(2)
            .chain(channel[channel.len() - around..].windows(2));
        let power = steps.clone().map(|pair| step(pair) * step(pair)).sum::<f64>() / steps.count().max(1) as f64;
        let usual = power.sqrt();
        (jump > SMALLEST_STEP || usual > SMALLEST_STEP)
            .then(|| db_of_gain(jump.max(SMALLEST_STEP) / usual.max(SMALLEST_STEP)))
    };
    audio.channels.iter().filter_map(over).reduce(f64::max)
}
