//! The scale that fits a chord.

use super::chord::Chord;
use super::degree::Degree;
use super::key::Key;
use super::note::Spelling;

/// Seven degrees above a chord's root, one on each step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ChordScale {
    /// The degrees, 1 to 7.
    pub degrees: [Degree; 7],
    /// Their names above the chord's root.
    pub notes: [Spelling; 7],
    /// What the trade calls it, where it has a name: `Dorian`, `Lydian dominant`.
    pub name: Option<&'static str>,
    /// True where a key gave what the chord left open, false where the chord's quality did.
    pub in_key: bool,
}

/// Alterations of the seven steps against the major scale, by the names that textbooks give them (common practice).
const NAMED: [(&str, [i8; 7]); 18] = [
    ("major", [0, 0, 0, 0, 0, 0, 0]),
    ("Dorian", [0, 0, -1, 0, 0, 0, -1]),
    ("Phrygian", [0, -1, -1, 0, 0, -1, -1]),
    ("Lydian", [0, 0, 0, 1, 0, 0, 0]),
    ("Mixolydian", [0, 0, 0, 0, 0, 0, -1]),
    ("natural minor", [0, 0, -1, 0, 0, -1, -1]),
    ("Locrian", [0, -1, -1, 0, -1, -1, -1]),
    ("melodic minor", [0, 0, -1, 0, 0, 0, 0]),
    ("Lydian augmented", [0, 0, 0, 1, 1, 0, 0]),
    ("Lydian dominant", [0, 0, 0, 1, 0, 0, -1]),
    ("Mixolydian b13", [0, 0, 0, 0, 0, -1, -1]),
    ("Locrian natural 9", [0, 0, -1, 0, -1, -1, -1]),
    ("Dorian b9", [0, -1, -1, 0, 0, 0, -1]),
    ("harmonic minor", [0, 0, -1, 0, 0, -1, 0]),
    ("Phrygian dominant", [0, -1, 0, 0, 0, -1, -1]),
    ("Mixolydian b9", [0, -1, 0, 0, 0, 0, -1]),
    ("whole tone with 6", [0, 0, 0, 1, 1, 0, -1]),
    ("diminished without b6", [0, 0, -1, 0, -1, 0, -2]),
];

/// The scale that fits a chord: its own tones, and between them what the key has there, or without a key (or where the
/// key's notes do not fit) what goes with its quality.
///
/// By quality (common practice): major chords take the major scale, dominants Mixolydian, minor chords Dorian (melodic minor
/// under a major seventh), half-diminished Locrian, diminished sevenths the whole-half diminished scale without its b6,
/// augmented chords Lydian augmented, augmented sevenths the whole-tone scale with a sixth between. A b9 brings b13 unless a thirteenth is
/// there. In a key, a chord whose root the key has takes the key's notes between its own: E7 in A minor gets F natural.
pub(crate) fn chord_scale(chord: &Chord, key: Option<&Key>) -> ChordScale {
    let in_key = key.and_then(|key| fill_from_key(chord, key));
    let degrees = in_key.unwrap_or_else(|| fill(chord, by_quality(chord)));
    let shape = degrees.map(|degree| degree.alter);
    ChordScale {
        degrees,
        notes: degrees.map(|degree| degree.above(chord.root)),
        name: NAMED.iter().find(|(_, known)| *known == shape).map(|(name, _)| *name),
        in_key: in_key.is_some(),
    }
}

fn fill_from_key(chord: &Chord, key: &Key) -> Option<[Degree; 7]> {
    let notes = key.notes();
    if !notes.contains(&chord.root) {
        return None;
    }
    let mut alters = [0; 7];
    for note in notes {
        let degree = Degree::between(chord.root, note);
        alters[degree.step()] = degree.alter;
    }
    let degrees = fill(chord, alters);
    let rises = degrees.windows(2).all(|pair| pair[0].semitones() < pair[1].semitones());
    (rises && degrees[6].semitones() < 12).then_some(degrees)
}

/// The chord's own tones over what a scale has on their steps.
fn fill(chord: &Chord, scale: [i8; 7]) -> [Degree; 7] {
    let mut degrees = [Degree::new(1, 0); 7];
    for (step, alter) in scale.into_iter().enumerate() {
        let number = step as u8 + 1;
        let own = chord.tone(number).map(|tone| tone.degree.alter);
        degrees[step] = Degree::new(number, own.unwrap_or(alter));
    }
    degrees
}

fn by_quality(chord: &Chord) -> [i8; 7] {
    let has = |number, alter| chord.tones.iter().any(|tone| tone.degree == Degree::new(number, alter));
    let minor = has(3, -1);
    if has(7, -2) || (minor && has(5, -1) && has(7, 0)) {
        return [0, 0, -1, 0, -1, 0, -2];
    }
    if minor && has(5, -1) {
        return [0, -1, -1, 0, -1, -1, -1];
    }
    if minor {
        return [0, 0, -1, 0, 0, 0, if has(7, 0) { 0 } else { -1 }];
    }
    if has(5, 1) {
        return [0, 0, 0, 1, 1, 0, if has(7, -1) { -1 } else { 0 }];
    }
    if has(7, -1) {
        let dark = has(9, -1) && !has(13, 0);
        return [0, 0, 0, 0, 0, if dark { -1 } else { 0 }, -1];
    }
    [0; 7]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chords_take_the_scales_that_textbooks_give_them() {
        // Chord scales as common practice teaches them [practice].
        for (chord, key, name) in [
            ("C", None, "major"),
            ("Cmaj7", None, "major"),
            ("Cmaj7#11", None, "Lydian"),
            ("C7", None, "Mixolydian"),
            ("C7sus4", None, "Mixolydian"),
            ("C9#11", None, "Lydian dominant"),
            ("C7b9", None, "Phrygian dominant"),
            ("C13b9", None, "Mixolydian b9"),
            ("Cm7", None, "Dorian"),
            ("CmMaj7", None, "melodic minor"),
            ("Cm7b5", None, "Locrian"),
            ("Cm9b5", None, "Locrian natural 9"),
            ("Cdim7", None, "diminished without b6"),
            ("Caug", None, "Lydian augmented"),
            ("Em7", Some("C major"), "Phrygian"),
            ("Fmaj7", Some("C major"), "Lydian"),
            ("E7", Some("A minor"), "Phrygian dominant"),
            ("Db7", Some("C major"), "Mixolydian"),
            ("Gm9", Some("G minor"), "natural minor"),
        ] {
            let key = key.map(|key| Key::parse(key).expect(key));
            let scale = chord_scale(&Chord::parse(chord).expect(chord), key.as_ref());
            assert_eq!(scale.name, Some(name), "{chord}");
        }
    }
}
