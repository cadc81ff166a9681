//! Where sounds begin.
//!
//! The measure is the rise of log magnitudes against the loudest of three neighbouring bands some frames before, summed over
//! bands (S. Böck, G. Widmer, "Maximum filter vibrato suppression for onset detection", DAFx 2013 [memory]); each onset is then
//! put where its own level begins to rise.

use super::RATE;
use super::short_time::{ShortTime, mean, percentile};

/// Where a sound begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Onset {
    /// Seconds from the recording's beginning.
    pub seconds: f64,
    /// How much rises: the measure's peak, from 0 on; 1 is ten times as loud in all bands.
    pub rise: f64,
}

/// Samples of a window and from one to the next.
const WINDOW: usize = 1024;
pub(super) const HOP: usize = 128;
/// Bands that are compared.
const HERTZ: (f64, f64) = (30.0, 17_000.0);
const AN_OCTAVE: u32 = 12;
/// Frames between the two that are compared: 16 ms.
const LAG: usize = 6;
/// Noise under this share of the loudest band is nothing: -80 dB.
const FAINT: f32 = 1e-4;
/// The level of noise is what a band is under in so much of the time.
const NOISE_SHARE: f64 = 0.15;
/// A peak is the highest within so many seconds to either side.
const APART: f64 = 0.018;
/// It stands so far above the median of what is around it: by itself, and as a share of the strongest.
const ABOVE: f32 = 0.07;
const ABOVE_SHARE: f32 = 0.12;
/// Seconds around it of which the median is taken.
const AROUND: (f64, f64) = (0.12, 0.05);

/// Finds the onsets of one channel at [`RATE`], in order of time.
pub(crate) fn onsets(samples: &[f32]) -> Vec<Onset> {
    let measure = rises(samples);
    let peaks = peaks(&measure, ABOVE, ABOVE_SHARE);
    let mut found: Vec<Onset> = peaks
        .into_iter()
        .map(|frame| Onset {
            seconds: begins(samples, frame * HOP),
            rise: f64::from(measure[frame]),
        })
        .collect();
    found.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
    found
}

/// The measure, frame by frame.
pub(super) fn rises(samples: &[f32]) -> Vec<f32> {
    let short_time = ShortTime::by_octaves(WINDOW, HOP, HERTZ, AN_OCTAVE);
    let frames = short_time.each_band(samples, mean);
    let bands = short_time.bands.len();
    let loudest = frames.iter().flatten().fold(0.0f32, |most, level| most.max(*level));
    let noise = |band: usize| 2.0 * percentile(frames.iter().map(|frame| frame[band]), NOISE_SHARE) + FAINT * loudest;
    let noises: Vec<f32> = (0..bands).map(noise).collect();
    let log = |level: &f32, noise: &f32| match *noise > 0.0 {
        true => libm::log10f(1.0 + level / noise),
        false => 0.0,
    };
    let logs: Vec<Vec<f32>> = frames
        .iter()
        .map(|frame| {
            frame
                .iter()
                .zip(&noises)
                .map(|(level, noise)| log(level, noise))
                .collect()
        })
        .collect();
    // What lies before the recording is taken for its noise.
    let silence = vec![libm::log10f(2.0); bands];
    let rise = |number: usize| {
        let before = number.checked_sub(LAG).map_or(&silence, |before| &logs[before]);
        let near = |band: usize| {
            before[band.saturating_sub(1)..(band + 2).min(bands)]
                .iter()
                .fold(0.0f32, |most, level| most.max(*level))
        };
        let rises = logs[number]
            .iter()
            .enumerate()
            .map(|(band, now)| (now - near(band)).max(0.0));
        rises.sum::<f32>() / bands.max(1) as f32
    };
    (0..logs.len()).map(rise).collect()
}

/// The frames at which a measure peaks.
pub(super) fn peaks(measure: &[f32], above: f32, above_share: f32) -> Vec<usize> {
    let frames = |seconds: f64| (seconds * f64::from(RATE) / HOP as f64) as usize;
    let strongest = percentile(measure.iter().copied(), 0.995);
    let is_peak = |at: &usize| {
        let (at, apart) = (*at, frames(APART));
        let (from, to) = (at.saturating_sub(apart), (at + apart + 1).min(measure.len()));
        let value = measure[at];
        // Of equals the first.
        let highest =
            measure[from..at].iter().all(|other| *other < value) && measure[at..to].iter().all(|other| *other <= value);
        let around = at.saturating_sub(frames(AROUND.0))..(at + frames(AROUND.1)).min(measure.len());
        highest
            && value > 0.0
            && value > percentile(measure[around].iter().copied(), 0.5) + above.max(above_share * strongest)
    };
    (0..measure.len()).filter(is_peak).collect()
}

/// Seconds from where to where before and after a peak's frame the level's rise is looked for.
const RISE: (f64, f64) = (0.026, 0.014);
/// Samples over which a level is taken.
const LEVEL: usize = 48;
/// A sound begins where its level has come so far from the least before it to its most.
const BEGUN: f32 = 0.15;

/// The second at which the sound begins whose measure peaks at a sample.
///
/// The treble rises first and fastest: levels are those of differences from sample to sample.
fn begins(samples: &[f32], peak: usize) -> f64 {
    let rate = f64::from(RATE);
    let from = peak.saturating_sub((RISE.0 * rate) as usize);
    let to = (peak + (RISE.1 * rate) as usize).min(samples.len());
    let before = from.checked_sub(1).map_or(0.0, |before| samples[before]);
    let mut last = before;
    let squares: Vec<f32> = samples[from..to.max(from)]
        .iter()
        .map(|sample| {
            let difference = sample - last;
            last = *sample;
            difference * difference
        })
        .collect();
    // Centred: the level at a sample is that of half as many on either side.
    let level = |at: usize| {
        let near = &squares[at.saturating_sub(LEVEL / 2)..(at + LEVEL / 2).min(squares.len())];
        libm::sqrtf(near.iter().sum::<f32>() / LEVEL as f32)
    };
    let levels: Vec<f32> = (0..squares.len()).map(level).collect();
    let highest = (0..levels.len())
        .rev()
        .max_by(|a, b| levels[*a].total_cmp(&levels[*b]))
        .unwrap_or(0);
    let rising = &levels[..levels.len().min(highest + 1)];
    let least = rising.iter().copied().fold(f32::INFINITY, f32::min);
    let most = rising.last().copied().unwrap_or(0.0);
    let begun = least + BEGUN * (most - least);
    let last_under = rising.iter().rposition(|level| *level < begun).unwrap_or(0);
    (from + last_under) as f64 / rate
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bursts of noise that die away, each with its level, and noise under them.
    fn bursts(at: &[(f64, f32)], noise: f32) -> Vec<f32> {
        let mut state = 1u32;
        let mut chance = move || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            state as f32 / u32::MAX as f32 - 0.5
        };
        let mut samples: Vec<f32> = (0..2 * RATE).map(|_| noise * chance()).collect();
        for (seconds, level) in at {
            let from = (seconds * f64::from(RATE)) as usize;
            for (n, sample) in samples[from..].iter_mut().take(9600).enumerate() {
                *sample += level * chance() * libm::expf(-(n as f32) / 1500.0);
            }
        }
        samples
    }

    #[test]
    fn bursts_are_found_to_the_millisecond_loud_and_soft() {
        let known = [(0.25, 0.8), (0.5, 0.1), (0.6, 0.8), (0.9, 0.3), (1.5, 0.05)];
        for noise in [0.0, 1e-4, 5e-3] {
            let found = onsets(&bursts(&known, noise));
            assert_eq!(found.len(), known.len(), "{noise}: {found:?}");
            for (onset, (seconds, _)) in found.iter().zip(known) {
                assert!(
                    (onset.seconds - seconds).abs() < 0.0015,
                    "{noise}: {} for {seconds}",
                    onset.seconds
                );
            }
        }
    }

    #[test]
    fn silence_and_next_to_nothing_have_none() {
        assert_eq!(onsets(&[]), []);
        assert_eq!(onsets(&[0.5]), []);
        assert_eq!(onsets(&vec![0.0; 48_000]), []);
    }

    #[test]
    fn a_sound_that_begins_with_the_recording_is_found_and_noise_is_none() {
        for noise in [0.0, 1e-4, 5e-3] {
            let found = onsets(&bursts(&[(0.0, 0.8), (0.5, 0.8)], noise));
            assert_eq!(found.len(), 2, "{noise}: {found:?}");
            assert!(found[0].seconds < 0.0015);
            let found = onsets(&bursts(&[(0.5, 0.8)], noise));
            assert_eq!(found.len(), 1, "{noise}: {found:?}");
        }
    }
}
