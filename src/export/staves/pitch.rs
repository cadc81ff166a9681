//! Where pitches stand on a staff, and which accidentals they need.

use std::collections::BTreeMap;

use crate::notation::{Clef, Drum, Signature, WrittenPitch};

/// A place on a staff.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pitch {
    /// Staff spaces down from the top line.
    pub y: f64,
    /// Steps above C0 as it is written; drums have none that an accidental could alter.
    pub step: Option<(i32, i8)>,
}

/// Steps above C0 of a clef's top line, as it is written.
fn top(clef: Clef) -> i32 {
    match clef {
        // F5 and A3.
        Clef::Treble | Clef::TrebleDown | Clef::Percussion => 38,
        Clef::Bass | Clef::BassDown => 26,
    }
}

/// True for a staff of one line: all that stands on it stands at one height ("Behind Bars", staves for percussion) [memory].
pub(super) fn one_line(clef: Clef, drums: &[Drum]) -> bool {
    let heights = drums.windows(2).all(|pair| pair[0].step == pair[1].step);
    clef == Clef::Percussion && !drums.is_empty() && heights
}

/// Where a pitch stands.
pub(super) fn pitch(written: &WrittenPitch, clef: Clef, drums: &[Drum]) -> Pitch {
    match written {
        WrittenPitch::Note { letter, alter, octave } => {
            let octave = match clef {
                Clef::TrebleDown | Clef::BassDown => i32::from(*octave) + 1,
                _ => i32::from(*octave),
            };
            let step = octave * 7 + i32::from(*letter);
            Pitch {
                y: f64::from(top(clef) - step) / 2.0,
                step: Some((step, *alter)),
            }
        }
        WrittenPitch::Drum(place) => {
            // Without a place of its own, a drum stands in the middle.
            let step = drums.get(*place).map_or(34, |drum| drum.step);
            let y = match one_line(clef, drums) {
                true => 2.0,
                false => f64::from(top(clef) - step) / 2.0,
            };
            Pitch { y, step: None }
        }
    }
}

/// The letters that a key alters, in the order in which a signature writes them: F C G D A E B, and backwards.
const FIFTHS: [i32; 7] = [3, 0, 4, 1, 5, 2, 6];
/// Where sharps stand in treble clef, in staff spaces from the top line: F5 C5 G5 D5 A4 E5 B4.
const SHARPS: [f64; 7] = [0.0, 1.5, -0.5, 1.0, 2.5, 0.5, 2.0];
/// Where flats do: B4 E5 A4 D5 G4 C5 F4.
const FLATS: [f64; 7] = [2.0, 0.5, 2.5, 1.0, 3.0, 1.5, 3.5];

/// The semitones by which a key alters a letter, 0 for C to 6 for B.
pub(super) fn altered(key: Signature, letter: i32) -> i8 {
    let place = FIFTHS.iter().position(|known| *known == letter).unwrap_or(0) as i8;
    match key.fifths {
        fifths if fifths > place => 1,
        fifths if -fifths > 6 - place => -1,
        _ => 0,
    }
}

/// The signs of a key and their heights; naturals where it has none and `before` had some.
pub(super) fn signature(key: Signature, before: Option<Signature>, clef: Clef) -> Vec<(&'static str, f64)> {
    let lower = match clef {
        Clef::Bass | Clef::BassDown => 1.0,
        Clef::Treble | Clef::TrebleDown => 0.0,
        Clef::Percussion => return Vec::new(),
    };
    let (sign, fifths) = match (key.fifths, before.map_or(0, |before| before.fifths)) {
        (0, before) => ("accidentalNatural", before),
        (fifths, _) if fifths > 0 => ("accidentalSharp", fifths),
        (fifths, _) => ("accidentalFlat", fifths),
    };
    let heights = if fifths > 0 { SHARPS } else { FLATS };
    let count = usize::from(fifths.unsigned_abs()).min(7);
    heights[..count].iter().map(|y| (sign, y + lower)).collect()
}

/// Which accidentals hold in a bar.
pub(super) struct Accidentals {
    key: Signature,
    /// How steps were altered last in the bar before.
    before: BTreeMap<i32, i8>,
    written: BTreeMap<i32, i8>,
}

impl Accidentals {
    /// At the beginning of a bar; `before` are the pitches of the bar before, in order.
    pub(super) fn new(key: Signature, before: impl Iterator<Item = Pitch>) -> Accidentals {
        Accidentals {
            key,
            before: before.filter_map(|pitch| pitch.step).collect(),
            written: BTreeMap::new(),
        }
    }

    /// The accidental that a pitch needs where it comes up. A note that is tied to the one before needs none, over the
    /// barline too; one that was altered otherwise in the bar before gets its sign as a reminder ("Behind Bars",
    /// accidentals and ties, cautionary accidentals) [memory].
    pub(super) fn needed(&mut self, pitch: Pitch, tied: bool) -> Option<&'static str> {
        let (step, alter) = pitch.step?;
        if tied {
            return None;
        }
        let written = self.written.get(&step).copied();
        let holds = written.unwrap_or_else(|| altered(self.key, step.rem_euclid(7)));
        let other_before = self.before.get(&step).is_some_and(|before| *before != alter);
        if holds == alter && !(written.is_none() && other_before) {
            return None;
        }
        self.written.insert(step, alter);
        Some(match alter {
            ..=-2 => "accidentalDoubleFlat",
            -1 => "accidentalFlat",
            0 => "accidentalNatural",
            1 => "accidentalSharp",
            2.. => "accidentalDoubleSharp",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(fifths: i8) -> Signature {
        Signature { fifths, minor: None }
    }

    fn note(letter: u8, alter: i8, octave: i8) -> WrittenPitch {
        WrittenPitch::Note { letter, alter, octave }
    }

    #[test]
    fn pitches_stand_on_their_lines() {
        // Middle C is a ledger line below the treble staff and one above the bass staff [practice].
        assert_eq!(pitch(&note(0, 0, 4), Clef::Treble, &[]).y, 5.0);
        assert_eq!(pitch(&note(0, 0, 4), Clef::Bass, &[]).y, -1.0);
        // A bass guitar's low E is written an octave higher, a ledger line below its staff.
        assert_eq!(pitch(&note(2, 0, 1), Clef::BassDown, &[]).y, 5.0);
        assert_eq!(pitch(&note(2, 0, 3), Clef::TrebleDown, &[]).y, 4.0);
    }

    #[test]
    fn keys_alter_their_letters_and_write_them() {
        for fifths in -7..=7 {
            let letters = (0..7)
                .map(|letter| i32::from(altered(key(fifths), letter)))
                .sum::<i32>();
            assert_eq!(letters, i32::from(fifths));
            assert_eq!(
                signature(key(fifths), None, Clef::Treble).len(),
                usize::from(fifths.unsigned_abs())
            );
        }
        // B flat major: B flat and E flat, on the middle line and in the space below the top line.
        assert_eq!(altered(key(-2), 6), -1);
        assert_eq!(altered(key(-2), 2), -1);
        let flats = [("accidentalFlat", 2.0), ("accidentalFlat", 0.5)];
        assert_eq!(signature(key(-2), None, Clef::Treble), flats);
        let naturals = signature(key(0), Some(key(2)), Clef::Bass);
        assert_eq!(naturals, [("accidentalNatural", 1.0), ("accidentalNatural", 2.5)]);
    }

    #[test]
    fn accidentals_hold_through_their_bar() {
        let at = |letter, alter| pitch(&note(letter, alter, 4), Clef::Treble, &[]);
        let mut bar = Accidentals::new(key(-1), std::iter::empty());
        assert_eq!(bar.needed(at(6, -1), false), None);
        assert_eq!(bar.needed(at(6, 0), false), Some("accidentalNatural"));
        assert_eq!(bar.needed(at(6, 0), false), None);
        assert_eq!(bar.needed(at(6, -1), false), Some("accidentalFlat"));
        assert_eq!(bar.needed(at(3, 1), true), None);
        // An octave is a place of its own.
        let high = pitch(&note(6, 0, 5), Clef::Treble, &[]);
        assert_eq!(bar.needed(high, false), Some("accidentalNatural"));
        // What was altered in the bar before gets a reminder, once.
        let mut next = Accidentals::new(key(-1), [at(6, 0), at(3, 1), at(4, 0)].into_iter());
        assert_eq!(next.needed(at(6, -1), false), Some("accidentalFlat"));
        assert_eq!(next.needed(at(6, -1), false), None);
        assert_eq!(next.needed(at(3, 0), false), Some("accidentalNatural"));
        assert_eq!(next.needed(at(4, 0), false), None);
    }
}
