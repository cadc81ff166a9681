//! Which notes of a bar need an accidental.

use std::collections::BTreeMap;

use crate::notation::{Signature, WrittenPitch};

/// The letters in the order in which sharps come; flats come from its end.
const SHARPS: [u8; 7] = [3, 0, 4, 1, 5, 2, 6];

/// What has been said of each line and space of a staff.
#[derive(Debug, Default)]
pub(super) struct Accidentals {
    signature: [i8; 7],
    said: BTreeMap<(u8, i8), i8>,
}

impl Accidentals {
    /// A new bar in a key.
    pub(super) fn bar(key: Signature) -> Accidentals {
        let mut signature = [0; 7];
        let count = usize::from(key.fifths.unsigned_abs()).min(7);
        if key.fifths >= 0 {
            SHARPS[..count]
                .iter()
                .for_each(|letter| signature[usize::from(*letter)] = 1);
        } else {
            let flats = SHARPS.iter().rev().take(count);
            flats.for_each(|letter| signature[usize::from(*letter)] = -1);
        }
        Accidentals {
            signature,
            said: BTreeMap::new(),
        }
    }

    /// The accidental that a note needs, by the name that the format has for it. One that is tied to needs none.
    pub(super) fn of(&mut self, pitch: &WrittenPitch, tied_to: bool) -> Option<&'static str> {
        let WrittenPitch::Note { letter, alter, octave } = *pitch else {
            return None;
        };
        let own = self.signature.get(usize::from(letter)).copied().unwrap_or(0);
        let known = self.said.get(&(letter, octave)).copied().unwrap_or(own);
        if known == alter || tied_to {
            return None;
        }
        self.said.insert((letter, octave), alter);
        Some(match alter {
            ..=-2 => "flat-flat",
            -1 => "flat",
            0 => "natural",
            1 => "sharp",
            2.. => "double-sharp",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_accidental_holds_for_its_bar_and_octave() {
        let mut bar = Accidentals::bar(Signature {
            fifths: -2,
            minor: None,
        });
        let note = |letter, alter, octave| WrittenPitch::Note { letter, alter, octave };
        assert_eq!(bar.of(&note(6, -1, 4), false), None);
        assert_eq!(bar.of(&note(6, 0, 4), false), Some("natural"));
        assert_eq!(bar.of(&note(6, 0, 4), false), None);
        assert_eq!(bar.of(&note(6, 0, 5), false), Some("natural"));
        assert_eq!(bar.of(&note(6, -1, 4), false), Some("flat"));
        assert_eq!(bar.of(&note(3, 1, 4), true), None);
    }
}
