//! All figures of a file in one table.

use serde::Serialize;

use super::{Energies, true_peak_db};
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
    let (energies, true_peak_db) = rayon::join(|| Energies::of(audio), || true_peak_db(audio));
    figures_beside(audio, energies.as_ref(), true_peak_db)
}

/// Measures everything but the true peak of audio and what its loudness is reckoned from, which are known.
pub fn figures_beside(audio: &Audio, energies: Option<&Energies>, true_peak_db: Option<f64>) -> Figures {
    let powers = Powers::of(&audio.channels);
    let peak = peak(&audio.channels);
    Figures {
        seconds: audio.seconds(),
        rate: audio.rate,
        channels: audio.channels.len(),
        lufs: energies.and_then(|energies| energies.lufs(0.0)),
        true_peak_db,
        lra: energies.and_then(Energies::range),
        sample_peak_db: (peak > 0.0).then(|| db_of_gain(f64::from(peak))),
        crest_db: powers.crest_db(peak, audio.frames() * audio.channels.len()),
        dc: dc(audio),
        correlation: powers.correlation(),
        mono_loss_db: powers.mono_loss_db(peak),
        seam_db: seam_db(audio),
    }
}

/// The sums of squares of all channels, and of the products of the first two, which three figures share.
struct Powers {
    squares: Vec<f64>,
    both: Option<f64>,
}

impl Powers {
    fn of(channels: &[Vec<f32>]) -> Powers {
        let both = match channels {
            [left, right, ..] => Some(product(left, right)),
            _ => None,
        };
        Powers {
            squares: channels.iter().map(|side| product(side, side)).collect(),
            both,
        }
    }

    fn crest_db(&self, peak: f32, samples: usize) -> Option<f64> {
        let power = self.squares.iter().sum::<f64>() / samples as f64;
        (power > 0.0).then(|| db_of_gain(f64::from(peak) / power.sqrt()))
    }

    fn correlation(&self) -> Option<f64> {
        let both = self.both?;
        let power = (self.squares[0] * self.squares[1]).sqrt();
        (power > 0.0).then(|| (both / power).clamp(-1.0, 1.0))
    }

    fn mono_loss_db(&self, peak: f32) -> Option<f64> {
        let Some(both) = self.both else {
            return (peak > 0.0).then_some(0.0);
        };
        let (left, right) = (self.squares[0], self.squares[1]);
        let sides = (left + right) / 2.0;
        let share = ((left + right + 2.0 * both) / 4.0 / sides).max(libm::exp10(-MOST_LOSS / 10.0));
        (sides > 0.0).then(|| (-10.0 * libm::log10(share)).max(0.0))
    }
}

/// The sum of products, in eight sums side by side: one alone waits for each addition.
fn product(a: &[f32], b: &[f32]) -> f64 {
    const LANES: usize = 8;
    let mut sums = [0.0; LANES];
    let (eights, others) = (a.as_chunks::<LANES>(), b.as_chunks::<LANES>());
    for (a, b) in eights.0.iter().zip(others.0) {
        let pairs = a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b));
        sums.iter_mut().zip(pairs).for_each(|(sum, product)| *sum += product);
    }
    let rest = eights
        .1
        .iter()
        .zip(others.1)
        .map(|(a, b)| f64::from(*a) * f64::from(*b));
    sums.iter().sum::<f64>() + rest.sum::<f64>()
}

fn dc(audio: &Audio) -> f64 {
    let mean = |channel: &Vec<f32>| channel.iter().map(|s| f64::from(*s)).sum::<f64>() / channel.len().max(1) as f64;
    let means = audio.channels.iter().map(mean);
    means.fold(0.0, |most, mean| if mean.abs() > f64::abs(most) { mean } else { most })
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
