//! The hits of a recording: onsets, which sound each is, how hard it was struck.

use super::onsets::{Onset, onsets};
use super::tempo::{Pulse, pulse, pulse_at};
use super::transcript::{Hit, Transcript};
use super::{RATE, Take};

/// What the person says of a recording.
#[derive(Debug, Clone)]
pub(crate) struct Told {
    /// Names of the low, the middle and the high sound.
    pub sounds: Vec<String>,
    /// Beats a minute.
    pub tempo: Option<f64>,
}

/// Finds the hits of a recording.
pub(crate) fn hits(take: &Take, told: &Told) -> Transcript {
    let found = onsets(&take.mono);
    let strengths: Vec<(f64, f64)> = found.iter().map(|onset| (onset.seconds, onset.rise)).collect();
    let pulse: Option<Pulse> = match told.tempo {
        Some(tempo) => pulse_at(&strengths, tempo),
        None => pulse(&strengths),
    };
    let hits: Vec<Hit> = found.iter().map(|onset| hit(&take.mono, onset, told)).collect();
    Transcript {
        seconds: take.seconds(),
        tempo: pulse.map(|pulse| pulse.tempo),
        tempo_confidence: pulse.map(|pulse| pulse.confidence),
        beat_offset: pulse.and_then(|pulse| Some(pulse.beat_near(hits.first()?.seconds))),
        hits,
        ..Transcript::default()
    }
}

/// Seconds of a hit that say what it is.
const SAYS: f64 = 0.04;

fn hit(samples: &[f32], onset: &Onset, told: &Told) -> Hit {
    let from = (onset.seconds * f64::from(RATE)) as usize;
    let to = (from + (SAYS * f64::from(RATE)) as usize).min(samples.len());
    let own = &samples[from.min(to)..to];
    let square = |values: &mut dyn Iterator<Item = f32>| values.map(|value| f64::from(value * value)).sum::<f64>();
    let all = square(&mut own.iter().copied());
    let steep = square(&mut own.windows(2).map(|pair| pair[1] - pair[0]));
    // The mean frequency of a signal's power, by its slope: for a sine exactly its own.
    let hertz = f64::from(RATE) / std::f64::consts::TAU * (steep / all.max(f64::MIN_POSITIVE)).sqrt();
    let which = match hertz {
        ..600.0 => 0,
        ..4_500.0 => 1,
        _ => 2,
    };
    let level = 10.0 * libm::log10((all / own.len().max(1) as f64).max(1e-12));
    Hit {
        seconds: onset.seconds,
        sound: told.sounds[which.min(told.sounds.len() - 1)].clone(),
        velocity: libm::round(127.0 * libm::exp10(level / 40.0)).clamp(1.0, 127.0),
        confidence: onset.rise.min(1.0),
    }
}
