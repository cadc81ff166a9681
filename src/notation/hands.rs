//! Parts of keyboards on two staves.
//!
//! The rule: a keyboard's part that reaches below and above middle C in the sheet has two staves; what lies on middle C or above
//! it is the right hand's, what lies below the left hand's. That is where the two staves meet, and what a reader of a grand staff
//! expects where nobody says who plays what [practice].

use std::collections::{BTreeMap, BTreeSet};

use super::line::Line;
use super::{Hand, WrittenNote, WrittenPitch};
use crate::loopfile::{Loop, Part, Way};
use crate::midi::program_for;

/// Middle C as a MIDI note number.
const MIDDLE_C: i32 = 60;
/// Middle C as an octave and the steps above it that [`WrittenPitch`] counts: what is spelled from C4 on lies above.
const OCTAVE: i8 = 4;

/// True for a part that is played on a keyboard: pianos and organs of General MIDI (programs 1 to 8 and 17 to 21), and comp on
/// what is no known instrument.
fn is_keyboard(part: &Part) -> bool {
    part.pieces.iter().all(|played| match program_for(&played.piece) {
        Some(program) => matches!(program, 0..=7 | 16..=20),
        None => part.way == Way::Comp,
    })
}

/// The names of the parts of some loops that have two staves.
pub(super) fn on_two_staves<'a>(songs: impl Iterator<Item = &'a Loop>) -> BTreeSet<String> {
    let mut reach: BTreeMap<&str, (i32, i32)> = BTreeMap::new();
    for part in songs.flat_map(|song| &song.parts).filter(|part| is_keyboard(part)) {
        for pitch in part.strokes.iter().filter_map(|stroke| stroke.pitch) {
            let (lowest, highest) = reach.entry(&part.name).or_insert((pitch, pitch));
            (*lowest, *highest) = ((*lowest).min(pitch), (*highest).max(pitch));
        }
    }
    let both = |(_, (lowest, highest)): &(&str, (i32, i32))| *lowest < MIDDLE_C && *highest > MIDDLE_C;
    reach
        .into_iter()
        .filter(both)
        .map(|(name, _)| name.to_string())
        .collect()
}

/// A staff as those of two hands. Grace notes go with the hand that plays the highest note behind them.
pub(super) fn parted(line: Line) -> [Line; 2] {
    let right = |note: &WrittenNote| matches!(note.pitch, WrittenPitch::Note { octave, .. } if octave >= OCTAVE);
    let hand = |hand: Hand| {
        let mut line = line.clone();
        line.hand = Some(hand);
        for voice in &mut line.voices {
            for played in voice.values_mut() {
                let upper = played.struck.notes.iter().any(right);
                played.struck.notes.retain(|note| right(note) == (hand == Hand::Right));
                if upper != (hand == Hand::Right) {
                    played.struck.graces.clear();
                }
            }
            voice.retain(|_, played| !played.struck.notes.is_empty());
        }
        line
    };
    [hand(Hand::Right), hand(Hand::Left)]
}
