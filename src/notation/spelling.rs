//! Pitches as they are spelled, key signatures, clefs.

use super::{Clef, Signature, WrittenPitch};
use crate::harmony::degree::Degree;
use crate::harmony::{Chord, Key, Note, spell};
use crate::kit::kind;
use crate::loopfile::{Loop, Stroke};

/// Double sharps and double flats are the most that is written.
const MOST_ALTERED: i8 = 2;

/// What a stroke's pitch is called; none for a hit.
pub(super) fn name(song: &Loop, stroke: &Stroke, key: Option<&Key>) -> Option<Note> {
    Some(plainly(song.named(stroke, key)?, key))
}

/// A note whose name can be written: no more than two accidentals, no octave below 0.
pub(super) fn plainly(note: Note, key: Option<&Key>) -> Note {
    let mut note = note;
    if note.spelling.alter.abs() > MOST_ALTERED || note.octave < 0 {
        note = spell(note.midi(), None, key);
    }
    Note {
        octave: note.octave.max(0),
        ..note
    }
}

/// A note as it is written.
pub(super) fn written(note: Note) -> WrittenPitch {
    WrittenPitch::Note {
        letter: note.spelling.letter as u8,
        alter: note.spelling.alter,
        octave: note.octave as i8,
    }
}

/// What a note is in a chord: `b3`, `9`.
pub(super) fn degree(chord: &Chord, note: Note) -> String {
    let tone = chord.tones.iter().find(|tone| tone.spelling == note.spelling);
    let degree = tone.map_or_else(|| Degree::between(chord.root, note.spelling), |tone| tone.degree);
    degree.to_string()
}

/// A key's signature. One of more than seven accidentals is that of the same key under its other name.
pub(super) fn signature(key: Option<&Key>) -> Signature {
    let Some(key) = key else {
        return Signature { fifths: 0, minor: None };
    };
    let notes = key.notes();
    let minor = (notes[2].pitch_class() - notes[0].pitch_class()).rem_euclid(12) == 3;
    // Raised sixths and sevenths of minor keys are accidentals, not part of the signature.
    let plain = match key.mode.name() {
        "harmonic minor" | "melodic minor" => Key {
            mode: crate::harmony::key::Mode::Minor,
            ..*key
        }
        .notes(),
        _ => notes,
    };
    let fifths: i32 = plain.iter().map(|note| i32::from(note.alter)).sum();
    let fifths = match fifths {
        8.. => fifths - 12,
        ..=-8 => fifths + 12,
        _ => fifths,
    };
    Signature {
        fifths: fifths.clamp(-7, 7) as i8,
        minor: Some(minor),
    }
}

/// The clef in which pitches stand best, by the one in their middle. Guitars and bass guitars sound an octave lower than
/// they are written [practice].
pub(super) fn clef(pitches: &mut [i32], pieces: &[&str]) -> Clef {
    pitches.sort_unstable();
    let middle = pitches.get(pitches.len() / 2).copied().unwrap_or(60);
    let guitar = pieces.iter().any(|piece| kind(piece).0.starts_with("guitar"));
    match middle {
        ..43 => Clef::BassDown,
        43..=50 => Clef::Bass,
        51..=64 if guitar => Clef::TrebleDown,
        51..57 => Clef::Bass,
        _ => Clef::Treble,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_have_the_signatures_of_every_music_book() {
        for (key, fifths, minor) in [
            ("C major", 0, false),
            ("G minor", -2, true),
            ("F# major", 6, false),
            ("D dorian", 0, true),
            ("A harmonic minor", 0, true),
            ("Eb mixolydian", -4, false),
            ("G# major", -4, false),
            ("B locrian", 0, true),
        ] {
            let told = signature(Key::parse(key).ok().as_ref());
            assert_eq!((told.fifths, told.minor), (fifths, Some(minor)), "{key}");
        }
        assert_eq!(signature(None).minor, None);
    }

    #[test]
    fn degrees_are_those_of_the_chord() {
        let degree = |chord: &str, note: &str| {
            let chord = Chord::parse(chord).expect("a chord");
            degree(&chord, Note::parse(note).expect("a note"))
        };
        assert_eq!(degree("Gm7", "Bb3"), "b3");
        assert_eq!(degree("C9", "D5"), "9");
        assert_eq!(degree("C7", "D5"), "2");
        assert_eq!(degree("F7#11", "B4"), "#11");
    }

    #[test]
    fn clefs_follow_the_middle_of_a_parts_notes() {
        assert_eq!(clef(&mut [28, 35, 40], &["bass"]), Clef::BassDown);
        assert_eq!(clef(&mut [60, 64, 67], &["keys"]), Clef::Treble);
        assert_eq!(clef(&mut [60, 64, 67], &["guitar-2"]), Clef::TrebleDown);
        assert_eq!(clef(&mut [45, 48, 52], &["keys"]), Clef::Bass);
    }
}
