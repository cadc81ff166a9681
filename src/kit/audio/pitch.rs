//! The pitch of a recording, by the YIN estimator (de Cheveigné and Kawahara, "YIN, a fundamental frequency estimator for
//! speech and music", JASA 111(4), 2002) [memory].

use serde::{Deserialize, Serialize};

use super::resampling::resample;
use crate::base::audio::Audio;
use crate::base::periodicity::{differences, normalised, refined, rise, vertex};

/// A pitch that was heard. Both figures are rounded: an FFT's last bits differ from processor to processor, and whole cents are
/// what `kit.toml` can hold.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PitchEstimate {
    /// MIDI number, with its fraction in whole cents: 69 is 440 Hz.
    pub key: f64,
    /// From 0 to 1: one minus the aperiodicity, less where the pitch does not stay.
    pub confidence: f64,
}

/// From this confidence on a pitch is believed.
pub(crate) const BELIEVED: f64 = 0.8;

/// The lowest and the highest pitch that is looked for, Hz: a good semitone beyond a piano's A0 and C8.
const RANGE: (f64, f64) = (25.5, 4500.0);
/// A dip of the normalised difference under this is a period (the paper's absolute threshold).
const DIP: f64 = 0.1;
/// Seconds over which one difference is summed.
const WINDOW: f64 = 0.04;
/// Seconds from one look to the next.
const HOP: f64 = 0.06;
/// Periods at the most over which one is measured.
const MOST_PERIODS: f64 = 16.0;
/// Looks at the most.
const LOOKS: usize = 16;
/// How far below the loudest look one still counts, as a share of its energy: 30 dB.
const FAINT: f64 = 1e-3;

/// The name of the note that is nearest to a key, spelled with sharps: `C4` for 60.
pub(crate) fn note_name(key: f64) -> String {
    const NAMES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
    let key = libm::round(key) as i32;
    format!("{}{}", NAMES[key.rem_euclid(12) as usize], key.div_euclid(12) - 1)
}

/// Listens for the pitch of a recording; none where it is silent or too short for two periods.
pub fn listen(audio: &Audio) -> Option<PitchEstimate> {
    let (samples, rate) = mono(audio);
    let longest = (rate / RANGE.0) as usize + 2;
    let window = ((WINDOW * rate) as usize).max(longest);
    let hop = ((HOP * rate) as usize).max(1);
    let begins = onset(&samples)?;
    let sounding = &samples[begins..];
    // The attack says little of the pitch; a short sound is nothing but attack.
    let settled = ((0.03 * rate) as usize).min(sounding.len() / 8);
    let sounding = &sounding[settled..];
    let mut looks = Vec::new();
    let mut at = 0;
    while looks.len() < LOOKS && (at == 0 || at + window + longest <= sounding.len()) {
        looks.push(&sounding[at..(at + window + longest).min(sounding.len())]);
        at += hop;
    }
    let energy =
        |look: &[f32]| look.iter().map(|x| f64::from(*x) * f64::from(*x)).sum::<f64>() / look.len().max(1) as f64;
    let loudest = looks.iter().map(|look| energy(look)).fold(0.0, f64::max);
    let heard: Vec<(f64, f64)> = looks
        .iter()
        .filter(|look| energy(look) > FAINT * loudest)
        .filter_map(|look| period(look, rate))
        .collect();
    agreed(&heard, rate)
}

/// One channel, at 44.1 to 88.2 kHz: lower rates have too few frames in a high note's period, higher ones tell nothing more.
/// Its highest partials are softened, which only make the difference between neighbouring lags rough.
fn mono(audio: &Audio) -> (Vec<f32>, f64) {
    if audio.rate < 44_100 {
        return mono(&resample(
            audio,
            audio.rate.max(1) * 44_100u32.div_ceil(audio.rate.max(1)),
        ));
    }
    let step = ((audio.rate / 44_100) as usize).max(1);
    let share = 1.0 / (step * audio.channels.len().max(1)) as f32;
    let summed: Vec<f32> = (0..audio.frames() / step)
        .map(|at| {
            let stretch = audio.channels.iter().flat_map(|side| &side[at * step..(at + 1) * step]);
            stretch.sum::<f32>() * share
        })
        .collect();
    let softened = summed
        .windows(3)
        .map(|near| 0.25 * near[0] + 0.5 * near[1] + 0.25 * near[2]);
    (softened.collect(), f64::from(audio.rate) / step as f64)
}

/// The first sample within 40 dB of the peak.
fn onset(samples: &[f32]) -> Option<usize> {
    let peak = samples.iter().fold(0.0f32, |most, x| most.max(x.abs()));
    samples.iter().position(|x| peak > 0.0 && x.abs() > 0.01 * peak)
}

/// The period of one stretch in samples, and its aperiodicity.
fn period(look: &[f32], rate: f64) -> Option<(f64, f64)> {
    let longest = ((rate / RANGE.0) as usize + 2).min(look.len() / 2);
    let shortest = ((rate / RANGE.1) as usize).max(2);
    if longest < shortest + 2 {
        return None;
    }
    let differences = differences(look, longest);
    let normal = normalised(&differences);
    let lag = dip(&normal, shortest, longest)?;
    let first = vertex(&differences, lag);
    Some((
        refined(&differences, first, MOST_PERIODS),
        (normal[lag] - rise(&normal, lag)).clamp(0.0, 1.0),
    ))
}

/// The bottom of the first dip under the threshold, else the deepest one; never at the edge.
fn dip(normal: &[f64], shortest: usize, longest: usize) -> Option<usize> {
    let is_bottom = |lag: &usize| normal[*lag] <= normal[lag - 1] && normal[*lag] < normal[lag + 1];
    let bottoms = || (shortest..longest).filter(is_bottom);
    let depth = |lag: usize| normal[lag] - rise(normal, lag);
    bottoms()
        .find(|lag| depth(*lag) < DIP)
        .or_else(|| bottoms().min_by(|a, b| depth(*a).total_cmp(&depth(*b))))
}

/// What most looks agree on.
fn agreed(heard: &[(f64, f64)], rate: f64) -> Option<PitchEstimate> {
    let mut keys: Vec<(f64, f64)> = heard
        .iter()
        .map(|(period, aperiodicity)| (69.0 + 12.0 * libm::log2(rate / period / 440.0), 1.0 - aperiodicity))
        .collect();
    keys.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f64 = keys.iter().map(|(_, confidence)| confidence * confidence).sum();
    // The median, each look weighing as much as it is sure.
    let mut passed = 0.0;
    let (middle, _) = *keys.iter().find(|(_, confidence)| {
        passed += confidence * confidence;
        2.0 * passed >= all
    })?;
    let near: Vec<&(f64, f64)> = keys.iter().filter(|(key, _)| (key - middle).abs() < 0.5).collect();
    let weight: f64 = near.iter().map(|(_, confidence)| confidence * confidence).sum();
    if weight <= 0.0 {
        return None;
    }
    let mean = |of: fn(&(f64, f64)) -> f64| near.iter().map(|look| of(look) * look.1 * look.1).sum::<f64>() / weight;
    let confidence = mean(|look| look.1) * libm::sqrt(weight / all);
    Some(PitchEstimate {
        key: libm::round(100.0 * mean(|look| look.0)) / 100.0,
        confidence: libm::round(1000.0 * confidence) / 1000.0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// A tone with some partials of falling strength that dies away over its length.
    fn tone(key: f64, rate: u32, partials: u32, first: f64) -> Audio {
        let hz = 440.0 * libm::exp2((key - 69.0) / 12.0);
        let frames = rate as usize;
        let sample = |at: usize| {
            let t = at as f64 / f64::from(rate);
            let sum: f64 = (1..=partials)
                .filter(|n| f64::from(*n) * hz < 0.45 * f64::from(rate))
                .map(|n| {
                    let strength = if n == 1 { first } else { 1.0 / f64::from(n) };
                    strength * libm::sin(TAU * f64::from(n) * hz * t + f64::from(n * n))
                })
                .sum();
            (0.3 * sum * libm::exp(-3.0 * t)) as f32
        };
        Audio {
            channels: vec![(0..frames).map(sample).collect()],
            rate,
        }
    }

    #[test]
    fn tones_are_heard_within_5_cents_from_e1_to_c7() {
        for rate in [22_050, 44_100, 48_000, 96_000] {
            for key in (28..=96).step_by(4) {
                for (partials, first) in [(1, 1.0), (8, 1.0), (8, 0.05)] {
                    let key = f64::from(key) + 0.13;
                    let heard = listen(&tone(key, rate, partials, first)).unwrap();
                    let cents = 100.0 * (heard.key - key).abs();
                    assert!(cents < 5.0, "{key} at {rate}, {partials} partials: {cents} cents");
                    assert!(heard.confidence > 0.9, "{key} at {rate}: {heard:?}");
                }
            }
        }
    }

    #[test]
    fn noise_is_not_believed_and_silence_has_no_pitch() {
        let mut state = 1u32;
        let mut noise = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state >> 16) as f32 / 32_768.0 - 1.0
        };
        let hiss = Audio {
            channels: vec![(0..24_000).map(|_| noise()).collect()],
            rate: 48_000,
        };
        assert!(listen(&hiss).is_none_or(|heard| heard.confidence < 0.5));
        assert_eq!(listen(&Audio::silence(1, 48_000, 48_000)), None);
        assert_eq!(listen(&Audio::silence(1, 0, 48_000)), None);
        assert_eq!(
            listen(&Audio {
                channels: vec![vec![0.5; 3]],
                rate: 48_000
            }),
            None
        );
    }
}
