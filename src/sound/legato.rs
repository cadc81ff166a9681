//! Legato: where a note enters its recording that goes on from the note before.

use crate::base::audio::Audio;
use crate::kit::Recording;

/// Seconds over which one loudness is taken.
const WINDOW: f64 = 0.01;
/// Seconds in which an attack is over [practice].
const LONGEST_ATTACK: f64 = 0.5;

/// Seconds into a recording, as it was recorded, from which on it is sustained: the beginning of what repeats while a note is held,
/// else where it has passed the loudest of its attack.
pub(super) fn entry(recording: &Recording) -> f64 {
    match &recording.held {
        Some(held) => held.from as f64 / f64::from(held.audio.rate),
        None => attack(&recording.audio),
    }
}

/// The end of the loudest window of a sound's beginning, seconds: no further than the middle of the sound.
fn attack(audio: &Audio) -> f64 {
    let rate = f64::from(audio.rate);
    let window = ((WINDOW * rate) as usize).max(1);
    let looked_at = ((LONGEST_ATTACK * rate) as usize).min(audio.frames() / 2);
    let power = |from: usize| {
        let sides = audio.channels.iter().map(|side| &side[from..from + window]);
        sides.flatten().map(|x| f64::from(*x).powi(2)).sum::<f64>()
    };
    let windows = (0..looked_at / window).map(|number| number * window);
    let mut loudest = (0, 0.0);
    for from in windows {
        let power = power(from);
        if power > loudest.1 {
            loudest = (from + window, power);
        }
    }
    loudest.0 as f64 / rate
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_attack_is_over_behind_its_loudest_window() {
        // It speaks within 60 ms and dies away.
        let wave = |n: usize| {
            let seconds = n as f64 / 48_000.0;
            let level = if seconds < 0.06 {
                seconds / 0.06
            } else {
                libm::exp(-(seconds - 0.06) * 3.0)
            };
            (level * libm::sin(n as f64 * 0.3)) as f32
        };
        let audio = |frames: usize| Audio {
            channels: vec![(0..frames).map(wave).collect()],
            rate: 48_000,
        };
        let passed = attack(&audio(48_000));
        assert!((0.06..=0.08).contains(&passed), "{passed} s");
        assert!(
            attack(&audio(4_000)) <= 2_000.0 / 48_000.0,
            "half of a short one at the most"
        );
        assert_eq!(
            (attack(&audio(3)), attack(&Audio::silence(1, 48_000, 48_000))),
            (0.0, 0.0)
        );
    }
}
