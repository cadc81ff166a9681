//! Names a chord from its notes.

use super::chord::Chord;
use super::misread::Misread;
use super::note::{Note, Spelling};
use super::quality::COMMON;

/// A name that fits some notes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// The chord; `chord.symbol` is the name.
    pub chord: Chord,
    /// True where the notes leave out a tone of the chord, which players may.
    pub incomplete: bool,
    /// How far-fetched the name is; 0 for the commonest of chords, complete, in root position and spelled as it should be.
    pub doubt: u32,
}

/// What makes a name less likely, in places of the list of common chords (which itself counts a quarter place each).
const INVERTED: u32 = 15;
const TRIAD_ON_FOREIGN_BASS: u32 = 16;
const FOREIGN_BASS: u32 = 90;
const INCOMPLETE: u32 = 10;
const MISSPELLED: u32 = 24;

/// At most so many names are given.
const NAMES: usize = 5;

/// Reads notes between spaces, with or without octaves (`C Eb G Bb`, `E3 G3 C4`), and names their chord: the likeliest
/// name first. The first note is taken as the lowest unless all have octaves. No names where nothing known fits.
pub fn name_chord(text: &str) -> Result<Vec<Named>, Misread> {
    let mut spelled = Vec::new();
    let mut sounding = Vec::new();
    for word in text.split_whitespace() {
        let from = word.as_ptr() as usize - text.as_ptr() as usize;
        let bare = !word.ends_with(|last: char| last.is_ascii_digit());
        if bare {
            spelled.push(Spelling::parse(word).map_err(|wrong| {
                let meant = wrong.nearest.clone().filter(|meant| Spelling::parse(meant).is_ok());
                wrong.moved(from).offer(meant)
            })?);
        } else {
            let note = Note::parse(word).map_err(|wrong| wrong.moved(from))?;
            spelled.push(note.spelling);
            sounding.push(note);
        }
    }
    if spelled.is_empty() {
        return Err(Misread::new("there are no notes to name", 0..text.len()));
    }
    if sounding.len() == spelled.len() {
        sounding.sort_by_key(|note| note.midi());
        spelled = sounding.iter().map(|note| note.spelling).collect();
    }
    Ok(name_notes(&spelled))
}

/// Names the chord of some notes, the lowest first; the likeliest name first, at most five. Notes of one pitch count once.
pub(crate) fn name_notes(notes: &[Spelling]) -> Vec<Named> {
    let mut distinct: Vec<Spelling> = Vec::new();
    for note in notes {
        if distinct.iter().all(|known| known.pitch_class() != note.pitch_class()) {
            distinct.push(*note);
        }
    }
    let Some((bass, upper)) = distinct.split_first() else {
        return Vec::new();
    };
    let mut found: Vec<Named> = Vec::new();
    if distinct.len() < 2 {
        return found;
    }
    for root in &distinct {
        let slash = (root != bass).then_some(*bass);
        found.extend(names_on(
            *root,
            &distinct,
            slash,
            if slash.is_some() { INVERTED } else { 0 },
        ));
    }
    if upper.len() >= 3 {
        for root in upper {
            found.extend(on_foreign_bass(*root, upper, *bass));
        }
    }
    found.sort_by(|a, b| a.doubt.cmp(&b.doubt).then_with(|| a.chord.symbol.cmp(&b.chord.symbol)));
    let mut names: Vec<Named> = Vec::new();
    for named in found {
        let same = |known: &Named| known.chord.tones == named.chord.tones && known.chord.bass == named.chord.bass;
        if names.len() < NAMES && !names.iter().any(same) {
            names.push(named);
        }
    }
    names
}

/// The complete chords of the upper notes over a bass that is none of theirs. Plain triads over a bass are common (`F/G`).
fn on_foreign_bass(root: Spelling, upper: &[Spelling], bass: Spelling) -> impl Iterator<Item = Named> {
    let complete = names_on(root, upper, Some(bass), 0).filter(|named| !named.incomplete);
    complete.map(|mut named| {
        let fifth = named.chord.tone(5).map(|tone| tone.degree.alter);
        let triad = named.chord.tones.len() == 3 && named.chord.tone(3).is_some() && fifth == Some(0);
        named.doubt += if triad { TRIAD_ON_FOREIGN_BASS } else { FOREIGN_BASS };
        named
    })
}

/// The common chords on a root that the notes make up: all of them, or all but tones that may be left out.
fn names_on(root: Spelling, notes: &[Spelling], bass: Option<Spelling>, doubt: u32) -> impl Iterator<Item = Named> {
    let pitches: Vec<i32> = notes.iter().map(|note| note.pitch_class()).collect();
    let notes = notes.to_vec();
    COMMON.iter().enumerate().filter_map(move |(place, suffix)| {
        let chord = Chord::of(root, suffix, bass)?;
        let sounds = |pitch: i32| pitches.contains(&pitch);
        let belongs = |pitch: &i32| chord.tones.iter().any(|tone| tone.spelling.pitch_class() == *pitch);
        let missing = chord.tones.iter().filter(|tone| !sounds(tone.spelling.pitch_class()));
        let missing: Vec<bool> = missing.map(|tone| tone.essential).collect();
        if missing.contains(&true) || !pitches.iter().all(belongs) {
            return None;
        }
        let misspelled = notes
            .iter()
            .filter(|note| chord.tones.iter().all(|tone| tone.spelling != **note))
            .count() as u32;
        Some(Named {
            incomplete: !missing.is_empty(),
            doubt: doubt + place as u32 / 4 + INCOMPLETE * missing.len() as u32 + MISSPELLED * misspelled,
            chord,
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn best(text: &str) -> String {
        let names = name_chord(text).expect(text);
        names
            .first()
            .map_or("none".to_string(), |named| named.chord.symbol.clone())
    }

    #[test]
    fn notes_have_the_names_that_musicians_give_them() {
        for (notes, name) in [
            ("C Eb G Bb", "Cm7"),
            ("C E G", "C"),
            ("E G C", "C/E"),
            ("C E G A", "C6"),
            ("A C E G", "Am7"),
            ("G Bb D F A", "Gm9"),
            ("F A Eb G D", "F13"),
            ("B D F A", "Bm7b5"),
            ("B D F Ab", "Bdim7"),
            ("C E G#", "Caug"),
            ("C F G", "Csus4"),
            ("C E Bb", "C7"),
            ("C E G D", "Cadd9"),
            ("C E A", "Am/C"),
            ("C Eb Bb", "Cm7"),
            ("Bb C E G", "C7/Bb"),
            ("G F A C", "F/G"),
            ("B D F G", "G7/B"),
            ("F G B D", "G7/F"),
            ("D F A C G", "Dm7add11"),
            ("D F A C E G", "Dm11"),
            ("C4 E3 G3", "C/E"),
            ("E4 C3 G3 C5", "C"),
            ("C G", "C5"),
            ("C Eb", "Cmno5"),
            ("C C# D D#", "none"),
            ("C", "none"),
        ] {
            assert_eq!(best(notes), name, "{notes}");
        }
    }

    #[test]
    fn other_names_follow() {
        let names = name_chord("C E G A").expect("notes");
        assert!(names.iter().any(|named| named.chord.symbol == "Am7/C"));
        assert_eq!(name_chord("C H").expect_err("no H").span, 2..3);
        assert_eq!(name_chord("").expect_err("nothing").span, 0..0);
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "([A-Ha-h][#b]{0,2}[0-9]? ?){0,6}|\\PC{0,12}") {
            match name_chord(&text) {
                Err(wrong) => prop_assert!(text.get(wrong.span).is_some()),
                Ok(names) => prop_assert!(names.len() <= NAMES),
            }
        }

        #[test]
        fn a_common_chord_is_among_the_names_of_its_notes(at in 0usize..24, letter in 0i32..7, alter in -1i8..=1) {
            let root = Spelling::new(crate::harmony::note::Letter::C.step(letter), alter);
            let chord = Chord::of(root, COMMON[at], None).expect("a known suffix");
            let notes: Vec<Spelling> = chord.tones.iter().map(|tone| tone.spelling).collect();
            let names = name_notes(&notes);
            prop_assert!(names.iter().any(|named| named.chord.tones == chord.tones), "{}", chord);
        }
    }
}
