//! Reading a sound at a speed that changes while it sounds.
//!
//! The faster a sound is read, the more of it would pass the Nyquist frequency and must be taken out before. So there is a ladder of
//! bands, each for a somewhat higher speed than the one before it. A frame is a mix of two that lie next to one another and suit its
//! speed; the shares change with the speed, so that nothing ever steps.

use std::collections::BTreeMap;

use super::interpolation::{Band, LowPass};
use super::resampling::TAPS_OF_PITCHES;
use crate::base::audio::Audio;

/// Bands to an octave of speed: a frame loses no more than the highest twelfth of an octave below what the fixed speed has.
const RUNGS: f64 = 24.0;
/// Frames that are made at a time.
const PART: usize = 4_096;

/// A frame that is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Step {
    /// Its place in the sound, in frames from its beginning.
    pub place: f64,
    /// Frames of the sound from one step to the next, about there.
    pub speed: f64,
}

impl Step {
    /// The lower of its two bands, by its number from that of a sound that loses nothing, and the share of the upper one.
    fn rung(&self) -> (usize, f32) {
        // The upper band for a speed at most; at the own speed and below no band is needed.
        let rung = (RUNGS * libm::log2(self.speed) + 1.0).max(0.0);
        (rung as usize, rung.fract() as f32)
    }
}

/// A sound at some places of it, which lie in the order of time. The same to the bit, whichever are asked for.
///
/// Flat as the fixed speed is, up to a twelfth of an octave less; images and aliases 100 dB down.
pub(crate) fn read_along(audio: &Audio, steps: &[Step]) -> Audio {
    let mut low_passes = BTreeMap::new();
    let mut channels = vec![vec![0.0; steps.len()]; audio.channels.len()];
    let mut done = 0;
    let runs = steps.chunk_by(|step, next| step.rung().0 == next.rung().0);
    for run in runs.flat_map(|run| run.chunks(PART)) {
        let (first, last) = (run[0], run[run.len() - 1]);
        let lower = first.rung().0;
        for (rung, upper) in [(lower, false), (lower + 1, true)] {
            let share = |share: f32| if upper { share } else { 1.0 - share };
            let places: Vec<(f64, f32)> = run.iter().map(|step| (step.place, share(step.rung().1))).collect();
            if places.iter().all(|(_, share)| *share == 0.0) {
                continue;
            }
            let band = Band::of(libm::exp2(rung as f64 / RUNGS));
            let low_pass = low_passes
                .entry(band)
                .or_insert_with(|| LowPass::new(band, TAPS_OF_PITCHES));
            let limited = low_pass.limited(&audio.channels, band.around(first.place, last.place));
            let made = channels.iter_mut().map(|side| &mut side[done..done + run.len()]);
            limited.add(&places, &mut made.collect::<Vec<_>>());
        }
        done += run.len();
    }
    Audio {
        channels,
        rate: audio.rate,
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{LN_2, TAU};

    use super::*;

    const RATE: f64 = 48_000.0;

    /// A glide of an octave in a second: after t seconds the speed is low·2^t and the place low·(2^t - 1) / ln 2.
    fn octave(low: f64) -> Vec<Step> {
        let step = |frame: usize| {
            let risen = libm::exp2(frame as f64 / RATE);
            Step {
                place: RATE * low * (risen - 1.0) / LN_2,
                speed: low * risen,
            }
        };
        (0..RATE as usize).map(step).collect()
    }

    /// So many seconds of a sine that begins before the sound does.
    fn sine(hz: f64, seconds: f64) -> Audio {
        let frames = (seconds * RATE) as usize;
        let wave = (0..frames).map(|n| libm::sin(TAU * hz * n as f64 / RATE) as f32);
        Audio {
            channels: vec![wave.collect()],
            rate: RATE as u32,
        }
    }

    /// The power of what is left of a wave once the sine of some phases that fits it best, by least squares, is taken out of it, and
    /// its own, in dB: all that is not the tone, be it an image, an alias, or the tone at another pitch, phase or level.
    fn residue(wave: &[f32], phase: impl Fn(usize) -> f64) -> (f64, f64) {
        let (mut ss, mut sc, mut cc, mut ws, mut wc) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (n, x) in wave.iter().enumerate() {
            let (s, c) = libm::sincos(phase(n));
            ss += s * s;
            sc += s * c;
            cc += c * c;
            ws += f64::from(*x) * s;
            wc += f64::from(*x) * c;
        }
        let all = ss * cc - sc * sc;
        let (a, b) = ((ws * cc - wc * sc) / all, (wc * ss - ws * sc) / all);
        let left = wave.iter().enumerate().map(|(n, x)| {
            let (s, c) = libm::sincos(phase(n));
            (f64::from(*x) - a * s - b * c).powi(2)
        });
        let own = wave.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>();
        (
            10.0 * libm::log10(left.sum::<f64>() / own),
            10.0 * libm::log10(own / wave.len() as f64),
        )
    }

    #[test]
    fn a_glide_of_an_octave_leaves_nothing_above_minus_80_db_that_is_not_the_tone() {
        for low in [0.25, 0.5, 0.8, 1.0, 1.7, 2.0] {
            for hz in [110.0, 1_000.0, 4_700.0] {
                let steps = octave(low);
                let made = read_along(&sine(hz, 1.6 * low + 0.2), &steps);
                // What begins at full level begins with a step, which is no part of the tone.
                let cut = 400..steps.len();
                let (left, _) = residue(&made.channels[0][cut.clone()], |n| {
                    TAU * hz * steps[cut.start + n].place / RATE
                });
                assert!(left < -95.0, "{hz} Hz from speed {low} on: {left} dB");
            }
        }
    }

    #[test]
    fn what_passes_the_nyquist_frequency_leaves_no_alias() {
        // 15 kHz pass 24 kHz at speed 1.6, and would be heard at 18 kHz at speed 2.
        let steps = octave(1.0);
        let made = &read_along(&sine(15_000.0, 1.6), &steps).channels[0];
        let gone = steps.iter().position(|step| step.speed > 1.6).expect("it gets there");
        let loudest = made[gone..].iter().fold(0.0f32, |most, x| most.max(x.abs()));
        assert!(loudest < 1e-4, "{} dB", 20.0 * loudest.log10());
        // It is there as long as it may be: 88 % of the Nyquist frequency less a twelfth of an octave.
        let there = steps
            .iter()
            .position(|step| step.speed * 15_000.0 > 0.83 * 24_000.0)
            .expect("it gets there");
        let phase = |n: usize| TAU * 15_000.0 * steps[there - 4_800 + n].place / RATE;
        let (left, level) = residue(&made[there - 4_800..there], phase);
        assert!(left < -40.0 && (level + 3.01).abs() < 0.1, "{left} dB of {level} dB");
    }

    #[test]
    fn a_speed_that_stands_still_is_the_fixed_one() {
        for speed in [0.3, 1.0, 1.3, 2.6] {
            let audio = sine(1_234.5, 1.0);
            let step = |frame: usize| Step {
                place: frame as f64 * speed,
                speed,
            };
            let steps: Vec<Step> = (0..15_000).map(step).collect();
            let made = read_along(&audio, &steps);
            let fixed = super::super::resampling::repitch_part(&audio, speed, 0..steps.len());
            let apart = made.channels[0]
                .iter()
                .zip(&fixed.channels[0])
                .skip(500)
                .map(|(a, b)| (a - b).abs());
            assert!(apart.fold(0.0, f32::max) < 3e-5, "{speed}");
        }
    }

    #[test]
    fn a_part_of_a_sound_is_the_sound() {
        let (audio, steps) = (sine(700.0, 2.0), octave(0.7));
        let whole = &read_along(&audio, &steps).channels[0];
        for frames in [1, 999, 20_000] {
            assert!(
                read_along(&audio, &steps[..frames]).channels[0] == whole[..frames],
                "{frames}"
            );
        }
        assert_eq!(read_along(&audio, &[]).frames(), 0);
    }
}
