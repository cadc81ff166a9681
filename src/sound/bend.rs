//! Bends: how a hit whose pitch moves reads its sound.

use std::cmp::Ordering;
use std::sync::Arc;

use crate::kit::{Step, within_octaves};
use crate::score::PitchCurve;

/// How a sound's pitch moves, as a part of what tells it from others.
#[derive(Debug, Clone)]
pub(super) struct Bend {
    pub curve: Arc<PitchCurve>,
    /// The frame of the sound at which the hit begins, and the curve with it.
    pub start: usize,
}

impl Bend {
    /// Where the frames of a sound are read that is otherwise played at a speed, and how fast, without an end.
    ///
    /// A place is the integral of the speed, taken from the middle of each frame.
    pub(super) fn steps(&self, speed: f64, rate: u32) -> impl Iterator<Item = Step> + '_ {
        let mut place = 0.0;
        (0_usize..).map(move |frame| {
            let bent = match frame.checked_sub(self.start) {
                Some(since) => libm::exp2(self.curve.cents((since as f64 + 0.5) / f64::from(rate)) / 1200.0),
                None => 1.0,
            };
            let step = Step {
                place,
                speed: within_octaves(speed * bent),
            };
            place += step.speed;
            step
        })
    }

    /// Frames of a sound of so many frames, `most` at the most.
    pub(super) fn frames(&self, frames: usize, speed: f64, rate: u32, most: usize) -> usize {
        let within = |step: &Step| step.place < frames as f64;
        self.steps(speed, rate).take(most).take_while(within).count()
    }

    /// Numbers that equal ones share, and others don't.
    fn bits(&self) -> (usize, usize, Vec<u64>) {
        let points = self.curve.points.iter().flat_map(|(at, cents)| [*at, *cents]);
        let vibrato = self.curve.vibrato.iter();
        let vibrato = vibrato.flat_map(|vibrato| [vibrato.rate, vibrato.cents, vibrato.delay, vibrato.grows]);
        let numbers = points.chain(vibrato).map(f64::to_bits);
        (self.start, self.curve.points.len(), numbers.collect())
    }
}

impl PartialEq for Bend {
    fn eq(&self, other: &Bend) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Bend {}

impl PartialOrd for Bend {
    fn partial_cmp(&self, other: &Bend) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Bend {
    fn cmp(&self, other: &Bend) -> Ordering {
        self.bits().cmp(&other.bits())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::audio::Audio;
    use crate::kit::read_along;
    use crate::score::Vibrato;
    use std::f64::consts::TAU;

    const RATE: u32 = 48_000;

    fn bend(points: &[(f64, f64)], vibrato: Option<Vibrato>) -> Bend {
        let points = points.to_vec();
        Bend {
            curve: Arc::new(PitchCurve { points, vibrato }),
            start: 0,
        }
    }

    /// The frequencies of a wave in so many windows of 20 ms: the turn of the phase from one to the next, each the phase of the sum
    /// under a Hann window of the wave brought down by a frequency near its own.
    fn tracked(wave: &[f32], near: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        let (hop, size) = (48, 960);
        let phase_at = |middle: usize, hz: f64| {
            let (mut re, mut im) = (0.0, 0.0);
            let near = &wave[middle - size / 2..middle + size / 2];
            for (n, x) in near.iter().enumerate() {
                let from_middle = n as f64 - size as f64 / 2.0;
                let window = 0.5 + 0.5 * libm::cos(TAU * from_middle / size as f64);
                let (s, c) = libm::sincos(TAU * hz * from_middle / f64::from(RATE));
                re += window * f64::from(*x) * c;
                im -= window * f64::from(*x) * s;
            }
            libm::atan2(im, re)
        };
        let middles = (size..wave.len() - size).step_by(480);
        middles
            .map(|middle| {
                let seconds = middle as f64 / f64::from(RATE);
                let hz = near(seconds);
                let turn = phase_at(middle + hop / 2, hz) - phase_at(middle - hop / 2, hz);
                let expected = TAU * hz * hop as f64 / f64::from(RATE);
                let off = libm::remainder(turn - expected, TAU);
                (seconds, hz * (1.0 + off / expected))
            })
            .collect()
    }

    #[test]
    fn the_pitch_is_within_2_cents_of_what_is_written_at_any_time() {
        let vibrato = Vibrato {
            rate: 5.5,
            cents: 30.0,
            delay: 0.3,
            grows: 0.2,
        };
        let octave = bend(&[(0.0, -1200.0), (1.0, 0.0)], None);
        let fall = bend(&[(0.0, -200.0), (0.12, 0.0), (0.6, 0.0), (0.9, -700.0)], None);
        let both = bend(&[(0.0, 200.0), (0.15, 0.0)], Some(vibrato));
        let tone = (0..4 * RATE).map(|n| libm::sin(TAU * 660.0 * f64::from(n) / f64::from(RATE)) as f32);
        let tone = Audio {
            channels: vec![tone.collect()],
            rate: RATE,
        };
        for (bend, speed) in [
            (&octave, 1.0),
            (&octave, 2.0),
            (&fall, 1.19),
            (&both, 0.84),
            (&both, 1.0),
        ] {
            let steps: Vec<Step> = bend.steps(speed, RATE).take(RATE as usize).collect();
            let made = read_along(&tone, &steps);
            let written = |seconds: f64| 660.0 * speed * libm::exp2(bend.curve.cents(seconds) / 1200.0);
            for (seconds, hz) in tracked(&made.channels[0], written) {
                let cents = 1200.0 * libm::log2(hz / written(seconds));
                assert!(cents.abs() < 2.0, "{cents} cents at {seconds} s of {bend:?}");
            }
        }
    }

    #[test]
    fn a_bent_sound_is_as_long_as_its_recording_lasts() {
        let still = bend(&[(0.0, 0.0), (0.1, 0.0)], None);
        assert_eq!(still.frames(1_000, 0.5, RATE, usize::MAX), 2_000);
        assert_eq!(still.frames(1_000, 0.5, RATE, 700), 700);
        let up = bend(&[(0.0, 1200.0)], None);
        assert_eq!(up.frames(1_000, 1.0, RATE, usize::MAX), 500);
        let later = Bend { start: 500, ..up };
        assert_eq!(
            later.frames(1_000, 1.0, RATE, usize::MAX),
            750,
            "its beginning is left out unbent"
        );
    }

    #[test]
    fn equal_bends_are_one_and_others_are_others() {
        let one = bend(&[(0.0, -100.0), (0.1, 0.0)], None);
        assert_eq!(one, bend(&[(0.0, -100.0), (0.1, 0.0)], None));
        assert_ne!(one, bend(&[(0.0, -100.0), (0.1, f64::MIN_POSITIVE)], None));
        assert_ne!(
            one,
            Bend {
                start: 1,
                ..one.clone()
            }
        );
        let vibrato = Vibrato {
            rate: 0.0,
            cents: -100.0,
            delay: 0.1,
            grows: 0.0,
        };
        assert_ne!(one, bend(&[], Some(vibrato)), "the same numbers as other things");
    }
}
