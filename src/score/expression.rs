//! What is written about a note becomes its pitch over time.

use super::pitch_curve::{PitchCurve, Vibrato};
use crate::base::random::Chance;
use crate::loopfile::Expression;

/// A vibrato's rate, depth and delay differ from note to note by up to these shares of them, either way [practice].
const UNEVEN: (f64, f64, f64) = (0.04, 0.15, 0.2);
/// A vibrato grows to its depth in so many periods [practice].
const GROWS: f64 = 1.5;
/// How long a dead note sounds, in seconds: the thump of a damped string [practice].
pub(super) const DEAD: f64 = 0.06;
/// A dead note decays by 60 dB in so many seconds [practice].
pub(super) const DEAD_DECAY: f64 = 0.09;
/// A note fades so long, in seconds, into the one that goes on from it: too short to hear both, too long for a click [practice].
pub(super) const HANDOVER: f64 = 0.015;
/// How many octaves a dead note's treble comes down [practice].
pub(super) const DEAD_DULL: f64 = 3.0;

/// The curve of a note of a pitch (a MIDI key) that sounds for so many seconds; none where its pitch stands still. `chance` is
/// asked where it has a vibrato.
pub(super) fn curve(
    expression: &Expression,
    pitch: i32,
    seconds: f64,
    chance: impl FnOnce() -> Chance,
) -> Option<PitchCurve> {
    let mut points: Vec<(f64, f64)> = Vec::new();
    let begins = match (&expression.slide, &expression.scoop) {
        (Some(slide), _) => Some((f64::from(100 * (slide.from.midi() - pitch)), slide.seconds)),
        (None, Some(scoop)) => Some((-100.0 * scoop.semitones, scoop.seconds)),
        (None, None) => None,
    };
    let mut settled = 0.0;
    if let Some((cents, lasts)) = begins {
        settled = lasts.min(seconds);
        points.extend([(0.0, cents), (settled, 0.0)]);
    }
    let falls = expression.fall.map(|fall| (seconds - fall.seconds).max(settled));
    let ends = falls.unwrap_or(seconds);
    if let Some(bend) = expression.bend {
        let lasts = bend.seconds.min((ends - settled) / 2.0).max(0.0);
        let cents = 100.0 * bend.semitones;
        points.extend([
            (settled, 0.0),
            (settled + lasts, cents),
            (ends - lasts, cents),
            (ends, 0.0),
        ]);
    }
    if let (Some(fall), Some(from)) = (expression.fall, falls) {
        points.extend([(from, 0.0), (seconds.max(from), -100.0 * fall.semitones)]);
    }
    // What follows at the same time and the same pitch says nothing new.
    points.dedup_by(|next, before| next.0 <= before.0 && next.1 == before.1);
    let vibrato = expression.vibrato.and_then(|written| {
        let mut chance = chance();
        let mut about = |value: f64, uneven: f64| value * (1.0 + uneven * chance.either_way());
        let rate = about(written.rate, UNEVEN.0);
        let vibrato = Vibrato {
            rate,
            cents: about(written.cents, UNEVEN.1),
            delay: about(written.delay, UNEVEN.2).max(settled),
            grows: GROWS / rate,
        };
        (vibrato.delay < seconds).then_some(vibrato)
    });
    (!points.is_empty() || vibrato.is_some()).then_some(PitchCurve { points, vibrato })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harmony::Note;
    use crate::loopfile::{Slide, Swerve, WrittenVibrato};

    fn swerve(semitones: f64, seconds: f64) -> Option<Swerve> {
        Some(Swerve { semitones, seconds })
    }

    fn points(expression: Expression, seconds: f64) -> Vec<(f64, f64)> {
        let curve = curve(&expression, 60, seconds, || Chance::new(1, "lead", "vibrato", 1));
        curve.map_or(Vec::new(), |curve| curve.points)
    }

    #[test]
    fn a_slide_comes_from_the_note_before_and_a_fall_leaves_at_the_end() {
        let expression = Expression {
            slide: Some(Slide {
                from: Note::parse("G3").expect("a note"),
                seconds: 0.1,
            }),
            fall: swerve(5.0, 0.25),
            ..Expression::default()
        };
        assert_eq!(
            points(expression, 1.0),
            [(0.0, -500.0), (0.1, 0.0), (0.75, 0.0), (1.0, -500.0)]
        );
    }

    #[test]
    fn a_bend_goes_there_stays_and_comes_back_however_short_the_note_is() {
        let expression = Expression {
            scoop: swerve(1.0, 0.1),
            bend: swerve(2.0, 0.15),
            ..Expression::default()
        };
        assert_eq!(
            points(expression.clone(), 1.0),
            [(0.0, -100.0), (0.1, 0.0), (0.25, 200.0), (0.85, 200.0), (1.0, 0.0)]
        );
        let short = points(expression, 0.2);
        assert!(short.is_sorted_by(|a, b| a.0 <= b.0), "{short:?}");
        assert_eq!(short.last(), Some(&(0.2, 0.0)));
    }

    #[test]
    fn a_vibrato_differs_a_little_from_note_to_note_and_not_from_time_to_time() {
        let expression = Expression {
            vibrato: Some(WrittenVibrato {
                rate: 5.5,
                cents: 25.0,
                delay: 0.2,
            }),
            ..Expression::default()
        };
        let of = |bar| {
            curve(&expression, 60, 1.0, || Chance::new(1, "lead", "vibrato", bar)).and_then(|curve| curve.vibrato)
        };
        let (one, other) = (of(1).expect("a vibrato"), of(2).expect("a vibrato"));
        assert_ne!(one, other);
        assert_eq!(Some(one), of(1));
        for vibrato in [one, other] {
            assert!((vibrato.rate / 5.5 - 1.0).abs() <= 0.04 && (vibrato.cents / 25.0 - 1.0).abs() <= 0.15);
        }
        let short = curve(&expression, 60, 0.1, || Chance::new(1, "lead", "vibrato", 1));
        assert_eq!(short, None, "a note that is over before it begins");
    }
}
