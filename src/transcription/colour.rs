//! What a hit adds to a recording, in bands: its attack and its body.

use super::RATE;
use super::short_time::{ShortTime, percentile};

/// Samples of a window and from one to the next.
const WINDOW: usize = 1024;
const HOP: usize = 128;
/// Bands, by the first lines of the spectrum: from 47 Hz in about octaves, the last from 7 to 17 kHz.
const LINES: [usize; BANDS + 1] = [1, 3, 5, 10, 20, 39, 77, 150, 363];
pub(super) const BANDS: usize = 8;
/// Seconds of an attack and of a body, from the onset on, and of what was there before.
const ATTACK: (f64, f64) = (0.004, 0.018);
const BODY: (f64, f64) = (0.030, 0.060);
const BEFORE: (f64, f64) = (-0.030, -0.012);
/// The least power that is told from none.
const LEAST: f64 = 1e-12;

/// The power in dB that a hit adds in each band: of its attack, then of its body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Colour(pub [f64; 2 * BANDS]);

impl Colour {
    /// The strongest of all.
    pub(super) fn top(&self) -> f64 {
        self.0.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    /// The power in dB of some bands' attack.
    pub(super) fn attack(&self, bands: std::ops::Range<usize>) -> f64 {
        let power: f64 = self.0[bands].iter().map(|db| libm::exp10(db / 10.0)).sum();
        10.0 * libm::log10(power.max(LEAST))
    }
}

/// The colours of hits that begin at some seconds of a channel at [`RATE`].
pub(super) fn colours(samples: &[f32], onsets: &[f64]) -> Vec<Colour> {
    let spectrum = ShortTime {
        points: WINDOW,
        hop: HOP,
        bands: LINES.windows(2).map(|pair| pair[0]..pair[1]).collect(),
    };
    let power = |magnitudes: &[f32]| magnitudes.iter().map(|line| line * line).sum();
    let frames = spectrum.each_band(samples, power);
    onsets.iter().map(|seconds| colour(&frames, *seconds)).collect()
}

fn colour(frames: &[Vec<f32>], onset: f64) -> Colour {
    let a_second = f64::from(RATE) / HOP as f64;
    let last = frames.len() as i64 - 1;
    let at = libm::round(onset * a_second) as i64;
    // What lies outside the recording is silence.
    let mean = |(from, to): (f64, f64), band: usize| {
        let from = at + libm::rint(from * a_second) as i64;
        let to = (at + libm::rint(to * a_second) as i64).max(from + 1);
        let within = from.clamp(0, last + 1) as usize..to.clamp(0, last + 1) as usize;
        let sum: f64 = frames[within].iter().map(|frame| f64::from(frame[band])).sum();
        sum / (to - from) as f64
    };
    let mut colour = Colour([0.0; 2 * BANDS]);
    for (slice, times) in [ATTACK, BODY].into_iter().enumerate() {
        for band in 0..BANDS {
            let more = (mean(times, band) - mean(BEFORE, band)).max(0.0);
            colour.0[slice * BANDS + band] = 10.0 * libm::log10(more + LEAST);
        }
    }
    colour
}

/// What a share of some values in dB lies below.
pub(super) fn share_below(values: impl IntoIterator<Item = f64>, share: f64) -> f64 {
    f64::from(percentile(values.into_iter().map(|value| value as f32), share))
}
