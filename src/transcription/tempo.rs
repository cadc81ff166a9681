//! The tempo of hits, and where its beats lie.
//!
//! Onsets are impulses, each as high as it is strong. A tempo fits as far as their Fourier transform is large at the frequency of
//! its beats, its eighths and its sixteenths.

use std::f64::consts::TAU;

/// A steady pulse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pulse {
    /// In BPM.
    pub tempo: f64,
    /// Seconds of a beat near the recording's beginning; never before it.
    pub beat: f64,
    /// How far the hits lie on its sixteenths, from 0 to 1.
    pub confidence: f64,
    /// Half or double the tempo, where that fits about as well.
    pub other: Option<f64>,
}

/// Tempos that are looked for, and the one that is likeliest with how many octaves around it. [practice]
const TEMPOS: (f64, f64) = (60.0, 200.0);
const LIKELIEST: f64 = 108.0;
const OCTAVES: f64 = 0.6;
/// Tempos that are looked for where the number of bars is known.
const IN_BARS: (f64, f64) = (20.0, 400.0);
/// How far one tempo that is tried is from the next, as a share, at first and then around the best.
const COARSE: f64 = 0.002;
const FINE: f64 = 0.000_05;
/// A tempo is rather double than half where its [`haste`] is above this; so near to it, either side, both are told. Fitted to
/// grooves of eighths, sixteenths, quarters and swing that chance made.
const HASTE: f64 = -0.15;
const DOUBTFUL: f64 = 0.05;
/// Hits by chance lie on some tempo's sixteenths by about this.
const BY_CHANCE: f64 = 0.5;
/// What it is worth for a sixteenth to be the beat that the first hit lies on it, where 1 is that all hits do. [practice]
const BEGINS: f64 = 0.3;

/// The pulse of some onsets, each a second and how strong it is, where the person tells the tempo, or in how many bars of how
/// many beats they lie; none where too few tell it.
pub(crate) fn told(onsets: &[(f64, f64)], tempo: Option<f64>, bars: Option<(u32, f64)>) -> Option<Pulse> {
    match (tempo, bars) {
        (Some(tempo), _) => pulse_at(onsets, tempo),
        (None, Some((bars, beats))) => pulse_within(onsets, f64::from(bars) * beats, beats),
        (None, None) => pulse(onsets),
    }
}

/// Finds the pulse of some onsets; none of fewer than four.
pub(crate) fn pulse(onsets: &[(f64, f64)]) -> Option<Pulse> {
    if onsets.len() < 4 {
        return None;
    }
    let about = best(tempos(TEMPOS.0, TEMPOS.1, COARSE), |tempo| likely(onsets, tempo));
    let found = refined(onsets, about, (0.0, f64::INFINITY))?;
    let slow = if found.tempo >= 2.0 * TEMPOS.0 {
        found.tempo / 2.0
    } else if 2.0 * found.tempo <= TEMPOS.1 {
        found.tempo
    } else {
        return Some(found);
    };
    let over = haste(onsets, slow) - HASTE;
    let (tempo, other) = if over > 0.0 {
        (2.0 * slow, slow)
    } else {
        (slow, 2.0 * slow)
    };
    let other = Some(other).filter(|_| over.abs() < DOUBTFUL);
    Some(Pulse {
        other,
        ..pulse_at(onsets, tempo)?
    })
}

/// How much onsets ask for double a tempo: as far as they lie on the sixteenths of the double and not on its own, soft ones as much
/// as hard ones, and as little as the hard ones lie on its beats.
fn haste(onsets: &[(f64, f64)], tempo: f64) -> f64 {
    let even: Vec<(f64, f64)> = onsets.iter().map(|(seconds, _)| (*seconds, 1.0)).collect();
    2.0 * (fit(&even, tempo, 8.0) - fit(&even, tempo, 4.0)) - fit(onsets, tempo, 1.0)
}

/// Finds the pulse of onsets that lie in so many beats, the last of them in the last bar; none of fewer than two.
fn pulse_within(onsets: &[(f64, f64)], beats: f64, in_a_bar: f64) -> Option<Pulse> {
    let (first, last) = (onsets.first()?.0, onsets.last()?.0);
    let span = last - first;
    if span <= 0.0 {
        return None;
    }
    // The last hit is within the last bar: not a sixteenth before its beginning, nor at its end.
    let slowest = (60.0 * (beats - in_a_bar - 0.25) / span).max(IN_BARS.0);
    let fastest = (60.0 * (beats - 0.125) / span).min(IN_BARS.1);
    if slowest >= fastest {
        return None;
    }
    let about = best(tempos(slowest, fastest, COARSE), |tempo| likely(onsets, tempo));
    refined(onsets, about, (slowest, fastest))
}

/// How likely a tempo is: how far onsets lie on its beats, eighths and sixteenths, and how usual it is.
fn likely(onsets: &[(f64, f64)], tempo: f64) -> f64 {
    let usual = libm::exp(-0.5 * (libm::log2(tempo / LIKELIEST) / OCTAVES).powi(2));
    usual
        * [1.0, 2.0, 4.0]
            .map(|parts| fit(onsets, tempo, parts))
            .iter()
            .sum::<f64>()
}

/// How far onsets lie on parts of a tempo's beats, from 0 to 1.
fn fit(onsets: &[(f64, f64)], tempo: f64, parts: f64) -> f64 {
    magnitude(onsets, tempo / 60.0 * parts).0
}

/// The pulse at the best tempo near one that was found.
fn refined(onsets: &[(f64, f64)], about: f64, within: (f64, f64)) -> Option<Pulse> {
    let near = (about * (1.0 - 3.0 * COARSE)).max(within.0)..(about * (1.0 + 3.0 * COARSE)).min(within.1);
    let score = |tempo| fit(onsets, tempo, 4.0) + fit(onsets, tempo, 2.0) + 0.5 * fit(onsets, tempo, 1.0);
    pulse_at(onsets, best(tempos(near.start, near.end, FINE), score))
}

/// The pulse of some onsets at a tempo that is known; none of no onsets.
fn pulse_at(onsets: &[(f64, f64)], tempo: f64) -> Option<Pulse> {
    let first = onsets.first()?.0;
    let period = 60.0 / tempo;
    let (on_beats, beats) = magnitude(onsets, 1.0 / period);
    let (on_sixteenths, sixteenths) = magnitude(onsets, 4.0 / period);
    let sixteenth = period / 4.0;
    let phase = -sixteenths / TAU * sixteenth;
    let away_from = |beat: f64, seconds: f64| (seconds - beat + period / 2.0).rem_euclid(period) - period / 2.0;
    // Of the four sixteenths of a beat it is the one that is nearest to the beats' own phase, which syncopes draw off; who plays
    // mostly begins on a beat.
    let is_beat = |beat: f64| {
        let begins = away_from(beat, first).abs() < sixteenth / 2.0;
        on_beats * libm::cos(TAU * (beat / period) + beats) + if begins { BEGINS } else { 0.0 }
    };
    let candidates = (0..4).map(|number| phase + f64::from(number) * sixteenth);
    let beat = candidates
        .max_by(|a, b| is_beat(*a).total_cmp(&is_beat(*b)))
        .unwrap_or(phase);
    // What swings draws off the sixteenths: the beat is where those are played that lie on one.
    let away = |seconds: f64| away_from(beat, seconds);
    let on_beat = onsets
        .iter()
        .filter(|(seconds, _)| away(*seconds).abs() < sixteenth / 2.0);
    let (sum, all) = on_beat.fold((0.0, 0.0), |(sum, all), (seconds, strength)| {
        (sum + strength * away(*seconds), all + strength)
    });
    let beat = beat + if all > 0.0 { sum / all } else { 0.0 };
    Some(Pulse {
        tempo,
        beat: beat.rem_euclid(period),
        confidence: ((on_sixteenths - BY_CHANCE) / (1.0 - BY_CHANCE)).clamp(0.0, 1.0),
        other: None,
    })
}

impl Pulse {
    /// The second of the beat at a moment or before it; a moment that is up to half a sixteenth early is on its beat.
    pub(crate) fn beat_at(&self, seconds: f64) -> f64 {
        let period = 60.0 / self.tempo;
        self.beat + libm::floor((seconds - self.beat) / period + 0.125) * period
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
            assert!((found.beat_at(onsets[0].0) - 0.37).abs() < 0.01);
            // Told in how many bars it lies, it is no more in doubt.
            let found = told(&onsets, None, Some((8, 4.0))).unwrap();
            assert!((found.tempo / tempo - 1.0).abs() < 0.001, "{} for {tempo}", found.tempo);
        }
        assert_eq!(pulse(&[(0.0, 1.0), (0.5, 1.0)]), None);
    }
}
