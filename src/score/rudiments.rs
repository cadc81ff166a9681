//! Rudiments: a stroke becomes the blows of a drummer's hand.
//!
//! Flam, drag and roll are those of the Percussive Arts Society's International Drum Rudiments. How far ahead grace notes
//! fall and how soft they are is [practice].

use super::blow::Blow;
use super::rolls;
use crate::base::random::Chance;
use crate::loopfile::{Manner, Stroke};

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
        Manner::Single | Manner::Maybe => vec![main],
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
    use crate::loopfile::Exact;

    fn struck(manner: Manner) -> Vec<Blow> {
        let stroke = Stroke {
            at: Exact::new(1, 2),
            step: Exact::new(1, 16),
            piece: 0,
            velocity: 96.0,
            plain: false,
            shift: 0.0,
            pitch: None,
            sounds: None,
            word: None,
            mark: 'x',
            manner,
            scale: 1.0,
        };
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
    fn two_strokes_share_a_step_evenly() {
        let places: Vec<Exact> = struck(Manner::Two).iter().map(|blow| blow.at).collect();
        assert_eq!(places, [Exact::new(1, 2), Exact::new(17, 32)]);
    }
}
