//! Rudiments: a stroke becomes the blows of a drummer's hand.
//!
//! Flam, drag and roll are those of the Percussive Arts Society's International Drum Rudiments. How far ahead grace notes
//! fall and how soft they are is [practice].

use super::blow::Blow;
use super::rolls;
use crate::base::random::Chance;
use crate::loopfile::{GRACE, Manner, Stroke};

/// A flam's grace note comes so many seconds before the main note, give or take [`UNEVEN`].
const FLAM: f64 = 0.027;
/// A drag's two grace notes and its main note are so many seconds apart, give or take [`UNEVEN`].
const DRAG: f64 = 0.035;
/// How much the distances of grace notes differ from one to the next, in seconds either way.
const UNEVEN: f64 = 0.003;
/// The blows of a stroke that lasts so many seconds (asked for where they count), in the order of time. Those of a roll and of grace notes are drawn
/// from `chance`. Whether a stroke that may be is played is not decided here.
pub(super) fn blows(stroke: &Stroke, seconds: impl FnOnce() -> f64, chance: &mut Chance) -> Vec<Blow> {
    let main = Blow::plain(stroke.at);
    let mut ahead = |about: f64| about + UNEVEN * chance.either_way();
    match stroke.manner {
        Manner::Single | Manner::Maybe | Manner::Scratch => {
            let graces = stroke
                .expression
                .as_ref()
                .map_or(&[][..], |expression| &expression.graces);
            let mut blows = vec![main];
            let mut before = 0.0;
            // From the note backwards, so that each lasts up to the one behind it.
            for grace in graces.iter().rev() {
                let lasts = ahead(GRACE);
                before += lasts;
                blows.push(Blow::grace_note(stroke.at, before, grace.midi(), lasts));
            }
            blows.reverse();
            blows
        }
        Manner::Flam => vec![Blow::grace(stroke.at, ahead(FLAM)), main],
        Manner::Drag => {
            let second = ahead(DRAG);
            let first = second + ahead(DRAG);
            vec![Blow::grace(stroke.at, first), Blow::grace(stroke.at, second), main]
        }
        Manner::Two => vec![main, Blow::plain(stroke.at + stroke.step / 2)],
        Manner::Press => rolls::press(stroke.at, seconds(), chance),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    use crate::harmony::Note;
    use crate::loopfile::{Exact, Expression};

    fn stroke(manner: Manner) -> Stroke {
        Stroke {
            at: Exact::new(1, 2),
            step: Exact::new(1, 16),
            piece: 0,
            velocity: 96.0,
            plain: false,
            shift: 0.0,
            pitch: None,
            sounds: None,
            word: None,
            expression: None,
            mark: 'x',
            manner,
            scale: 1.0,
        }
    }

    fn struck(manner: Manner) -> Vec<Blow> {
        let stroke = stroke(manner);
        blows(&stroke, || 0.125, &mut Chance::new(1, "snare", "hand", 1))
    }

    #[test]
    fn grace_notes_come_before_the_beat_and_the_main_note_on_it() {
        for (manner, graces) in [(Manner::Flam, 1), (Manner::Drag, 2)] {
            let blows = struck(manner);
            assert_eq!(blows.len(), graces + 1);
            assert!(blows.is_sorted_by(|a, b| a.after < b.after));
            assert_eq!(blows[graces], Blow::plain(Exact::new(1, 2)));
        }
        // [practice] A flam's grace note is 20 to 35 ms ahead.
        assert!((-0.035..=-0.02).contains(&struck(Manner::Flam)[0].after));
    }

    #[test]
    fn grace_notes_of_a_melody_follow_one_another_up_to_the_note() {
        let stroke = Stroke {
            pitch: Some(60),
            expression: Some(Arc::new(Expression {
                graces: ["A3", "B3"].map(|note| Note::parse(note).expect(note)).into(),
                ..Expression::default()
            })),
            ..stroke(Manner::Single)
        };
        let blows = blows(&stroke, || 0.125, &mut Chance::new(1, "horn", "hand", 1));
        let pitches: Vec<Option<i32>> = blows.iter().map(|blow| Some(blow.grace_note?.0)).collect();
        assert_eq!(pitches, [Some(57), Some(59), None]);
        let ends = blows.iter().filter_map(|blow| Some(blow.after + blow.grace_note?.1));
        let begins: Vec<f64> = blows.iter().skip(1).map(|blow| blow.after).collect();
        assert!(ends.zip(&begins).all(|(end, begin)| (end - begin).abs() < 1e-12));
        assert!((-0.126..=-0.114).contains(&blows[0].after), "{}", blows[0].after);
    }

    #[test]
    fn two_strokes_share_a_step_evenly() {
        let places: Vec<Exact> = struck(Manner::Two).iter().map(|blow| blow.at).collect();
        assert_eq!(places, [Exact::new(1, 2), Exact::new(17, 32)]);
    }
}
