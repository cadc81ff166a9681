//! The stand-in: a plain synthesised tone that dies away as struck keys do, for harmony that has no sound yet.

use std::f64::consts::TAU;

use crate::base::audio::Audio;
use crate::harmony::frequency;

/// MIDI keys that it has a recording for, so that it is never repitched for a note: all of them.
pub(crate) const KEYS: usize = 128;

/// The sum of all partials, as a share of full scale.
const PEAK: f64 = 0.35;
/// Seconds in which the tone comes up.
const ATTACK: f64 = 0.003;
/// Seconds in which it ends once it has fallen 60 dB.
const FADE: f64 = 0.005;
const PARTIALS: u32 = 10;

/// The tone of a MIDI key at a rate, mono.
pub(crate) fn tone(key: usize, rate: u32) -> Audio {
    let rate = rate.max(1);
    let hz = frequency(key as f64);
    let per_second = f64::from(rate);
    // Low strings ring longer: half as long with every two octaves up, 4 s at middle C.
    let decay = (4.0 * libm::exp2((60.0 - key as f64) / 24.0)).clamp(0.8, 8.0);
    let frames = ((decay + FADE) * per_second) as usize;
    let heard = |n: &u32| f64::from(*n) * hz < (0.45 * per_second).min(18_000.0);
    let partials: Vec<f64> = (1..=PARTIALS).filter(heard).map(f64::from).collect();
    let strength = |n: f64| libm::pow(n, -1.8);
    let all: f64 = partials.iter().map(|n| strength(*n)).sum();
    let mut sum = vec![0.0f64; frames];
    for n in partials {
        // 60 dB are a factor of 1000; higher partials die away sooner.
        let fall = libm::exp(-libm::log(1000.0) * (1.0 + 0.5 * (n - 1.0)) / (decay * per_second));
        let (sin, cos) = (
            libm::sin(TAU * n * hz / per_second),
            libm::cos(TAU * n * hz / per_second),
        );
        let (mut re, mut im) = (PEAK * strength(n) / all, 0.0);
        for sample in &mut sum {
            *sample += im;
            (re, im) = (fall * (re * cos - im * sin), fall * (re * sin + im * cos));
        }
    }
    let ramp = |frames_in: f64, seconds: f64| (frames_in / (seconds * per_second)).min(1.0);
    let shaped = sum.iter().enumerate().map(|(at, sample)| {
        let gain = ramp(at as f64, ATTACK) * ramp((frames - at) as f64, FADE);
        (sample * gain) as f32
    });
    Audio {
        channels: vec![shaped.collect()],
        rate,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kit::audio::pitch::listen;

    #[test]
    fn keys_have_their_pitch_and_die_away() {
        for key in [28, 45, 60, 77, 96] {
            let tone = tone(key, 48_000);
            let heard = listen(&tone).unwrap();
            assert!((heard.key - key as f64).abs() < 0.05, "{key}: {heard:?}");
            let side = &tone.channels[0];
            let peak = |part: &[f32]| part.iter().fold(0.0f32, |most, x| most.max(x.abs()));
            assert!(peak(side) > 0.1 && peak(side) < 0.5, "{key}");
            assert!(peak(&side[side.len() - 400..]) < 0.001, "{key}");
        }
    }

    #[test]
    fn every_key_sounds_at_every_rate() {
        for key in [0, 127] {
            for rate in [8_000, 192_000] {
                assert!(
                    tone(key, rate).channels[0]
                        .iter()
                        .all(|x| x.is_finite() && x.abs() <= 0.5)
                );
            }
        }
    }
}
