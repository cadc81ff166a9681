//! The tempo of hits, and where its beats lie.
//!
//! Onsets are impulses, each as high as it is strong. A tempo fits as far as their Fourier transform is large at the frequency of
//! its beats, its eighths and its sixteenths.

use std::f64::consts::TAU;

/// A steady pulse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pulse {
    /// Beats a minute.
    pub tempo: f64,
    /// Seconds of a beat near the recording's beginning; never before it.
    pub beat: f64,
    /// How far the hits lie on its sixteenths, from 0 to 1.
    pub confidence: f64,
}

/// Tempos that are looked for, and the one that is likeliest with how many octaves around it. [practice]
const TEMPOS: (f64, f64) = (60.0, 200.0);
const LIKELIEST: f64 = 108.0;
const OCTAVES: f64 = 0.6;
/// How far one tempo that is tried is from the next, as a share, at first and then around the best.
const COARSE: f64 = 0.002;
const FINE: f64 = 0.000_05;

/// Finds the pulse of some onsets, each a second and how strong it is; none of fewer than four.
pub(crate) fn pulse(onsets: &[(f64, f64)]) -> Option<Pulse> {
    if onsets.len() < 4 {
        return None;
    }
    let fit = |tempo: f64, parts: f64| magnitude(onsets, tempo / 60.0 * parts).0;
    let likely = |tempo: f64| libm::exp(-0.5 * (libm::log2(tempo / LIKELIEST) / OCTAVES).powi(2));
    let coarse = |tempo: f64| likely(tempo) * (fit(tempo, 1.0) + fit(tempo, 2.0) + fit(tempo, 4.0));
    let about = best(tempos(TEMPOS.0, TEMPOS.1, COARSE), coarse);
    let near = tempos(about * (1.0 - 3.0 * COARSE), about * (1.0 + 3.0 * COARSE), FINE);
    let tempo = best(near, |tempo| fit(tempo, 4.0) + fit(tempo, 2.0) + 0.5 * fit(tempo, 1.0));
    pulse_at(onsets, tempo)
}

/// The pulse of some onsets at a tempo that is known; none of no onsets.
pub(crate) fn pulse_at(onsets: &[(f64, f64)], tempo: f64) -> Option<Pulse> {
    let period = 60.0 / tempo;
    let (fits, phase) = magnitude(onsets, 1.0 / period);
    // Where onsets lie evenly between the beats, none is one: the first is taken.
    let first = onsets.first()?.0;
    let beat = match fits > 1e-6 {
        true => -phase / TAU * period,
        false => first,
    };
    Some(Pulse {
        tempo,
        beat: beat.rem_euclid(period),
        confidence: magnitude(onsets, 4.0 / period).0.min(1.0),
    })
}

impl Pulse {
    /// The second of the beat that is nearest to a moment.
    pub(crate) fn beat_near(&self, seconds: f64) -> f64 {
        let period = 60.0 / self.tempo;
        self.beat + libm::round((seconds - self.beat) / period) * period
    }
}

/// Tempos from one to another, each by the same share above the last.
fn tempos(from: f64, to: f64, share: f64) -> impl Iterator<Item = f64> {
    let steps = (libm::log(to / from) / share) as u32;
    (0..=steps).map(move |step| from * libm::exp(f64::from(step) * share))
}

/// What scores best; of equals the first.
fn best(tempos: impl Iterator<Item = f64>, score: impl Fn(f64) -> f64) -> f64 {
    let scored = tempos.map(|tempo| (score(tempo), tempo));
    scored
        .fold((f64::NEG_INFINITY, LIKELIEST), |best, next| {
            if next.0 > best.0 { next } else { best }
        })
        .1
}

/// The magnitude of the impulses' transform at a frequency in Hz, as a share of what it could be, and its phase.
fn magnitude(onsets: &[(f64, f64)], hertz: f64) -> (f64, f64) {
    let (mut cosines, mut sines, mut all) = (0.0, 0.0, 0.0);
    for (seconds, strength) in onsets {
        let angle = -TAU * hertz * seconds;
        cosines += strength * libm::cos(angle);
        sines += strength * libm::sin(angle);
        all += strength;
    }
    (
        libm::hypot(cosines, sines) / all.max(f64::MIN_POSITIVE),
        libm::atan2(sines, cosines),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_groove_tells_its_tempo_and_its_beats() {
        for tempo in [72.0, 96.3, 120.0, 149.5] {
            let sixteenth = 15.0 / tempo;
            let hits = (0..8).flat_map(|bar| {
                [(0, 1.0), (2, 0.4), (4, 1.0), (7, 0.3), (8, 1.0), (10, 0.4), (12, 1.0)]
                    .map(|(step, strength)| (bar * 16 + step, strength))
            });
            let onsets: Vec<(f64, f64)> = hits
                .map(|(step, strength)| (0.37 + f64::from(step) * sixteenth, strength))
                .collect();
            let found = pulse(&onsets).unwrap();
            // Slow beats may be counted double.
            let counts = [1.0, 2.0].map(|times| (found.tempo / tempo / times - 1.0).abs());
            assert!(counts.iter().any(|off| *off < 0.001), "{} for {tempo}", found.tempo);
            let half = 30.0 / found.tempo;
            let off = (found.beat - 0.37 + half).rem_euclid(2.0 * half) - half;
            assert!(off.abs() < 0.01, "{off} at {tempo}");
            assert!(found.confidence > 0.95);
        }
        assert_eq!(pulse(&[(0.0, 1.0), (0.5, 1.0)]), None);
    }
}
