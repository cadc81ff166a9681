//! How a note's pitch moves while it sounds: slides, scoops, falls, bends and vibrato as one curve over time.

use std::f64::consts::{PI, TAU};

/// A note's pitch over time, in cents against the note's own pitch.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PitchCurve {
    /// Seconds from the onset and cents, in the order of time. Before the first and after the last the pitch stands still;
    /// from one to the next it eases as half a cosine does, without a corner at either end.
    pub points: Vec<(f64, f64)>,
    /// What swings around that.
    pub vibrato: Option<Vibrato>,
}

/// A vibrato: a sine around the pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vibrato {
    /// Hz.
    pub rate: f64,
    /// Cents to either side.
    pub cents: f64,
    /// Seconds after the onset at which it begins.
    pub delay: f64,
    /// Seconds in which it grows to its depth.
    pub grows: f64,
}

impl PitchCurve {
    /// Cents against the note's own pitch, so many seconds after its onset.
    pub(crate) fn cents(&self, seconds: f64) -> f64 {
        let swing = self.vibrato.map_or(0.0, |vibrato| vibrato.cents(seconds));
        self.glide(seconds) + swing
    }

    fn glide(&self, seconds: f64) -> f64 {
        let next = self.points.partition_point(|(at, _)| *at <= seconds);
        let before = next.checked_sub(1).map(|before| self.points[before]);
        match (before, self.points.get(next).copied()) {
            (Some((from, low)), Some((to, high))) => {
                let share = (1.0 - libm::cos(PI * (seconds - from) / (to - from))) / 2.0;
                low + (high - low) * share
            }
            (Some((_, cents)), None) | (None, Some((_, cents))) => cents,
            (None, None) => 0.0,
        }
    }
}

impl Vibrato {
    fn cents(&self, seconds: f64) -> f64 {
        let after = seconds - self.delay;
        if after <= 0.0 {
            return 0.0;
        }
        let grown = if after < self.grows { after / self.grows } else { 1.0 };
        grown * self.cents * libm::sin(TAU * self.rate * after)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The lowest and the highest cents that a curve reaches.
    fn range(curve: &PitchCurve) -> (f64, f64) {
        let swing = curve.vibrato.map_or(0.0, |vibrato| vibrato.cents);
        let cents = || curve.points.iter().map(|(_, cents)| *cents);
        let (low, high) = (cents().reduce(f64::min), cents().reduce(f64::max));
        (low.unwrap_or(0.0) - swing, high.unwrap_or(0.0) + swing)
    }

    #[test]
    fn a_glide_eases_from_point_to_point() {
        let curve = PitchCurve {
            points: vec![(0.0, -200.0), (0.1, 0.0), (0.5, 0.0), (0.7, -700.0)],
            vibrato: None,
        };
        for (seconds, cents) in [
            (-1.0, -200.0),
            (0.0, -200.0),
            (0.05, -100.0),
            (0.1, 0.0),
            (0.3, 0.0),
            (0.6, -350.0),
            (9.0, -700.0),
        ] {
            assert!((curve.cents(seconds) - cents).abs() < 1e-9, "{seconds} s");
        }
        assert_eq!(range(&curve), (-700.0, 0.0));
    }

    #[test]
    fn a_vibrato_waits_and_grows() {
        let vibrato = Vibrato {
            rate: 5.0,
            cents: 30.0,
            delay: 0.2,
            grows: 0.2,
        };
        let curve = PitchCurve {
            points: Vec::new(),
            vibrato: Some(vibrato),
        };
        assert_eq!(curve.cents(0.2), 0.0);
        // A quarter of a period after its beginning it is a quarter grown; later it is at its depth.
        assert!((curve.cents(0.25) - 7.5).abs() < 1e-9);
        assert!((curve.cents(0.65) - 30.0).abs() < 1e-9 && (curve.cents(0.75) + 30.0).abs() < 1e-9);
        assert_eq!(range(&curve), (-30.0, 30.0));
    }

    proptest! {
        #[test]
        fn a_curve_stays_in_its_range_and_never_jumps(
            steps in proptest::collection::vec((0.005f64..0.5, -2400.0f64..2400.0), 0..6),
            rate in 0.5f64..12.0, depth in 0.0f64..200.0, at in 0.0f64..3.0,
        ) {
            let mut now = 0.0;
            let points = steps.into_iter().map(|(after, cents)| { now += after; (now, cents) }).collect();
            let vibrato = Some(Vibrato { rate, cents: depth, delay: 0.1, grows: 0.2 });
            let curve = PitchCurve { points, vibrato };
            let (low, high) = range(&curve);
            let cents = curve.cents(at);
            prop_assert!(low - 1e-9 <= cents && cents <= high + 1e-9);
            // The steepest that half a cosine over 5 ms can be, and a sine of the widest vibrato.
            let steepest = 4800.0 * PI / 2.0 / 0.005 + depth * (TAU * rate + 5.0);
            prop_assert!((curve.cents(at + 1e-6) - cents).abs() <= steepest * 1e-6 + 1e-9);
        }
    }
}
