//! Holding a note: a recording repeats between its loop points for as long as the note lasts.

use super::bend::Bend;
use crate::base::audio::Audio;
use crate::kit::{Held, Step, read_along, repitch_part};

/// Seconds over which a loop that does not fit fades into what comes before its beginning.
const FADE: f64 = 0.005;
/// Frames beyond the last one that is played, for the filter that changes the pitch.
const BEYOND: f64 = 512.0;

/// A held recording played at a speed, bent if it is to be, and brought to a rate: so many frames of it.
///
/// It is rolled out at its own rate, where a loop is whole frames long, and repitched as one: the loop keeps its pitch to
/// the last fraction of a frame.
pub(super) fn sustained(held: &Held, speed: f64, bend: Option<&Bend>, frames: usize, rate: u32) -> Audio {
    let speed = speed * f64::from(held.audio.rate) / f64::from(rate);
    if let Some(bend) = bend {
        let steps: Vec<Step> = bend.steps(speed, rate).take(frames).collect();
        let fastest = steps.iter().fold(1.0f64, |most, step| most.max(step.speed));
        let needed = steps.last().map_or(0.0, |last| last.place) + BEYOND * fastest;
        let rolled = rolled_out(held, needed.ceil() as usize);
        return Audio {
            rate,
            ..read_along(&rolled, &steps)
        };
    }
    let needed = frames as f64 * speed + BEYOND * speed.max(1.0);
    let rolled = rolled_out(held, needed.ceil() as usize);
    Audio {
        rate,
        ..repitch_part(&rolled, speed, 0..frames)
    }
}

/// The recording with its loop as often as it takes to make so many frames.
fn rolled_out(held: &Held, frames: usize) -> Audio {
    let Held { audio, from, to } = held;
    let (from, fade) = fade(audio, *from, *to);
    let roll = |side: &Vec<f32>| {
        let mut rolled = side[..*to].to_vec();
        // The loop's end turns into what leads up to its beginning.
        for n in 0..fade {
            let share = (n + 1) as f32 / (fade + 1) as f32;
            let (before, end) = (side[from - fade + n], &mut rolled[to - fade + n]);
            *end += share * (before - *end);
        }
        let round = rolled[from..].to_vec();
        while rolled.len() < frames {
            let rest = (frames - rolled.len()).min(round.len());
            rolled.extend_from_slice(&round[..rest]);
        }
        rolled
    };
    Audio {
        channels: audio.channels.iter().map(roll).collect(),
        rate: audio.rate,
    }
}

/// Where the loop begins and how many frames of its end are to fade: none where it repeats without a step that the
/// sound itself does not have.
fn fade(audio: &Audio, from: usize, to: usize) -> (usize, usize) {
    let clicks = |side: &Vec<f32>| {
        let steps = side[from..to].windows(2).map(|pair| (pair[1] - pair[0]).abs());
        let steepest = steps.fold(0.0f32, f32::max);
        (side[from] - side[to - 1]).abs() > steepest
    };
    if !audio.channels.iter().any(clicks) {
        return (from, 0);
    }
    let fade = ((FADE * f64::from(audio.rate)) as usize).min((to - from) / 2);
    // A loop from the first frame on has nothing before it. A long one can begin a little later without a change of pitch.
    let from = if from < fade && to - from > 20 * fade {
        fade
    } else {
        from
    };
    (from, fade.min(from))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    fn held(samples: Vec<f32>, from: usize, to: usize) -> Held {
        let audio = Audio {
            channels: vec![samples],
            rate: 48_000,
        };
        Held {
            audio: Arc::new(audio),
            from,
            to,
        }
    }

    fn steepest(samples: &[f32]) -> f32 {
        samples
            .windows(2)
            .map(|pair| (pair[1] - pair[0]).abs())
            .fold(0.0, f32::max)
    }

    #[test]
    fn a_loop_that_fits_goes_straight_round() {
        let samples: Vec<f32> = (0..100).map(|n| (n % 10) as f32).collect();
        let rolled = rolled_out(&held(samples, 20, 50), 1_000);
        assert!(
            rolled.channels[0]
                .iter()
                .enumerate()
                .all(|(n, x)| *x == (n % 10) as f32)
        );
        assert_eq!(rolled.frames(), 1_000);
    }

    #[test]
    fn a_bend_goes_on_through_the_loop() {
        use crate::score::{PitchCurve, Vibrato};
        // 1 kHz, whose loop of 20 ms is gone through a hundred times.
        let phase = |place: f64| std::f64::consts::TAU * place / 48.0;
        let samples: Vec<f32> = (0..2_400).map(|n| libm::sin(phase(f64::from(n))) as f32).collect();
        let vibrato = Vibrato {
            rate: 5.5,
            cents: 40.0,
            delay: 0.2,
            grows: 0.3,
        };
        let curve = PitchCurve {
            points: vec![(0.0, -300.0), (0.4, 0.0), (1.2, 0.0), (1.6, 500.0)],
            vibrato: Some(vibrato),
        };
        let bend = Bend {
            curve: Arc::new(curve),
            start: 0,
        };
        for speed in [0.7, 1.0, 1.4] {
            let made = sustained(&held(samples.clone(), 480, 1_440), speed, Some(&bend), 96_000, 48_000);
            for (step, x) in bend.steps(speed, 48_000).zip(&made.channels[0]).skip(500) {
                let expected = libm::sin(phase(step.place));
                assert!(
                    (f64::from(*x) - expected).abs() < 1e-4,
                    "{x} at {step:?}, not {expected}"
                );
            }
        }
    }

    #[test]
    fn a_loop_that_does_not_fit_makes_no_step() {
        let wave = |n: usize| libm::sin(n as f64 * 0.02) as f32;
        let samples: Vec<f32> = (0..9_000).map(wave).collect();
        let own = steepest(&samples);
        for (from, to) in [(1_000, 3_010), (0, 8_100), (300, 360), (2_000, 8_999)] {
            let held = held(samples.clone(), from, to);
            let most = steepest(&rolled_out(&held, 30_000).channels[0]);
            assert!(most < 2.0 * own, "{from} to {to}: {most} where the sound has {own}");
        }
    }
}
