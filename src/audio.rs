//! Planar audio, as every room from `kit` to `measure` hands it on.

/// Sound as planar 32-bit floats: one vector of samples for each channel, all equally long.
///
/// Full scale is ±1.0; values beyond it are kept. That the channels are equally long is the duty of whoever
/// builds one and is not verified.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Audio {
    /// One vector a channel: one for mono, two (left, right) for stereo.
    pub channels: Vec<Vec<f32>>,
    /// Frames a second, in Hz.
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
pub fn db_of_gain(gain: f64) -> f64 {
    20.0 * libm::log10(gain)
}

/// The largest absolute sample of some channels; 0 for none.
pub fn peak(channels: &[Vec<f32>]) -> f32 {
    channels
        .iter()
        .flatten()
        .fold(0.0, |most, sample| most.max(sample.abs()))
}
