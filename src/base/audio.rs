//! Planar audio, as every room from `kit` to `measure` hands it on.

use super::simd::{Work, wide};

/// The loudest sample that is read, as an amplitude: 2^31, where integers of 32 bits that were never scaled end. No sound
/// is as loud, and nothing that is done to it in a mix comes near the end of what a float holds.
pub(crate) const LOUDEST: f32 = 2_147_483_648.0;

/// Sound as planar 32-bit floats: one vector of samples for each channel, all equally long.
///
/// Full scale is ±1.0; values beyond it are kept. That the channels are equally long is the duty of whoever
/// builds one and is not verified.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Audio {
    /// One vector a channel: one for mono, two (left, right) for stereo.
    pub channels: Vec<Vec<f32>>,
    /// Frames per second, in Hz.
    pub rate: u32,
}

impl Audio {
    /// Silence of a given length.
    pub fn silence(channels: usize, frames: usize, rate: u32) -> Audio {
        Audio {
            // Each by itself: a copy would write every zero, where fresh pages cost nothing until they are used.
            channels: (0..channels).map(|_| vec![0.0; frames]).collect(),
            rate,
        }
    }

    /// Length in frames.
    pub fn frames(&self) -> usize {
        self.channels.first().map_or(0, Vec::len)
    }

    /// Bytes of its samples.
    pub fn bytes(&self) -> usize {
        self.channels.len() * self.frames() * size_of::<f32>()
    }

    /// The first frame that has a sample which is no sound's: no number, infinite, or beyond `LOUDEST`.
    pub fn first_unsound(&self) -> Option<usize> {
        let unsound = |sample: &f32| sample.is_nan() || sample.abs() > LOUDEST;
        self.channels
            .iter()
            .filter_map(|side| side.iter().position(unsound))
            .min()
    }

    /// Length in seconds.
    pub fn seconds(&self) -> f64 {
        self.frames() as f64 / f64::from(self.rate)
    }
}

/// The factor by which `db` decibels change an amplitude: 10^(dB/20).
pub fn gain_of_db(db: f64) -> f64 {
    libm::exp10(db / 20.0)
}

/// The decibels that a factor of amplitude is worth: 20·log10(gain); minus infinity for zero.
pub(crate) fn db_of_gain(gain: f64) -> f64 {
    20.0 * libm::log10(gain)
}

/// The largest absolute sample of some channels; 0 for none.
pub(crate) fn peak(channels: &[Vec<f32>]) -> f32 {
    channels.iter().map(|side| wide(Highest(side))).fold(0.0, f32::max)
}

/// The largest absolute sample, 0 for none, found in eight lanes side by side.
#[inline(always)]
pub(crate) fn highest(samples: &[f32]) -> f32 {
    let (eights, rest) = samples.as_chunks::<8>();
    let mut most = [0.0_f32; 8];
    for eight in eights {
        for (most, sample) in most.iter_mut().zip(eight) {
            // One comparison, where `max` would also ask for NaN.
            *most = if sample.abs() > *most { sample.abs() } else { *most };
        }
    }
    let lanes = most.into_iter().fold(0.0, f32::max);
    rest.iter().fold(lanes, |most, sample| most.max(sample.abs()))
}

struct Highest<'a>(&'a [f32]);

impl Work for Highest<'_> {
    type Made = f32;

    #[inline(always)]
    fn work(self) -> f32 {
        highest(self.0)
    }
}
