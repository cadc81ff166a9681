//! What the laws of voicings forbid.

use super::super::super::voicing_laws::too_low;
use super::*;

/// Keys of the low interval limits, by semitones: T. Pease and K. Pullig, "Modern Jazz Voicings" [memory].
const LIMITS: [(i32, &str); 15] = [
    (1, "E3"),
    (2, "Eb3"),
    (3, "C3"),
    (4, "Bb2"),
    (5, "Bb2"),
    (6, "B2"),
    (7, "Bb1"),
    (8, "G2"),
    (9, "F2"),
    (10, "F2"),
    (11, "F2"),
    (13, "E2"),
    (14, "Eb2"),
    (15, "C2"),
    (16, "Bb1"),
];

/// What the books forbid, told anew from the degrees that sound [memory]: Levine, "The Jazz Piano Book"; Pease and Pullig.
fn forbidden(chord: &Chord, kind: Voicing, voices: &[Note]) -> Option<&'static str> {
    let degree = |note: &Note| {
        let tone = chord.tones.iter().find(|tone| tone.spelling == note.spelling);
        tone.map_or(String::new(), |tone| tone.degree.to_string())
    };
    let degrees: Vec<String> = voices.iter().map(degree).collect();
    let at = |name: &str| degrees.iter().position(|degree| degree == name);
    let keys: Vec<i32> = voices.iter().map(|note| note.midi()).collect();
    for (low, below) in keys.iter().enumerate() {
        for (high, above) in keys.iter().enumerate().skip(low + 1) {
            let apart = above - below;
            if LIMITS
                .iter()
                .any(|(semitones, limit)| apart == *semitones && *below < note(limit).midi())
            {
                return Some("an interval is too low");
            }
            let dark = degrees[high] == "b9" && degrees[low] == "1";
            if [13, 25, 37].contains(&apart) && !dark {
                return Some("a minor ninth");
            }
        }
    }
    // The eleventh of `C11` stands in the place of its third.
    let tension = |name: &String| match name.trim_start_matches(['b', '#']) {
        "11" => name != "11" || !chord.has(3, 0),
        number => matches!(number, "9" | "13"),
    };
    let guide = |name: &String| ["3", "b3", "6", "7", "b7", "bb7"].contains(&name.as_str());
    let highest_guide = degrees.iter().rposition(guide);
    let lowest_tension = degrees.iter().position(tension);
    let below = |one: Option<usize>, other: Option<usize>| one.zip(other).is_some_and(|(one, other)| one < other);
    let cluster = keys
        .windows(3)
        .any(|three| three[2] - three[1] <= 2 && three[1] - three[0] <= 2);
    let rub = keys.len() > 2 && keys[keys.len() - 1] - keys[keys.len() - 2] == 1;
    [
        (cluster, "a cluster"),
        (rub, "a semitone below the highest voice"),
        (below(at("#9"), at("3")), "a sharp ninth below the third"),
        (below(at("#11"), at("3")), "a sharp eleventh below the third"),
        (
            at("11").is_some() && at("3").is_some() && !chord.symbol.contains("add"),
            "a natural eleventh beside a major third",
        ),
        (
            kind == Voicing::Spread && keys.len() > 3 && chord.has_tensions() && below(lowest_tension, highest_guide),
            "a tension below a guide tone",
        ),
        (
            !matches!(kind, Voicing::Shell) && chord.replaces_root() && at("1").is_some(),
            "the root, which is the bass's",
        ),
    ]
    .into_iter()
    .find_map(|(is, what)| is.then_some(what))
}

#[test]
fn every_chord_keeps_the_laws_in_every_voicing() {
    for (chord, kind, register) in everything() {
        for voices in voicings(&chord, kind, register) {
            let law = forbidden(&chord, kind, &voices);
            assert_eq!(law, None, "{chord}, {kind:?} near {register}: {}", shown(&voices));
        }
    }
}

#[test]
fn the_laws_forbid_what_they_say() {
    let broken = |word: &str, voices: &str| {
        let voices: Vec<Note> = voices.split(' ').map(note).collect();
        breaches(&chord(word), &voices)
    };
    for (word, voices, count) in [
        ("Bb13", "G3 Ab3 Bb3 C4 D4", 3),
        ("C7#9", "Bb3 D#4 E4 G4", 1),
        ("C7#9", "Bb3 D#4 E4", 2),
        ("Cmaj7", "B3 E4 G4 C5", 1),
        ("C7b9", "C3 E3 Bb3 Db4", 0),
        ("G7b9", "F3 B3 D4 Ab4", 0),
        ("C7#11", "F#3 Bb3 C4 E4", 1),
        ("Cmaj7", "C4 E4 G4 B4", 0),
        ("Cmaj7", "E4 G4 B4 C5", 1),
        ("C", "C3 E3 G3", 0),
        ("C", "A2 C#3 E3", 1),
        ("C", "C2 G2 E3", 0),
    ] {
        assert_eq!(broken(word, voices), count, "{word}: {voices}");
    }
    for (semitones, limit) in LIMITS {
        let key = note(limit).midi();
        assert!(too_low(key - 1, semitones) && !too_low(key, semitones), "{limit}");
    }
    assert!(!too_low(0, 12) && !too_low(0, 17) && !too_low(0, 0));
}
