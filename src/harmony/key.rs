//! Keys: their notes, their chords, and lines that go along with a melody.

use std::fmt;

use super::chord::{Chord, Tone};
use super::degree::Degree;
use super::misread::Misread;
use super::note::{Note, Spelling};

/// The seven-note scale of a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Mode {
    Major,
    /// Natural minor.
    Minor,
    HarmonicMinor,
    /// The rising form.
    MelodicMinor,
    Ionian,
    Dorian,
    Phrygian,
    Lydian,
    Mixolydian,
    Aeolian,
    Locrian,
}

const MODES: [(Mode, &str, [i8; 7]); 11] = [
    (Mode::Major, "major", [0, 0, 0, 0, 0, 0, 0]),
    (Mode::Minor, "minor", [0, 0, -1, 0, 0, -1, -1]),
    (Mode::HarmonicMinor, "harmonic minor", [0, 0, -1, 0, 0, -1, 0]),
    (Mode::MelodicMinor, "melodic minor", [0, 0, -1, 0, 0, 0, 0]),
    (Mode::Ionian, "ionian", [0, 0, 0, 0, 0, 0, 0]),
    (Mode::Dorian, "dorian", [0, 0, -1, 0, 0, 0, -1]),
    (Mode::Phrygian, "phrygian", [0, -1, -1, 0, 0, -1, -1]),
    (Mode::Lydian, "lydian", [0, 0, 0, 1, 0, 0, 0]),
    (Mode::Mixolydian, "mixolydian", [0, 0, 0, 0, 0, 0, -1]),
    (Mode::Aeolian, "aeolian", [0, 0, -1, 0, 0, -1, -1]),
    (Mode::Locrian, "locrian", [0, -1, -1, 0, -1, -1, -1]),
];

impl Mode {
    /// Its name, as it is typed.
    pub fn name(self) -> &'static str {
        MODES
            .iter()
            .find(|(mode, ..)| *mode == self)
            .map_or("major", |(_, name, _)| name)
    }

    /// Its seven degrees above the tonic.
    pub fn degrees(self) -> [Degree; 7] {
        let alters = MODES
            .iter()
            .find(|(mode, ..)| *mode == self)
            .map_or([0; 7], |(.., alters)| *alters);
        let mut degrees = [Degree::new(1, 0); 7];
        for (step, alter) in alters.into_iter().enumerate() {
            degrees[step] = Degree::new(step as u8 + 1, alter);
        }
        degrees
    }
}

/// A key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// The note that it is named after.
    pub tonic: Spelling,
    /// Its scale.
    pub mode: Mode,
}

/// A chord that a key has on one of its degrees.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diatonic {
    /// 1 to 7.
    pub degree: u8,
    /// Its Roman numeral within the key's own scale: capitals with a major third, `°` diminished, `ø` half-diminished,
    /// `+` augmented: `ii7`, `Imaj7`, `viiø7`, `III`.
    pub roman: String,
    /// The chord.
    pub chord: Chord,
    /// The ninth, eleventh and thirteenth that the key has and that sit well on it: those that lie a whole tone above a
    /// chord tone, not a semitone; on a dominant seventh also b9 and b13 (common practice).
    pub tensions: Vec<Tone>,
}

impl Key {
    /// Reads a key: `G minor`, `F# major`, `Bb dorian`; `G` is G major, `Gm` G minor. Capitals do not matter but for the
    /// tonic's.
    pub fn parse(text: &str) -> Result<Key, Misread> {
        let start = text.len() - text.trim_start().len();
        let trimmed = text.trim();
        let (tonic, end) = Spelling::begin(trimmed).map_err(|wrong| {
            let meant = wrong.nearest.clone().filter(|meant| Key::parse(meant).is_ok());
            wrong.moved(start).offer(meant)
        })?;
        let behind = &trimmed[end..];
        let words: Vec<String> = behind.split_whitespace().map(str::to_lowercase).collect();
        let name = match words.join(" ") {
            name if name.is_empty() => "major".to_string(),
            name if name == "m" && behind == "m" => "minor".to_string(),
            name => name,
        };
        if let Some((mode, ..)) = MODES.iter().find(|(_, known, _)| *known == name) {
            return Ok(Key { tonic, mode: *mode });
        }
        let gap = behind.len() - behind.trim_start().len();
        let from = start + end + gap;
        let word = behind.trim_start();
        let what = format!(
            "`{word}` is no mode: major, minor, harmonic minor, melodic minor, dorian, phrygian, lydian, mixolydian, aeolian, locrian"
        );
        let near = crate::text::nearest(&name, MODES.iter().map(|(_, name, _)| *name));
        let meant = near.map(|mode| format!("{tonic} {mode}"));
        Err(Misread::new(what, from..from + word.len()).offer(meant))
    }

    /// Its seven notes, from the tonic up.
    pub fn notes(&self) -> [Spelling; 7] {
        self.mode.degrees().map(|degree| degree.above(self.tonic))
    }

    /// Its key signature: so many sharps, or flats where it is negative. A mode has the signature of the major key whose notes it
    /// has, harmonic and melodic minor that of natural minor. More than seven, as G# major would have, are told by the same
    /// sounds' other names.
    pub fn signature(&self) -> i8 {
        // Fifths from C, by letters and alterations, then by the mode [practice: the circle of fifths].
        let letter = [0, 2, 4, -1, 1, 3, 5][self.tonic.letter as usize];
        let mode = match self.mode {
            Mode::Lydian => 1,
            Mode::Major | Mode::Ionian => 0,
            Mode::Mixolydian => -1,
            Mode::Dorian => -2,
            Mode::Minor | Mode::HarmonicMinor | Mode::MelodicMinor | Mode::Aeolian => -3,
            Mode::Phrygian => -4,
            Mode::Locrian => -5,
        };
        let fifths = letter + 7 * self.tonic.alter + mode;
        match fifths {
            ..-7 => fifths + 12 * ((-7 - fifths + 11) / 12),
            8.. => fifths - 12 * ((fifths - 7 + 11) / 12),
            _ => fifths,
        }
    }

    /// True where its third is minor.
    pub fn is_minor(&self) -> bool {
        self.mode.degrees()[2].alter < 0
    }

    /// Whether a note of this pitch belongs to it, however it is spelled.
    pub fn has(&self, note: Spelling) -> bool {
        self.place_of(note).is_some()
    }

    /// The triads on its degrees.
    pub fn triads(&self) -> Vec<Diatonic> {
        (0..7).filter_map(|step| self.chord_on(step, &[0, 2, 4])).collect()
    }

    /// The seventh chords on its degrees.
    pub fn sevenths(&self) -> Vec<Diatonic> {
        (0..7).filter_map(|step| self.chord_on(step, &[0, 2, 4, 6])).collect()
    }

    /// The dominant seventh that minor keys borrow from harmonic minor: major third on the fifth degree. None where the
    /// key's own fifth is one already or has no perfect fifth above the tonic.
    pub fn borrowed_dominant(&self) -> Option<Diatonic> {
        let degrees = self.mode.degrees();
        if degrees[6].alter == 0 || degrees[4].alter != 0 {
            return None;
        }
        let root = degrees[4].above(self.tonic);
        let tension = |number: u8, step: usize| {
            let alter = Degree::between(root, degrees[step].above(self.tonic)).alter;
            let degree = Degree::new(number, alter);
            Tone {
                degree,
                spelling: degree.above(root),
                essential: false,
            }
        };
        Some(Diatonic {
            degree: 5,
            roman: "V7".to_string(),
            chord: Chord::of(root, "7", None)?,
            tensions: vec![tension(9, 5), tension(13, 2)],
        })
    }

    /// The note so many scale steps above another (below for negative ones): 2 is the diatonic third above, -2 the third
    /// below, 5 and -5 the sixths. None for a note that the key does not have.
    pub fn step(&self, note: Note, steps: i32) -> Option<Note> {
        let at = self.place_of(note.spelling)?;
        let notes = self.notes();
        let own = notes[at].at(note.midi())?;
        let spelling = notes[(at as i32 + steps).rem_euclid(7) as usize];
        let octave = own.octave + (own.spelling.letter as i32 + steps).div_euclid(7);
        Some(Note { spelling, octave })
    }

    fn place_of(&self, note: Spelling) -> Option<usize> {
        let notes = self.notes();
        let exact = notes.iter().position(|own| *own == note);
        exact.or_else(|| notes.iter().position(|own| own.pitch_class() == note.pitch_class()))
    }

    fn chord_on(&self, step: usize, thirds: &[usize]) -> Option<Diatonic> {
        let notes = self.notes();
        let root = notes[step];
        let above = |steps: usize| {
            let degree = Degree::between(root, notes[(step + steps) % 7]);
            Degree::new(steps as u8 + 1, degree.alter)
        };
        let shape: Vec<i8> = thirds.iter().map(|steps| above(*steps).alter).collect();
        let (suffix, minor, mark) = shape_name(&shape)?;
        let numeral = ["I", "II", "III", "IV", "V", "VI", "VII"][step];
        let numeral = if minor {
            numeral.to_lowercase()
        } else {
            numeral.to_string()
        };
        let tensions = [8, 10, 12].into_iter().filter_map(|steps| {
            let (degree, under) = (above(steps), above(steps - 8));
            let degree = Degree::new(steps as u8 + 1, degree.alter);
            let sits = degree.semitones() - under.semitones() == 14 || (suffix == "7" && steps != 10);
            sits.then(|| Tone {
                degree,
                spelling: degree.above(root),
                essential: false,
            })
        });
        Some(Diatonic {
            degree: step as u8 + 1,
            roman: format!("{numeral}{mark}"),
            chord: Chord::of(root, suffix, None)?,
            tensions: tensions.collect(),
        })
    }
}

/// Suffix, whether the numeral is small, and what stands behind it, for the alterations of root, third, fifth (seventh).
fn shape_name(alters: &[i8]) -> Option<(&'static str, bool, &'static str)> {
    let named = match alters {
        [_, 0, 0] => ("", false, ""),
        [_, -1, 0] => ("m", true, ""),
        [_, -1, -1] => ("dim", true, "°"),
        [_, 0, 1] => ("aug", false, "+"),
        [_, 0, 0, 0] => ("maj7", false, "maj7"),
        [_, 0, 0, -1] => ("7", false, "7"),
        [_, -1, 0, -1] => ("m7", true, "7"),
        [_, -1, 0, 0] => ("mMaj7", true, "maj7"),
        [_, -1, -1, -1] => ("m7b5", true, "ø7"),
        [_, -1, -1, -2] => ("dim7", true, "°7"),
        [_, 0, 1, 0] => ("maj7#5", false, "+maj7"),
        _ => return None,
    };
    Some(named)
}

/// `G minor`.
impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.tonic, self.mode.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harmony::note::Letter;
    use proptest::prelude::*;

    fn key(text: &str) -> Key {
        Key::parse(text).expect(text)
    }

    fn joined<T: ToString>(items: impl IntoIterator<Item = T>) -> String {
        let items: Vec<String> = items.into_iter().map(|item| item.to_string()).collect();
        items.join(" ")
    }

    #[test]
    fn keys_have_their_signatures() {
        // Key signatures and church modes as every primer has them [practice].
        for (text, notes) in [
            ("G minor", "G A Bb C D Eb F"),
            ("Gm", "G A Bb C D Eb F"),
            ("F# major", "F# G# A# B C# D# E#"),
            ("Bb", "Bb C D Eb F G A"),
            ("D dorian", "D E F G A B C"),
            ("E♭ Mixolydian", "Eb F G Ab Bb C Db"),
            ("A harmonic  minor", "A B C D E F G#"),
            ("B locrian", "B C D E F G A"),
        ] {
            assert_eq!(joined(key(text).notes()), notes, "{text}");
        }
    }

    #[test]
    fn signatures_go_by_the_notes() {
        // A signature sharpens or flattens what the scale's own notes have: natural minor's for the other minors [practice].
        for tonic in [
            "C", "G", "D", "A", "E", "B", "F#", "C#", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb",
        ] {
            for mode in [
                "major",
                "dorian",
                "phrygian",
                "lydian",
                "mixolydian",
                "minor",
                "locrian",
            ] {
                let key = key(&format!("{tonic} {mode}"));
                let altered: i32 = key.notes().iter().map(|note| i32::from(note.alter)).sum();
                if altered.abs() <= 7 {
                    assert_eq!(i32::from(key.signature()), altered, "{tonic} {mode}");
                } else {
                    assert_eq!(
                        (i32::from(key.signature()) - altered).rem_euclid(12),
                        0,
                        "{tonic} {mode}"
                    );
                }
            }
        }
        assert_eq!(key("A harmonic minor").signature(), 0);
        assert_eq!(key("C melodic minor").signature(), -3);
    }

    #[test]
    fn keys_have_their_chords() {
        let romans = |chords: Vec<Diatonic>| joined(chords.iter().map(|chord| chord.roman.clone()));
        let symbols = |chords: Vec<Diatonic>| joined(chords.into_iter().map(|chord| chord.chord));
        let (major, minor) = (key("C major"), key("G minor"));
        assert_eq!(romans(major.triads()), "I ii iii IV V vi vii°");
        assert_eq!(romans(major.sevenths()), "Imaj7 ii7 iii7 IVmaj7 V7 vi7 viiø7");
        assert_eq!(symbols(major.sevenths()), "Cmaj7 Dm7 Em7 Fmaj7 G7 Am7 Bm7b5");
        assert_eq!(romans(minor.triads()), "i ii° III iv v VI VII");
        assert_eq!(symbols(minor.sevenths()), "Gm7 Am7b5 Bbmaj7 Cm7 Dm7 Ebmaj7 F7");
        assert_eq!(
            symbols(key("A harmonic minor").sevenths()),
            "AmMaj7 Bm7b5 Cmaj7#5 Dm7 E7 Fmaj7 G#dim7"
        );
        assert_eq!(
            minor.borrowed_dominant().map(|chord| chord.chord.symbol).as_deref(),
            Some("D7")
        );
        assert_eq!(major.borrowed_dominant(), None);
    }

    #[test]
    fn tensions_lie_a_whole_tone_above_chord_tones() {
        // Available tensions of the major key's chords [practice].
        let tensions = key("C major")
            .sevenths()
            .into_iter()
            .map(|chord| joined(chord.tensions.iter().map(|t| t.degree)));
        let wanted = ["9 13", "9 11 13", "11", "9 #11 13", "9 13", "9 11", "11 b13"];
        assert_eq!(tensions.collect::<Vec<_>>(), wanted);
        let dominant = key("G minor").borrowed_dominant().expect("a dominant");
        assert_eq!(joined(dominant.tensions.iter().map(|tone| tone.spelling)), "Eb Bb");
        let fifth = &key("A harmonic minor").sevenths()[4];
        assert_eq!(joined(fifth.tensions.iter().map(|tone| tone.degree)), "b9 b13");
    }

    #[test]
    fn thirds_and_sixths_stay_in_the_key() {
        let step = |text: &str, note: &str, steps| {
            let note = Note::parse(note).expect(note);
            key(text).step(note, steps).map(|note| note.to_string())
        };
        assert_eq!(step("C major", "E4", 2).as_deref(), Some("G4"));
        assert_eq!(step("C major", "B4", 2).as_deref(), Some("D5"));
        assert_eq!(step("C major", "C4", -2).as_deref(), Some("A3"));
        assert_eq!(step("G minor", "D4", 5).as_deref(), Some("Bb4"));
        assert_eq!(step("G minor", "A#3", -5).as_deref(), Some("D3"));
        assert_eq!(step("C major", "F#4", 2), None);
    }

    #[test]
    fn what_is_no_key_is_pointed_at() {
        for (text, span, meant) in [
            ("G minr", 2..6, Some("G minor")),
            ("g minor", 0..1, Some("G minor")),
            ("H", 0..1, Some("B")),
            ("C dorain", 2..8, Some("C dorian")),
            ("", 0..0, None),
            ("Gx", 1..2, None),
        ] {
            let wrong = Key::parse(text).expect_err(text);
            assert_eq!((wrong.span, wrong.nearest.as_deref()), (span, meant), "{text}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "[A-Ha-h]?[#b]?[ majorinIdDé]{0,9}|\\PC{0,12}") {
            if let Err(wrong) = Key::parse(&text) {
                prop_assert!(text.get(wrong.span.clone()).is_some(), "{:?}", wrong);
                if let Some(meant) = wrong.nearest {
                    prop_assert!(Key::parse(&meant).is_ok(), "{}", meant);
                }
            }
        }

        #[test]
        fn steps_there_and_back_meet(tonic in 0usize..7, alter in -1i8..=1, mode in 0usize..11, at in 0usize..7, steps in -14i32..=14) {
            let key = Key { tonic: Spelling::new(Letter::ALL[tonic], alter), mode: MODES[mode].0 };
            let note = key.notes()[at].at_or_above(60);
            let there = key.step(note, steps).expect("a note of the key");
            prop_assert_eq!(key.step(there, -steps), Some(note));
            prop_assert_eq!((there.midi() - note.midi()).signum(), steps.signum());
        }
    }
}
