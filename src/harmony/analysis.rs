//! What a chord is in a key, and which scale and tensions go with it.

use super::chord::{Chord, Tone};
use super::degree::Degree;
use super::key::Key;
use super::note::Spelling;
use super::scale::chord_scale;

/// The scale that goes with a chord.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct NamedScale {
    /// What the trade calls it.
    pub name: String,
    /// Its notes from the chord's root up.
    pub notes: Vec<Spelling>,
}

/// Scales that have more than one note on a step, by the degrees that they have (M. Levine, "The Jazz Piano Book" \[memory\]).
const OTHERS: [(&str, &[(u8, i8)]); 4] = [
    ("altered", &[(1, 0), (2, -1), (2, 1), (3, 0), (5, -1), (5, 1), (7, -1)]),
    (
        "half-whole diminished",
        &[(1, 0), (2, -1), (2, 1), (3, 0), (4, 1), (5, 0), (6, 0), (7, -1)],
    ),
    (
        "whole-half diminished",
        &[(1, 0), (2, 0), (3, -1), (4, 0), (5, -1), (6, -1), (7, -2), (7, 0)],
    ),
    ("whole tone", &[(1, 0), (2, 0), (3, 0), (4, 1), (5, 1), (7, -1)]),
];

/// The scale of a chord: in a key the key's notes between its own; else what goes with its quality. A dominant with an altered
/// fifth and ninth takes the altered scale, one with an altered ninth and a natural thirteenth, or with a sharp ninth alone, the
/// half-whole diminished, one with an altered fifth alone the whole-tone scale; a diminished seventh takes the whole-half diminished.
pub(crate) fn scale_of(chord: &Chord, key: Option<&Key>) -> NamedScale {
    let has = |number, alter| chord.has(number, alter);
    let altered_fifth = has(5, -1) || has(5, 1) || has(13, -1);
    let altered_ninth = has(9, -1) || has(9, 1);
    let dominant = chord.is_dominant();
    let other = match (dominant, altered_ninth, altered_fifth) {
        (true, true, true) if has(9, 1) || !has(5, 0) => Some(0),
        (true, true, _) if has(13, 0) || has(9, 1) || has(11, 1) => Some(1),
        (true, false, true) if !has(5, 0) && !has(9, 0) => Some(3),
        _ if has(3, -1) && has(7, -2) && !has(9, 0) => Some(2),
        _ => None,
    };
    if let Some(other) = other {
        let (name, degrees) = OTHERS[other];
        let notes = degrees
            .iter()
            .map(|(number, alter)| Degree::new(*number, *alter).above(chord.root));
        return NamedScale {
            name: name.to_string(),
            notes: notes.collect(),
        };
    }
    let scale = chord_scale(chord, key);
    NamedScale {
        name: scale.name.unwrap_or("its own tones in the key").to_string(),
        notes: scale.notes.to_vec(),
    }
}

/// The tensions that sit well on a chord, those that its symbol has included: notes of its scale a whole tone above a tone of the
/// chord, and on a dominant also those a semitone above one, but for the natural eleventh \[practice\].
pub(crate) fn tensions(chord: &Chord, scale: &NamedScale) -> Vec<Tone> {
    let dominant = chord.is_dominant();
    let body: Vec<i32> = chord
        .tones
        .iter()
        .filter(|tone| tone.degree.number <= 7)
        .map(|tone| tone.spelling.pitch_class())
        .collect();
    let mut found: Vec<Tone> = chord
        .tones
        .iter()
        .copied()
        .filter(|tone| tone.degree.number > 7)
        .collect();
    for note in &scale.notes {
        let simple = Degree::between(chord.root, *note);
        let pitch = note.pitch_class();
        let known = found.iter().map(|tone| tone.spelling.pitch_class());
        if ![2, 4, 6].contains(&simple.number) || body.contains(&pitch) || known.into_iter().any(|known| known == pitch)
        {
            continue;
        }
        let degree = Degree::new(simple.number + 7, simple.alter);
        let rubs = body.iter().any(|tone| (pitch - tone).rem_euclid(12) == 1);
        if !rubs || (dominant && degree != Degree::new(11, 0)) {
            found.push(Tone {
                degree,
                spelling: *note,
                essential: false,
            });
        }
    }
    found.sort_by_key(|tone| tone.degree);
    found
}

/// What chord symbols have behind the root, and how Roman numerals have it; capitals and small letters say major and minor.
const BEHIND: [(&str, &str); 16] = [
    ("maj", "maj"),
    ("Maj", "maj"),
    ("MAJ", "maj"),
    ("M", "maj"),
    ("m7b5", "ø7"),
    ("m9b5", "ø9"),
    ("m11b5", "ø11"),
    ("min", ""),
    ("mi", ""),
    ("m", ""),
    ("-", ""),
    ("dim", "°"),
    ("o", "°"),
    ("Ø", "ø"),
    ("aug", "+"),
    ("N.C.", "N.C."),
];

/// A chord's Roman numeral in a key: its root's degree in the key's own scale, with `b` or `#` where the key has another note on that
/// letter: `ii9`, `bVII7`, `viiø7`. A dominant a fifth above the next chord is its dominant (`V7/ii`), one a semitone above it the substitute
/// of that (`subV7/ii`), where it is not the key's own \[practice\].
pub(crate) fn roman(chord: &Chord, next: Option<&Chord>, key: &Key) -> String {
    let behind = figure(chord);
    let numeral = numeral(chord, key);
    let dominant = chord.is_dominant();
    let own = numeral == "V";
    if let Some(next) = next.filter(|_| dominant && !own) {
        let falls = (chord.root.pitch_class() - next.root.pitch_class()).rem_euclid(12);
        let target = self::numeral(next, key);
        match falls {
            7 if target != "I" && target != "i" => return format!("V{behind}/{target}"),
            1 => return format!("subV{behind}/{target}"),
            _ => {}
        }
    }
    format!("{numeral}{behind}")
}

/// What stands behind the numeral.
fn figure(chord: &Chord) -> String {
    let symbol = chord.symbol.as_str();
    let root = symbol
        .char_indices()
        .skip(1)
        .find(|(_, letter)| !"#b♯♭𝄪𝄫".contains(*letter))
        .map_or(symbol.len(), |(at, _)| at);
    let suffix = &symbol[root..];
    let found = BEHIND.iter().find_map(|(written, roman)| {
        let rest = suffix.strip_prefix(written)?;
        Some(format!("{roman}{rest}"))
    });
    found.unwrap_or_else(|| suffix.to_string()).replace("Maj", "maj")
}

/// The degree of a chord's root in a key, small for a minor third.
fn numeral(chord: &Chord, key: &Key) -> String {
    let notes = key.notes();
    let step = (chord.root.letter as i32 - key.tonic.letter as i32).rem_euclid(7) as usize;
    let alter = chord.root.alter - notes[step].alter;
    let mark = if alter < 0 { "b" } else { "#" };
    let numeral = ["I", "II", "III", "IV", "V", "VI", "VII"][step];
    let numeral = if chord.has(3, -1) {
        numeral.to_lowercase()
    } else {
        numeral.to_string()
    };
    format!("{}{numeral}", mark.repeat(alter.unsigned_abs().into()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chord(word: &str) -> Chord {
        Chord::parse(word).expect(word)
    }

    #[test]
    fn a_progression_has_its_degrees() {
        // Roman numerals as harmony classes write them [practice].
        for (key, chords, romans) in [
            ("C major", "Dm9 G13 Cmaj9", "ii9 V13 Imaj9"),
            ("C major", "Em7b5 A7b9 Dm7 Db7 C6", "iiiø7 V7b9/ii ii7 subV7/I I6"),
            ("C major", "Fm7 Bb9 Cmaj7", "iv7 bVII9 Imaj7"),
            ("C major", "C7 F7 C7 G7 F7", "V7/IV IV7 I7 V7 IV7"),
            (
                "G minor",
                "Gm9 Cm7 F13 Bbmaj7 Am7b5 D7alt Gm",
                "i9 iv7 V13/III IIImaj7 iiø7 V7alt i",
            ),
            ("C major", "F#dim7 G/B Caug CmMaj7 N", "#iv°7 V/B I+ imaj7"),
        ] {
            let key = Key::parse(key).expect(key);
            let chords: Vec<Chord> = chords.split(' ').filter(|word| *word != "N").map(chord).collect();
            let found: Vec<String> = chords
                .iter()
                .enumerate()
                .map(|(at, here)| roman(here, chords.get(at + 1), &key))
                .collect();
            assert_eq!(found.join(" "), romans);
        }
    }

    #[test]
    fn chords_have_scales_and_tensions() {
        // M. Levine, "The Jazz Piano Book" [memory]; natural elevenths on major chords are avoided [practice].
        for (word, name, tensed) in [
            ("C7alt", "altered", "b9 #9"),
            ("C7#9", "half-whole diminished", "b9 #9 #11 13"),
            ("C13b9", "half-whole diminished", "b9 #9 #11 13"),
            ("C7", "Mixolydian", "9 13"),
            ("C7#11", "Lydian dominant", "9 #11 13"),
            ("C7#5", "whole tone", "9 #11"),
            ("Cdim7", "whole-half diminished", "9 11 b13"),
            ("Cmaj7", "major", "9 13"),
            ("Cmaj7#11", "Lydian", "9 #11 13"),
            ("Cm7", "Dorian", "9 11 13"),
            ("Cm7b5", "Locrian", "11 b13"),
            ("C7b9", "Phrygian dominant", "b9 b13"),
        ] {
            let chord = chord(word);
            let scale = scale_of(&chord, None);
            let found: Vec<String> = tensions(&chord, &scale)
                .iter()
                .map(|tone| tone.degree.to_string())
                .collect();
            assert_eq!(
                (scale.name.as_str(), found.join(" ").as_str()),
                (name, tensed),
                "{word}"
            );
        }
    }
}
