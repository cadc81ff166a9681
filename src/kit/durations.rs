//! How long recordings sound, for notes that are written longer.

use super::audio::decode::EmbeddedInfo;
use super::open::Kit;
use crate::base::audio::Audio;

/// A recording that is no more than so many dB under its loudest at its middle ends while it sounds; any other dies away, as
/// the plucked and struck ones of the demo kits do: they are 11 to 24 dB down there, the blown ones 0 to 3.
const SOUNDING: f64 = -9.0;

impl Kit {
    /// What a recording's file tells of its sound; nothing where it can't be read, and of the stand-in, which dies away.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn told(&self, take: usize) -> Option<EmbeddedInfo> {
        match self.stand_in_key(take) {
            Some(_) => None,
            None => self.look(take).ok(),
        }
    }

    /// True for a recording that ends while it sounds, as that of a wind or a bowed string does; not for one that dies away, as
    /// that of a plucked string. It is decoded for that.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn ends_sounding(&self, take: usize) -> bool {
        let decoded = || self.decode(take);
        self.stand_in_key(take).is_none() && decoded().is_ok_and(|decoded| ends_sounding(&decoded.audio))
    }
}

fn ends_sounding(audio: &Audio) -> bool {
    const SLICES: usize = 16;
    let length = audio.frames().div_ceil(SLICES).max(1);
    let power = |slice: usize| -> f64 {
        let within = |side: &Vec<f32>| -> f64 {
            let frames = side.iter().skip(slice * length).take(length);
            frames.map(|sample| f64::from(*sample).powi(2)).sum()
        };
        audio.channels.iter().map(within).sum()
    };
    let loudest = (0..SLICES).map(power).fold(0.0, f64::max);
    let middle = (power(SLICES / 2 - 1) + power(SLICES / 2)) / 2.0;
    loudest > 0.0 && 10.0 * libm::log10(middle / loudest) > SOUNDING
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_blown_ends_sounding_and_what_is_plucked_dies_away() {
        let of = |level: fn(f64) -> f64| {
            let sample = |n: usize| (level(n as f64 / 7_200.0) * (n as f64 * 0.0576).sin()) as f32;
            ends_sounding(&Audio {
                channels: vec![(0..7_200).map(sample).collect()],
                rate: 48_000,
            })
        };
        assert!(of(|_| 0.5), "held to the end");
        assert!(of(|at| 0.5 * (5.0 * (1.0 - at)).min(1.0)), "let go in its last fifth");
        assert!(!of(|at| 0.5 * libm::exp10(-3.0 * at)), "60 dB down at its end");
        assert!(!of(|_| 0.0), "silence");
    }
}
