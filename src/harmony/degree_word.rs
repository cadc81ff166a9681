//! The degree words of a part that follows the chart: `1`, `b3`, `5,`.

use std::fmt;

use super::chord::Chord;
use super::degree::Degree;
use super::key::Key;
use super::misread::Misread;
use super::note::{Note, accidentals};
use super::scale::chord_scale;

/// A word such as `1`, `b3`, `5,` or `8'`: a degree of whatever chord the chart has there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DegreeWord {
    /// 1 to 15.
    pub number: u8,
    /// What the word writes before its number, in semitones from the root's major scale; none for a plain number.
    pub accidental: Option<i8>,
    /// Octaves up (`'`) or down (`,`).
    pub octaves: i8,
}

impl DegreeWord {
    /// Reads a degree word. The pushed note's `<` is not part of it.
    pub fn parse(word: &str) -> Result<DegreeWord, Misread> {
        let (alter, from) = accidentals(word);
        let digits = word[from..].bytes().take_while(u8::is_ascii_digit).count();
        let behind = from + digits;
        let number = word[from..behind]
            .parse()
            .ok()
            .filter(|number| (1..=15).contains(number));
        let Some(number) = number else {
            return Err(no_degree(word, from, behind));
        };
        let marks = &word[behind..];
        let mark = marks.chars().next();
        if marks.chars().any(|c| (c != '\'' && c != ',') || Some(c) != mark) || marks.len() > 4 {
            let what =
                format!("`{marks}` is no octave mark: `'` is an octave up, `,` one down, up to four of one kind");
            let meant = word[..behind].to_string();
            return Err(Misread::new(what, behind..word.len()).offer(Some(meant)));
        }
        let sign = if mark == Some(',') { -1 } else { 1 };
        Ok(DegreeWord {
            number,
            accidental: (from > 0).then_some(alter),
            octaves: sign * marks.len() as i8,
        })
    }

    /// The degree that it means on a chord: with an accidental what it says, else the chord's own tone (its exact number,
    /// then octaves aside), else the note of the chord's scale (see [`chord_scale`]).
    pub fn on(&self, chord: &Chord, key: Option<&Key>) -> Degree {
        if let Some(alter) = self.accidental {
            return Degree::new(self.number, alter);
        }
        let alter = match chord.tone(self.number) {
            Some(tone) => tone.degree.alter,
            None => chord_scale(chord, key).degrees[Degree::new(self.number, 0).step()].alter,
        };
        Degree::new(self.number, alter)
    }

    /// The note that it sounds: the chord's 1 is its root at or next above `register`, a slash's bass notwithstanding.
    /// It may lie beyond MIDI's keys.
    pub fn place(&self, chord: &Chord, key: Option<&Key>, register: Note) -> Note {
        let degree = self.on(chord, key);
        let root = chord.root.at_or_above(register.midi());
        let spelling = degree.above(chord.root);
        let letters = root.spelling.letter as i32 + i32::from(degree.number) - 1;
        Note {
            spelling,
            octave: root.octave + letters / 7 + i32::from(self.octaves),
        }
    }
}

impl DegreeWord {
    /// The word that sounds a MIDI note number on a chord: with as few octave marks as can be, then without an accidental, then
    /// with the smaller number. None for one that is farther from `register` than four octaves.
    pub(crate) fn naming(midi: i32, chord: &Chord, key: Option<&Key>, register: Note) -> Option<DegreeWord> {
        let octaves = [0, 1, -1, 2, -2, 3, -3, 4, -4].into_iter();
        let words = octaves.flat_map(|octaves| {
            [None, Some(-1), Some(1), Some(-2)]
                .into_iter()
                .flat_map(move |accidental| {
                    (1..=7).map(move |number| DegreeWord {
                        number,
                        accidental,
                        octaves,
                    })
                })
        });
        let mut words = words;
        words.find(|word| word.place(chord, key, register).midi() == midi)
    }
}

/// As it is read.
impl fmt::Display for DegreeWord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let alter = self.accidental.unwrap_or(0);
        let sign = if alter < 0 { "b" } else { "#" };
        f.write_str(&sign.repeat(alter.unsigned_abs().into()))?;
        write!(f, "{}", self.number)?;
        let mark = if self.octaves < 0 { "," } else { "'" };
        f.write_str(&mark.repeat(self.octaves.unsigned_abs().into()))
    }
}

fn no_degree(word: &str, from: usize, behind: usize) -> Misread {
    if word.is_empty() {
        return Misread::new("a degree is missing", 0..0);
    }
    if behind == from {
        let what = format!("`{word}` is no degree: degrees are numbers from 1 to 15, as in `1`, `b3` or `5,`");
        return Misread::new(what, 0..word.len());
    }
    let what = format!("`{}` is no degree: they go from 1 to 15", &word[from..behind]);
    // Two octaves and more are the same degree with octave marks.
    let number: Option<u32> = word[from..behind].parse().ok();
    let meant = number.filter(|number| (16..=49).contains(number)).map(|number| {
        let octaves = "'".repeat(((number - 1) / 7) as usize);
        format!("{}{}{}", &word[..from], (number - 1) % 7 + 1, octaves)
    });
    let meant = meant.filter(|meant| DegreeWord::parse(meant).is_ok());
    Misread::new(what, from..behind).offer(meant)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harmony::{Letter, Spelling};
    use proptest::prelude::*;

    #[test]
    fn every_pitch_near_its_register_has_a_word_that_is_read_as_it() {
        let register = Note::parse("C3").expect("a note");
        for chord in ["C", "Gm9", "F#7alt", "Bbmaj7#11", "Adim7", "C/E"] {
            let chord = Chord::parse(chord).expect(chord);
            for key in [None, Key::parse("G minor").ok()] {
                for midi in 24..96 {
                    let word = DegreeWord::naming(midi, &chord, key.as_ref(), register).expect("a word");
                    let read = DegreeWord::parse(&word.to_string());
                    assert_eq!(read, Ok(word), "{word}");
                    assert_eq!(word.place(&chord, key.as_ref(), register).midi(), midi, "{word}");
                }
            }
        }
    }

    fn sounded(word: &str, chord: &str, register: &str, key: Option<&str>) -> String {
        let key = key.map(|key| Key::parse(key).expect(key));
        let word = DegreeWord::parse(word).expect(word);
        let chord = Chord::parse(chord).expect(chord);
        word.place(&chord, key.as_ref(), Note::parse(register).expect(register))
            .to_string()
    }

    #[test]
    fn plain_numbers_are_the_chords_own_tones() {
        for (word, chord, note) in [
            ("1", "Gm9", "G1"),
            ("3", "Gm9", "Bb1"),
            ("5", "Gm9", "D2"),
            ("8", "Gm9", "G2"),
            ("9", "Gm9", "A2"),
            ("2", "Gm9", "A1"),
            ("10", "Gm9", "Bb2"),
            ("3", "F13", "A2"),
            ("1", "F13", "F2"),
            ("7", "F13", "Eb3"),
            ("7", "Bbmaj7", "A2"),
            ("9", "F7b9", "Gb3"),
            ("2", "F7b9", "Gb2"),
            ("5", "Dm7b5", "Ab2"),
            ("1,", "F13", "F1"),
            ("5'", "Gm9", "D3"),
            ("b3", "C", "Eb2"),
            ("#4", "C", "F#2"),
            ("b7", "C", "Bb2"),
            ("1", "C/E", "C2"),
        ] {
            assert_eq!(sounded(word, chord, "G1", None), note, "{word} on {chord}");
        }
    }

    #[test]
    fn other_numbers_come_from_the_chords_scale() {
        for (word, chord, key, note) in [
            ("4", "Cm7", None, "F2"),
            ("6", "Cm7", None, "A2"),
            ("6", "Cm7", Some("G minor"), "A2"),
            ("6", "Cm7", Some("Eb major"), "Ab2"),
            ("6", "Cm7", Some("C minor"), "Ab2"),
            ("7", "C", None, "B2"),
            ("7", "C", Some("F major"), "Bb2"),
            ("4", "Cmaj7", Some("G major"), "F#2"),
            ("2", "E7", Some("A minor"), "F2"),
            ("2", "E7", None, "F#2"),
            ("3", "E7", Some("A minor"), "G#2"),
        ] {
            let octave_down = if chord.starts_with('E') { "E1" } else { "C2" };
            let got = sounded(word, chord, octave_down, key);
            let want = if chord.starts_with('E') {
                note.replace('2', "1")
            } else {
                note.to_string()
            };
            assert_eq!(got, want, "{word} on {chord} in {key:?}");
        }
    }

    #[test]
    fn what_is_no_degree_is_pointed_at() {
        for (word, span, meant) in [
            ("", 0..0, None),
            ("x", 0..1, None),
            ("0", 0..1, None),
            ("b17", 1..3, Some("b3''")),
            ("5'',", 1..4, Some("5")),
            ("5♭", 1..4, Some("5")),
            ("<1", 0..2, None),
        ] {
            let wrong = DegreeWord::parse(word).expect_err(word);
            assert_eq!((wrong.span, wrong.nearest.as_deref()), (span, meant), "{word}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(word in "[b#]?[0-9]{0,4}[',]{0,5}|\\PC{0,6}") {
            if let Err(wrong) = DegreeWord::parse(&word) {
                prop_assert!(word.get(wrong.span).is_some());
            }
        }

        #[test]
        fn an_accidental_counts_from_the_roots_major_scale(number in 1u8..=15, alter in -2i8..=2, register in 24i32..60) {
            let chord = Chord::parse("Ebm7b5").expect("a chord");
            let word = DegreeWord { number, accidental: Some(alter), octaves: 0 };
            let register = Spelling::new(Letter::C, 0).at_or_above(register);
            let root = chord.root.at_or_above(register.midi());
            let note = word.place(&chord, None, register);
            prop_assert_eq!(note.midi() - root.midi(), Degree::new(number, alter).semitones());
            prop_assert_eq!(Degree::between(chord.root, note.spelling).semitones(), Degree::new((number - 1) % 7 + 1, alter).semitones());
        }
    }
}
