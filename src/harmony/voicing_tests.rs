//! The promises of voicings and of voice leading.

use proptest::prelude::*;

use super::*;
use crate::harmony::leading::{VoicingRequest, lead_each, movement, travel};
use crate::harmony::quality::COMMON;

#[path = "voicing_law_tests.rs"]
mod laws;

fn lead(chords: &[Chord], kind: Voicing, register: Note) -> Vec<Vec<Note>> {
    lead_each(&alike(chords, kind, register), false)
}

fn lead_round(chords: &[Chord], kind: Voicing, register: Note) -> Vec<Vec<Note>> {
    lead_each(&alike(chords, kind, register), true)
}

fn alike(chords: &[Chord], kind: Voicing, register: Note) -> Vec<VoicingRequest<'_>> {
    let asked = chords.iter().map(|chord| VoicingRequest { chord, kind, register });
    asked.collect()
}

fn chord(word: &str) -> Chord {
    Chord::parse(word).expect(word)
}

fn note(word: &str) -> Note {
    Note::parse(word).expect(word)
}

fn shown(voices: &[Note]) -> String {
    let names: Vec<String> = voices.iter().map(Note::to_string).collect();
    names.join(" ")
}

fn all(word: &str, kind: Voicing) -> Vec<String> {
    voicings(&chord(word), kind, note("C4"))
        .iter()
        .map(|voices| shown(voices))
        .collect()
}

#[test]
fn close_voicings_are_the_inversions() {
    assert_eq!(
        all("C", Voicing::Close),
        ["C4 E4 G4", "E3 G3 C4", "E4 G4 C5", "G3 C4 E4"]
    );
    assert_eq!(all("C/E", Voicing::Close), ["E3 G3 C4", "E4 G4 C5"]);
    assert_eq!(all("F/G", Voicing::Close), ["G3 A3 C4 F4"]);
}

#[test]
fn drop_2_takes_the_second_voice_from_the_top_down() {
    // G B D F close, second inversion D F G B: G goes down (checks.md, Harmony) [practice].
    assert!(all("G7", Voicing::Drop2).contains(&"G3 D4 F4 B4".to_string()));
    assert!(all("Cmaj7", Voicing::Drop2).contains(&"G3 C4 E4 B4".to_string()));
}

#[test]
fn open_rootless_and_shell_do_what_they_say() {
    assert!(all("C", Voicing::Open).contains(&"C3 G3 E4".to_string()));
    assert!(all("Dm9", Voicing::Rootless).contains(&"F3 A3 C4 E4".to_string()));
    assert_eq!(
        all("Cm7", Voicing::Shell),
        ["C3 Eb3 Bb3", "C4 Eb4 Bb4", "C3 Bb3 Eb4", "C4 Bb4 Eb5"]
    );
    assert!(all("C13", Voicing::Rootless).contains(&"Bb3 D4 E4 A4".to_string()));
}

#[test]
fn movement_counts_semitones_voice_by_voice() {
    let voices = |words: &str| words.split(' ').map(note).collect::<Vec<Note>>();
    assert_eq!(movement(&voices("C4 E4 G4"), &voices("C4 F4 A4")), 3);
    assert_eq!(movement(&voices("C4 E4 G4"), &voices("C4 E4 G4 B4")), 4);
    assert_eq!(movement(&voices("C4 E4 G4 B4"), &voices("C4 E4 G4")), 4);
    assert_eq!(movement(&voices("C4"), &voices("B3 D4 E4")), 7);
}

#[test]
fn two_five_one_moves_by_steps() {
    let chart = ["Dm7", "G7", "Cmaj7"].map(chord);
    let led: Vec<String> = lead(&chart, Voicing::Close, note("C4"))
        .iter()
        .map(|voices| shown(voices))
        .collect();
    // The common tones stay, the others fall by a step: 7 to 3, then 3 to 7 [practice].
    let total: i32 = lead(&chart, Voicing::Close, note("C4"))
        .windows(2)
        .map(|pair| movement(&pair[0], &pair[1]))
        .sum();
    assert_eq!(total, 6, "{led:?}");
}

#[test]
fn a_chart_may_change_its_kind_of_voicing_on_the_way() {
    let (minor, dominant) = (chord("Cm7"), chord("F13"));
    let asked = |chord, kind, register| VoicingRequest {
        chord,
        kind,
        register: note(register),
    };
    let chart = [
        asked(&minor, Voicing::Close, "C4"),
        asked(&dominant, Voicing::Shell, "C3"),
    ];
    for round in [false, true] {
        let led = lead_each(&chart, round);
        assert!(voicings(&minor, Voicing::Close, note("C4")).contains(&led[0]));
        assert!(voicings(&dominant, Voicing::Shell, note("C3")).contains(&led[1]));
    }
    assert!(lead_each(&[], true).is_empty() && lead_each(&[], false).is_empty());
}

/// The least travel by trying everything, cutting off only what is already dearer than the best.
fn brute(choices: &[Vec<Vec<Note>>], at: usize, last: Option<&[Note]>, so_far: i32, rest: &[i32], best: &mut i32) {
    if so_far + rest[at] >= *best {
        return;
    }
    if at == choices.len() {
        *best = so_far;
        return;
    }
    for voices in &choices[at] {
        let by = last.map_or(0, |last| travel(last, voices));
        brute(choices, at + 1, Some(voices), so_far + by, rest, best);
    }
}

/// For each chord the least travel that all after it can take, one by one.
fn least_rest(choices: &[Vec<Vec<Note>>]) -> Vec<i32> {
    let mut rest = vec![0; choices.len() + 1];
    for at in (0..choices.len()).rev() {
        let into = |to: &Vec<Vec<Note>>| {
            let from = at.checked_sub(1).map(|before| &choices[before]);
            let pairs = from
                .into_iter()
                .flatten()
                .flat_map(|a| to.iter().map(move |b| travel(a, b)));
            pairs.min().unwrap_or(0)
        };
        rest[at] = rest[at + 1] + into(&choices[at]);
    }
    rest
}

#[test]
fn a_chart_of_32_bars_is_led_as_well_as_by_brute_force() {
    let form = [
        "Gm9", "C13", "Fmaj7", "Fmaj7", "Fm7", "Bb7b9", "Ebmaj7", "Ab13", "Dm7b5", "G7b9", "Cm9", "Cm9", "A7#5", "D9",
        "Gm9", "F#7",
    ];
    let chart: Vec<Chord> = form.iter().chain(form.iter()).map(|word| chord(word)).collect();
    assert_eq!(chart.len(), 32);
    for (_, kind) in Voicing::NAMED {
        let led = lead(&chart, kind, note("C4"));
        let total: i32 = led.windows(2).map(|pair| travel(&pair[0], &pair[1])).sum();
        let choices: Vec<_> = chart.iter().map(|chord| voicings(chord, kind, note("C4"))).collect();
        // Brute force over pieces of the chart never adds up to more than over the whole.
        let pieces = choices.chunks(16).map(|piece| {
            let mut best = i32::MAX;
            brute(piece, 0, None, 0, &least_rest(piece), &mut best);
            best
        });
        let joints = choices
            .chunks(16)
            .zip(choices.chunks(16).skip(1))
            .map(|(before, after)| {
                let pairs = before[15]
                    .iter()
                    .flat_map(|a| after[0].iter().map(move |b| travel(a, b)));
                pairs.min().expect("voicings on both sides")
            });
        let least: i32 = pieces.sum::<i32>() + joints.sum::<i32>();
        assert!(total >= least, "{kind:?}");
        assert!(
            f64::from(total) <= 1.1 * f64::from(least),
            "{kind:?}: {total} semitones against {least}"
        );
    }
}

/// Every voice within reach of the register note, or the chord as low as the laws let it stand.
fn in_reach(chord: &Chord, voices: &[Note], register: Note) -> bool {
    let lower: Vec<Note> = voices.iter().map(|note| moved(*note, -1)).collect();
    let near = |note: &Note| (note.midi() - register.midi()).abs() <= REACH;
    voices.iter().all(near) || breaches(chord, &lower) > breaches(chord, voices)
}

/// Every common quality on every root in every kind of voicing, near registers from C1 to C7.
fn everything() -> impl Iterator<Item = (Chord, Voicing, Note)> {
    let roots = (0..7).flat_map(|letter| {
        (-1..=1).map(move |alter| Spelling::new(crate::harmony::note::Letter::C.step(letter), alter))
    });
    let chords = roots.flat_map(|root| {
        let chord = move |suffix: &&str| Chord::of(root, suffix, None).expect("a known suffix");
        COMMON.iter().map(chord)
    });
    chords.flat_map(|chord| {
        let registers = (24..=96)
            .step_by(9)
            .map(|key| Spelling::new(crate::harmony::note::Letter::C, 0).at_or_above(key));
        let kinds = registers.flat_map(|register| Voicing::NAMED.map(|(_, kind)| (kind, register)));
        kinds
            .map(|(kind, register)| (chord.clone(), kind, register))
            .collect::<Vec<_>>()
    })
}

#[test]
fn chords_with_tensions_are_voiced_as_books_write_them() {
    // Two, five and one in C for the left hand, both ways: Levine, "The Jazz Piano Book", left-hand voicings [memory].
    for (word, kind, voices) in [
        ("Dm9", Voicing::Close, "F3 A3 C4 E4"),
        ("G13", Voicing::Close, "F3 A3 B3 E4"),
        ("Cmaj9", Voicing::Close, "E3 G3 B3 D4"),
        ("Dm9", Voicing::Rootless, "C4 E4 F4 A4"),
        ("G13", Voicing::Rootless, "B3 E4 F4 A4"),
        ("Cmaj9", Voicing::Rootless, "B3 D4 E4 G4"),
        // Third and seventh below thirteenth and ninth, in both hands (Levine, three-note voicings with a tension [memory]).
        ("C13", Voicing::Spread, "Bb3 E4 A4 D5"),
        ("G13", Voicing::Spread, "F3 B3 E4 A4"),
        ("C7#9", Voicing::Spread, "E3 Bb3 D#4 G4"),
        ("Dm9", Voicing::Spread, "F3 C4 E4 A4"),
        // A dominant eleventh is the minor seventh on its fifth over its root [practice].
        ("C11", Voicing::Close, "G3 Bb3 D4 F4"),
        // A thirteenth with a sharp eleventh in fourths [practice].
        ("C13#11", Voicing::Open, "Bb3 E4 A4 D5 F#5"),
        // The drops of a close major seventh: Pease and Pullig, "Modern Jazz Voicings" [memory].
        ("Cmaj7", Voicing::Drop2, "C4 G4 B4 E5"),
        ("Cmaj7", Voicing::Drop3, "C3 B3 E4 G4"),
        ("Cmaj7", Voicing::Drop2And4, "C3 G3 E4 B4"),
    ] {
        assert!(
            all(word, kind).contains(&voices.to_string()),
            "{word}, {kind:?}: {:?}",
            all(word, kind)
        );
    }
    assert!(
        all("C7#9", Voicing::Rootless)
            .iter()
            .all(|voices| voices.starts_with('E'))
    );
}

#[test]
fn the_highest_voice_leaps_only_where_all_would_have_to() {
    // Two, five, one round the circle of fifths: the melody of a comping hand moves by steps and thirds [practice].
    let chart: Vec<Chord> = [
        "Dm9", "G13", "Cmaj9", "Am9", "D7alt", "Gm9", "C13", "Fmaj9", "Fm9", "Bb13", "Ebmaj9",
    ]
    .map(chord)
    .into();
    for (name, kind) in Voicing::NAMED {
        let led = lead(&chart, kind, note("C4"));
        let top = |voices: &Vec<Note>| voices[voices.len() - 1].midi();
        let leaps = led.windows(2).map(|pair| (top(&pair[1]) - top(&pair[0])).abs());
        assert!(
            leaps.max() <= Some(5),
            "{name}: {:?}",
            led.iter().map(|voices| shown(voices)).collect::<Vec<_>>()
        );
    }
    let voices = |words: &str| words.split(' ').map(note).collect::<Vec<Note>>();
    assert_eq!(travel(&voices("C4 E4"), &voices("D4 A4")), 2 + 5 + 1);
    assert_eq!(travel(&voices("C4 E4"), &voices("D4 G#4")), 2 + 4);
}

proptest! {
    #[test]
    fn voicings_keep_their_promises(at in 0usize..COMMON.len(), letter in 0i32..7, alter in -1i8..=1, kind in 0usize..8, register in 40i32..84) {
        let root = Spelling::new(crate::harmony::note::Letter::C.step(letter), alter);
        let chord = Chord::of(root, COMMON[at], None).expect("a known suffix");
        let (_, kind) = Voicing::NAMED[kind];
        let register = Spelling::new(crate::harmony::note::Letter::C, 0).at_or_above(register);
        let found = voicings(&chord, kind, register);
        prop_assert!(!found.is_empty());
        for voices in found {
            let low_to_high = voices.windows(2).all(|pair| pair[0].midi() < pair[1].midi());
            prop_assert!(low_to_high, "{}", shown(&voices));
            prop_assert!(in_reach(&chord, &voices, register), "{}", shown(&voices));
            let pitches: Vec<i32> = voices.iter().map(|note| note.midi().rem_euclid(12)).collect();
            let sounds = |tone: &Tone| pitches.contains(&tone.spelling.pitch_class());
            let left_out = |tone: &&Tone| tone.degree.number == 3 && !tone.essential;
            let asked = |tone: &&Tone| match kind {
                Voicing::Rootless => tone.essential && tone.degree.number != 1,
                Voicing::Shell => matches!(tone.degree.number, 1 | 3 | 7) && !left_out(tone),
                _ => tone.essential && (tone.degree.number != 1 || !chord.replaces_root()),
            };
            prop_assert!(chord.tones.iter().filter(asked).all(sounds), "{} as {}", chord, shown(&voices));
            let (low, high) = (voices[0].midi(), voices[voices.len() - 1].midi());
            match kind {
                Voicing::Close => prop_assert!(high - low < 12),
                Voicing::Rootless => prop_assert!(high - low < 12 && !pitches.contains(&root.pitch_class())),
                Voicing::Drop2 => prop_assert!(voices.len() < 3 || high - voices[1].midi() < 12),
                Voicing::Shell => prop_assert_eq!(voices[0].spelling, root),
                Voicing::Open => prop_assert!(voices.len() < 3 || high - low > 12),
                Voicing::Drop2And4 | Voicing::Spread => prop_assert!(voices.len() < 4 || high - low > 12),
                Voicing::Drop3 => prop_assert!(voices.len() < 4 || high - voices[1].midi() < 12),
            }
        }
    }

    #[test]
    fn a_slash_names_the_lowest_voice(at in 0usize..COMMON.len(), bass in 0i32..7, alter in -1i8..=1, kind in 0usize..6, register in 40i32..84) {
        let bass = Spelling::new(crate::harmony::note::Letter::C.step(bass), alter);
        let chord = Chord::of(Spelling::new(crate::harmony::note::Letter::E, -1), COMMON[at], Some(bass)).expect("a known suffix");
        let register = Spelling::new(crate::harmony::note::Letter::C, 0).at_or_above(register);
        let found = voicings(&chord, Voicing::NAMED[kind].1, register);
        prop_assert!(!found.is_empty());
        for voices in found {
            prop_assert_eq!(voices[0].spelling, bass);
            prop_assert!(in_reach(&chord, &voices, register), "{}", shown(&voices));
        }
    }

    #[test]
    fn leading_is_exact(words in prop::collection::vec(0usize..COMMON.len(), 1..6), roots in prop::collection::vec(0i32..7, 6), kind in 0usize..8) {
        let chart: Vec<Chord> = words.iter().zip(&roots).map(|(at, root)| {
            let root = Spelling::new(crate::harmony::note::Letter::C.step(*root), 0);
            Chord::of(root, COMMON[*at], None).expect("a known suffix")
        }).collect();
        let (_, kind) = Voicing::NAMED[kind];
        let register = note("C4");
        let led = lead(&chart, kind, register);
        prop_assert_eq!(led.len(), chart.len());
        let total: i32 = led.windows(2).map(|pair| travel(&pair[0], &pair[1])).sum();
        let choices: Vec<_> = chart.iter().map(|chord| voicings(chord, kind, register)).collect();
        let mut best = i32::MAX;
        brute(&choices, 0, None, 0, &vec![0; choices.len() + 1], &mut best);
        prop_assert_eq!(total, best);
        let chart = &chart[..chart.len().min(4)];
        let ways = choices.iter().take(4).fold(vec![Vec::new()], |ways: Vec<Vec<Vec<Note>>>, here| {
            let longer = |way: &Vec<Vec<Note>>| {
                let way = way.clone();
                here.iter().map(move |voices| [&way[..], std::slice::from_ref(voices)].concat())
            };
            ways.iter().flat_map(longer).collect()
        });
        prop_assert_eq!(Some(circle(&lead_round(chart, kind, register))), ways.iter().map(|way| circle(way)).min());
    }
}

/// Semitones travelled in all, the way back to the first included.
fn circle(led: &[Vec<Note>]) -> i32 {
    let along: i32 = led.windows(2).map(|pair| travel(&pair[0], &pair[1])).sum();
    along + travel(&led[led.len() - 1], &led[0])
}
