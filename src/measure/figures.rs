//! All figures of a file in one table.

use super::{Energies, Sides, true_peak_db};
use crate::base::audio::{Audio, db_of_gain};

/// Seconds at either side of the seam whose steps the jump is held against.
const AROUND: f64 = 0.02;

/// Steps smaller than this (-120 dBFS) are silence.
const SMALLEST_STEP: f64 = 1e-6;

/// No mono loss is told to be more, in dB: what cancels altogether loses everything.
const MOST_LOSS: f64 = 120.0;

/// What `pressroll measure` tells of a file, under the names that `--json` uses. None is "undefined".
#[derive(Debug, Clone, Default, PartialEq)]
#[cfg_attr(feature = "cli", derive(serde::Serialize))]
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
    figures_beside(audio, &Sides::of(audio), energies.as_ref(), true_peak_db)
}

/// Measures everything of audio of which the sums, what its loudness is reckoned from and the true peak are known.
pub(crate) fn figures_beside(
    audio: &Audio,
    sides: &Sides,
    energies: Option<&Energies>,
    true_peak_db: Option<f64>,
) -> Figures {
    let (peak, frames) = (sides.peak, audio.frames());
    Figures {
        seconds: audio.seconds(),
        rate: audio.rate,
        channels: audio.channels.len(),
        lufs: energies.and_then(|energies| energies.lufs(0.0)),
        true_peak_db,
        lra: energies.and_then(Energies::range),
        sample_peak_db: (peak > 0.0).then(|| db_of_gain(f64::from(peak))),
        crest_db: sides.crest_db(frames * audio.channels.len()),
        dc: sides.dc(frames),
        correlation: sides.correlation(),
        mono_loss_db: sides.mono_loss_db(),
        seam_db: seam_db(audio),
    }
}

impl Sides {
    fn crest_db(&self, samples: usize) -> Option<f64> {
        let power = self.squares.iter().sum::<f64>() / samples as f64;
        (power > 0.0).then(|| db_of_gain(f64::from(self.peak) / power.sqrt()))
    }

    fn correlation(&self) -> Option<f64> {
        let both = self.both?;
        let power = (self.squares[0] * self.squares[1]).sqrt();
        (power > 0.0).then(|| (both / power).clamp(-1.0, 1.0))
    }

    /// What a mono listener loses of it in dB, 0 or more; none for silence.
    pub(super) fn mono_loss_db(&self) -> Option<f64> {
        let Some(both) = self.both else {
            return (self.peak > 0.0).then_some(0.0);
        };
        let (left, right) = (self.squares[0], self.squares[1]);
        let sides = (left + right) / 2.0;
        let share = ((left + right + 2.0 * both) / 4.0 / sides).max(libm::exp10(-MOST_LOSS / 10.0));
        (sides > 0.0).then(|| (-10.0 * libm::log10(share)).max(0.0))
    }

    fn dc(&self, frames: usize) -> f64 {
        let means = self.sums.iter().map(|sum| sum / frames.max(1) as f64);
        means.fold(0.0, |most, mean| if mean.abs() > f64::abs(most) { mean } else { most })
    }
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
