//! A sheet for instruments that sound lower than they are written.

use super::{ChordSign, Clef, Sheet, Signature, Staff, WrittenNote, WrittenPitch};
use crate::harmony::{Letter, Spelling};

/// A transposing instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Instrument {
    /// Clarinet, trumpet, tenor saxophone: C is written D.
    BFlat,
    /// Alto and baritone saxophone: C is written A.
    EFlat,
}

/// The lowest and the highest line of the treble staff, E4 and F5, in steps above C0.
const LINES: (i32, i32) = (30, 38);

impl Instrument {
    /// Its name in a sentence.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Instrument::BFlat => "B flat",
            Instrument::EFlat => "E flat",
        }
    }

    /// Steps and semitones by which it is written higher, octaves apart.
    fn interval(self) -> (i32, i32) {
        match self {
            Instrument::BFlat => (1, 2),
            Instrument::EFlat => (5, 9),
        }
    }

    /// A sheet as this instrument reads it: chords, keys and pitches transposed, every staff in treble clef and in the
    /// octave in which the fewest notes need ledger lines. Drums stay.
    pub(crate) fn transposed(self, sheet: &Sheet) -> Sheet {
        let mut sheet = sheet.clone();
        // Keys of more than seven signs are written with the fewer signs of the other kind, and so are their notes.
        let mut fifths = Vec::new();
        for bar in &mut sheet.bars {
            let (key, around) = self.key(bar.key);
            bar.key = key;
            fifths.push(around);
            bar.chords.iter_mut().for_each(|(_, sign)| self.chord(sign, around));
        }
        for staff in sheet.staves.iter_mut().filter(|staff| staff.clef != Clef::Percussion) {
            self.staff(staff, &fifths);
        }
        sheet
    }

    /// A transposed key; and by how many steps it was respelled: 1 where sharps became flats.
    fn key(self, key: Signature) -> (Signature, i32) {
        let up = match self {
            Instrument::BFlat => 2,
            Instrument::EFlat => 3,
        };
        let fifths = key.fifths + up;
        match fifths > 6 {
            true => (
                Signature {
                    fifths: fifths - 12,
                    ..key
                },
                1,
            ),
            false => (Signature { fifths, ..key }, 0),
        }
    }

    /// A spelling as it is written, and how many octaves higher its letter lies then.
    fn spelling(self, spelling: Spelling, around: i32) -> (Spelling, i32) {
        let (steps, semitones) = self.interval();
        let steps = steps + around;
        let letter = spelling.letter.step(steps);
        let octaves = (spelling.letter as i32 + steps).div_euclid(7);
        let natural = letter.semitones() + 12 * octaves - spelling.letter.semitones();
        let alter = i32::from(spelling.alter) + semitones - natural;
        match alter {
            // Beyond double signs, the neighbouring letter says the same.
            3.. => self.spelling(spelling, around + 1),
            ..=-3 => self.spelling(spelling, around - 1),
            _ => (Spelling::new(letter, alter as i8), octaves),
        }
    }

    fn chord(self, sign: &mut ChordSign, around: i32) {
        let Some(chord) = &mut sign.chord else { return };
        let (root, _) = self.spelling(chord.root, around);
        let bass = chord.bass.map(|bass| self.spelling(bass, around).0);
        // A symbol is its root, its kind, and a bass behind the last slash where it has one.
        let kind = sign.text.get(chord.root.to_string().len()..).unwrap_or("");
        let kind = match (bass, kind.rfind('/')) {
            (Some(_), Some(slash)) => &kind[..slash],
            _ => kind,
        };
        sign.text = match bass {
            Some(bass) => format!("{root}{kind}/{bass}"),
            None => format!("{root}{kind}"),
        };
        chord.root = root;
        chord.bass = bass;
        chord.symbol.clone_from(&sign.text);
        for tone in &mut chord.tones {
            tone.spelling = self.spelling(tone.spelling, around).0;
        }
    }

    fn staff(self, staff: &mut Staff, arounds: &[i32]) {
        for (measure, around) in staff.measures.iter_mut().zip(arounds) {
            for event in measure.voices.iter_mut().flatten() {
                let graces = event.graces.iter_mut().flatten();
                event
                    .notes
                    .iter_mut()
                    .chain(graces)
                    .for_each(|note| self.note(note, *around));
            }
        }
        let octaves = best_octaves(staff);
        staff.clef = Clef::Treble;
        for event in staff
            .measures
            .iter_mut()
            .flat_map(|measure| &mut measure.voices)
            .flatten()
        {
            let graces = event.graces.iter_mut().flatten();
            for note in event.notes.iter_mut().chain(graces) {
                if let WrittenPitch::Note { octave, .. } = &mut note.pitch {
                    *octave = octave.saturating_add(octaves);
                }
            }
        }
    }

    fn note(self, note: &mut WrittenNote, around: i32) {
        if let WrittenPitch::Note { letter, alter, octave } = &mut note.pitch {
            let before = Spelling::new(Letter::ALL[usize::from(*letter).min(6)], *alter);
            let (written, octaves) = self.spelling(before, around);
            *letter = written.letter as u8;
            *alter = written.alter;
            *octave = octave.saturating_add(octaves as i8);
        }
    }
}

/// The octaves by which a staff's notes move so that the fewest steps lie outside of the treble staff; among equals, the fewest.
fn best_octaves(staff: &Staff) -> i8 {
    let notes = staff.measures.iter().flat_map(|measure| &measure.voices).flatten();
    let notes = notes.flat_map(|event| &event.notes);
    let steps: Vec<i32> = notes
        .filter_map(|note| match note.pitch {
            WrittenPitch::Note { letter, octave, .. } => Some(i32::from(octave) * 7 + i32::from(letter)),
            WrittenPitch::Drum(_) => None,
        })
        .collect();
    let outside = |octaves: i8| -> i32 {
        let moved = steps.iter().map(|step| step + 7 * i32::from(octaves));
        moved.map(|step| (LINES.0 - step).max(step - LINES.1).max(0)).sum()
    };
    (-4..=4)
        .min_by_key(|octaves| (outside(*octaves), octaves.abs()))
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_and_notes_go_up_by_the_instruments_interval() {
        let key = |fifths| Signature {
            fifths,
            minor: Some(false),
        };
        // B flat major is C major for B flat instruments and G major for E flat ones [practice].
        assert_eq!(Instrument::BFlat.key(key(-2)).0.fifths, 0);
        assert_eq!(Instrument::EFlat.key(key(-2)).0.fifths, 1);
        // E major would be C sharp major: D flat it is.
        assert_eq!(Instrument::EFlat.key(key(4)), (key(-5), 1));
        for letter in Letter::ALL {
            for alter in -2..=2 {
                for fifths in -7..=7 {
                    let before = Spelling::new(letter, alter);
                    for (instrument, up) in [(Instrument::BFlat, 2), (Instrument::EFlat, 9)] {
                        let (_, around) = instrument.key(key(fifths));
                        let (after, octaves) = instrument.spelling(before, around);
                        let height = |spelling: Spelling| spelling.letter.semitones() + i32::from(spelling.alter);
                        assert_eq!(height(after) + 12 * octaves, height(before) + up, "{before} {fifths}");
                    }
                }
            }
        }
    }

    #[test]
    fn chords_go_along() {
        for (typed, b_flat, e_flat) in [
            ("Bbmaj9", "Cmaj9", "Gmaj9"),
            ("F/Eb", "G/F", "D/C"),
            ("Am7b5", "Bm7b5", "F#m7b5"),
            ("C6/9", "D6/9", "A6/9"),
        ] {
            for (instrument, written) in [(Instrument::BFlat, b_flat), (Instrument::EFlat, e_flat)] {
                let mut sign = ChordSign {
                    text: typed.into(),
                    chord: crate::harmony::Chord::parse(typed).ok(),
                };
                instrument.chord(&mut sign, 0);
                assert_eq!(sign.text, written);
            }
        }
    }
}
