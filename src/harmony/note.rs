//! Notes by name: letter, alteration, octave.

use std::fmt;

use super::misread::Misread;

/// The letter of a note's name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Letter {
    C,
    D,
    E,
    F,
    G,
    A,
    B,
}

impl Letter {
    /// All seven, upwards from C.
    pub const ALL: [Letter; 7] = [
        Letter::C,
        Letter::D,
        Letter::E,
        Letter::F,
        Letter::G,
        Letter::A,
        Letter::B,
    ];

    /// Semitones above C, 0 to 11.
    pub fn semitones(self) -> i32 {
        [0, 2, 4, 5, 7, 9, 11][self as usize]
    }

    /// The letter so many steps further up, or down for negative steps, round the seven.
    pub fn step(self, steps: i32) -> Letter {
        Letter::ALL[(self as i32 + steps).rem_euclid(7) as usize]
    }

    fn from_char(letter: char) -> Option<Letter> {
        let at = "CDEFGAB".find(letter)?;
        Letter::ALL.get(at).copied()
    }
}

/// A note's name without its octave, as it is spelled: D sharp is not E flat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Spelling {
    /// The letter.
    pub letter: Letter,
    /// Semitones by which sharps raise it (positive) or flats lower it (negative).
    pub alter: i8,
}

impl Spelling {
    /// A letter with its alteration.
    pub fn new(letter: Letter, alter: i8) -> Spelling {
        Spelling { letter, alter }
    }

    /// Reads a name such as `C`, `F##`, `E♭`; the whole word must be the name.
    pub fn parse(word: &str) -> Result<Spelling, Misread> {
        let (spelling, end) = Spelling::begin(word)?;
        if end == word.len() {
            return Ok(spelling);
        }
        let what = format!("`{}` is no part of a note's name", &word[end..]);
        Err(Misread::new(what, end..word.len()).offer(Some(spelling.to_string())))
    }

    /// Reads the name that a word begins with, and says how many bytes it takes.
    pub(super) fn begin(word: &str) -> Result<(Spelling, usize), Misread> {
        let Some(first) = word.chars().next() else {
            return Err(Misread::new("a note's name is missing", 0..0));
        };
        let Some(letter) = Letter::from_char(first) else {
            let what = format!("`{first}` is no note: names go from A to G");
            return Err(Misread::new(what, 0..first.len_utf8()).offer(meant(first, word)));
        };
        let (alter, length) = accidentals(&word[1..]);
        Ok((Spelling { letter, alter }, 1 + length))
    }

    /// Semitones above C, 0 to 11, where it sounds.
    pub fn pitch_class(self) -> i32 {
        (self.letter.semitones() + i32::from(self.alter)).rem_euclid(12)
    }

    /// This name at the pitch of a MIDI number; its letter's octave follows (B sharp 3 is MIDI 60). None if the number is
    /// of another pitch.
    pub fn at(self, midi: i32) -> Option<Note> {
        let above = midi - self.letter.semitones() - i32::from(self.alter);
        (above.rem_euclid(12) == 0).then(|| Note {
            spelling: self,
            octave: above.div_euclid(12) - 1,
        })
    }

    /// The lowest note of this name at or above a MIDI number.
    pub fn at_or_above(self, midi: i32) -> Note {
        let up = (self.pitch_class() - midi).rem_euclid(12);
        let above = midi + up - self.letter.semitones() - i32::from(self.alter);
        Note {
            spelling: self,
            octave: above.div_euclid(12) - 1,
        }
    }
}

/// Adds up sharps and flats; gives the sum and the bytes they take. At most a double, so that names stay readable.
pub(super) fn accidentals(text: &str) -> (i8, usize) {
    let (mut alter, mut length) = (0i8, 0);
    for mark in text.chars() {
        let by = match mark {
            '#' | '♯' => 1,
            'b' | '♭' => -1,
            '𝄪' => 2,
            '𝄫' => -2,
            _ => break,
        };
        if i32::from(alter) * by < 0 || (i32::from(alter) + by).abs() > 2 {
            break;
        }
        alter += by as i8;
        length += mark.len_utf8();
    }
    (alter, length)
}

/// A small letter is most likely its capital, and an H the B of German names.
fn meant(first: char, word: &str) -> Option<String> {
    let rest = &word[first.len_utf8()..];
    let capital = match first {
        'a'..='g' => first.to_ascii_uppercase(),
        'H' | 'h' => 'B',
        _ => return None,
    };
    Some(format!("{capital}{rest}"))
}

/// Sharps and flats one by one, as they are typed.
impl fmt::Display for Spelling {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?}", self.letter)?;
        let mark = if self.alter < 0 { "b" } else { "#" };
        f.write_str(&mark.repeat(self.alter.unsigned_abs().into()))
    }
}

/// A note: a name in an octave, in scientific pitch notation (the octave's number changes at C).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Note {
    /// Its name.
    pub spelling: Spelling,
    /// The octave of its letter; C4 is middle C.
    pub octave: i32,
}

impl Note {
    /// Reads a note such as `C#4`, `Db3`, `Ebb5` or `C-1`. It must lie on MIDI's keys, 0 to 127.
    pub fn parse(word: &str) -> Result<Note, Misread> {
        let (spelling, end) = Spelling::begin(word).map_err(|wrong| match &wrong.nearest {
            Some(meant) if Note::parse(meant).is_err() => wrong.clone().offer(None),
            _ => wrong,
        })?;
        let octave = &word[end..];
        if octave.is_empty() {
            return Err(
                Misread::new(format!("`{word}` has no octave"), 0..word.len()).offer(Some(format!("{spelling}4")))
            );
        }
        let digits = octave.strip_prefix('-').unwrap_or(octave);
        let number = match octave.parse::<i32>() {
            Ok(number) if digits.bytes().all(|byte| byte.is_ascii_digit()) && number.abs() <= 99 => number,
            _ => return Err(no_octave(spelling, octave, end..word.len())),
        };
        let note = Note {
            spelling,
            octave: number,
        };
        if (0..=127).contains(&note.midi()) {
            return Ok(note);
        }
        let edge = if note.midi() < 0 {
            spelling.at_or_above(0)
        } else {
            spelling.at_or_above(116)
        };
        let what = format!("`{word}` lies beyond the keys of MIDI, which go from C-1 to G9");
        Err(Misread::new(what, end..word.len()).offer(Some(edge.to_string())))
    }

    /// Its MIDI number: 60 for C4. From 0 to 127 for what was read; notes reckoned from others may lie beyond.
    pub fn midi(self) -> i32 {
        (self.octave + 1) * 12 + self.spelling.letter.semitones() + i32::from(self.spelling.alter)
    }

    /// Its frequency in Hz; see [`frequency`].
    pub fn frequency(self) -> f64 {
        frequency(f64::from(self.midi()))
    }
}

/// Scientific pitch notation.
impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.spelling, self.octave)
    }
}

fn no_octave(spelling: Spelling, octave: &str, span: std::ops::Range<usize>) -> Misread {
    let what = format!("`{octave}` is no octave");
    let digits: String = octave.chars().filter(char::is_ascii_digit).take(1).collect();
    let meant = Note::parse(&format!("{spelling}{digits}"))
        .ok()
        .map(|note| note.to_string());
    Misread::new(what, span).offer(meant)
}

/// Hz of a MIDI number, fractions of a semitone too: equal temperament on A4 = 440 Hz (ISO 16:1975).
pub(crate) fn frequency(midi: f64) -> f64 {
    440.0 * libm::exp2((midi - 69.0) / 12.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_have_their_midi_numbers() {
        // C4 is MIDI 60, A4 69 [practice].
        for (word, midi) in [
            ("C4", 60),
            ("A4", 69),
            ("C#4", 61),
            ("Db3", 49),
            ("F##2", 43),
            ("Ebb5", 74),
            ("B#3", 60),
            ("Cb4", 59),
            ("C-1", 0),
            ("G9", 127),
            ("E♭4", 63),
            ("F𝄪2", 43),
        ] {
            assert_eq!(Note::parse(word).map(Note::midi), Ok(midi), "{word}");
        }
    }

    #[test]
    fn frequencies_are_those_of_iso_16() {
        // ISO 16:1975 and equal temperament; recomputed by `tests/reference/constants.py`.
        for (midi, hertz) in [
            (60.0, 261.6256),
            (33.0, 55.0),
            (28.0, 41.2034),
            (69.0, 440.0),
            (108.0, 4186.009),
        ] {
            assert!((frequency(midi) - hertz).abs() < 1e-4, "{midi}");
        }
    }

    #[test]
    fn what_is_no_note_is_pointed_at_with_the_nearest_reading() {
        for (word, span, meant) in [
            ("c4", 0..1, Some("C4")),
            ("H3", 0..1, Some("B3")),
            ("Eb", 0..2, Some("Eb4")),
            ("G12", 1..3, Some("G9")),
            ("C-2", 1..3, Some("C-1")),
            ("C4x", 1..3, Some("C4")),
            ("D+4", 1..3, Some("D4")),
            ("", 0..0, None),
            ("z", 0..1, None),
            ("Ω4", 0..2, None),
        ] {
            let wrong = Note::parse(word).expect_err(word);
            assert_eq!(wrong.span, span, "{word}");
            assert_eq!(wrong.nearest.as_deref(), meant, "{word}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(word in "\\PC{0,8}") {
            if let Err(wrong) = Note::parse(&word) {
                prop_assert!(word.get(wrong.span.clone()).is_some(), "{:?}", wrong);
                if let Some(meant) = wrong.nearest {
                    prop_assert!(Note::parse(&meant).is_ok(), "{}", meant);
                }
            }
        }

        #[test]
        fn a_note_written_out_reads_back(letter in 0usize..7, alter in -2i8..=2, octave in 0i32..9) {
            let note = Note { spelling: Spelling::new(Letter::ALL[letter], alter), octave };
            prop_assert_eq!(Note::parse(&note.to_string()), Ok(note));
            prop_assert_eq!(note.spelling.at(note.midi()), Some(note));
            prop_assert_eq!(note.spelling.at_or_above(note.midi()), note);
        }
    }
}
