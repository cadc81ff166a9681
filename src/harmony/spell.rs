//! Names for pitches that nobody has named.

use super::chord::Chord;
use super::key::Key;
use super::note::{Letter, Note, Spelling};

/// A MIDI key as a note: by the chord's tone of that pitch, else the key's note, else with the accidentals that the key has
/// (sharps where it has none, or there is no key).
pub(crate) fn spell(midi: i32, chord: Option<&Chord>, key: Option<&Key>) -> Note {
    let of_chord = chord.into_iter().flat_map(|chord| {
        let tones = chord.tones.iter().map(|tone| tone.spelling);
        tones.chain(chord.bass)
    });
    let own = key.map(Key::notes).into_iter().flatten();
    let flat = own.clone().any(|note| note.alter < 0);
    let mut names = of_chord.chain(own);
    names
        .find_map(|name| name.at(midi))
        .unwrap_or_else(|| plain(midi, if flat { -1 } else { 1 }))
}

/// The plain name of a MIDI key, or its neighbour's with one accidental.
fn plain(midi: i32, alter: i8) -> Note {
    let named = [0, alter].into_iter().flat_map(|alter| {
        let letters = Letter::ALL.into_iter();
        letters.filter_map(move |letter| Spelling::new(letter, alter).at(midi))
    });
    // The seven letters and their neighbours on one side are all twelve pitches.
    let middle = Note {
        spelling: Spelling::new(Letter::C, 0),
        octave: 4,
    };
    named.into_iter().next().unwrap_or(middle)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(midi: i32, chord: &str, key: &str) -> String {
        let chord = Chord::parse(chord).ok();
        let key = Key::parse(key).ok();
        spell(midi, chord.as_ref(), key.as_ref()).to_string()
    }

    #[test]
    fn the_chord_names_first_then_the_key() {
        assert_eq!(name(58, "Gm7", "G minor"), "Bb3");
        assert_eq!(name(61, "A7", "D minor"), "C#4");
        assert_eq!(name(61, "", "Db major"), "Db4");
        assert_eq!(name(61, "", "D major"), "C#4");
        // In neither: as the key leans.
        assert_eq!(name(61, "F", "F major"), "Db4");
        assert_eq!(name(61, "", ""), "C#4");
        assert_eq!(name(59, "", "Gb major"), "Cb4");
        assert_eq!(
            (0..128).map(|midi| spell(midi, None, None).midi()).collect::<Vec<_>>(),
            (0..128).collect::<Vec<_>>()
        );
    }
}
