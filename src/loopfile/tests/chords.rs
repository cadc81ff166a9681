//! The chord chart, degrees on it and comping.

use super::{changed, resolved, set, wrong};
use crate::harmony::Note;
use crate::loopfile::{Exact, Loop, Part, Stroke};

fn with(chart: &str, part: &str) -> String {
    format!("chords = {chart}\n[loop]\ntempo = 92\nbars = 4\nkey = \"G minor\"\n[[part]]\nname = \"keys\"\n{part}")
}

/// Place in sixteenths, and the note, sharps and flats as flats.
fn named(song: &Loop) -> Vec<(i128, String)> {
    song.parts[0].strokes.iter().map(place_and_name).collect()
}

fn place_and_name(stroke: &Stroke) -> (i128, String) {
    let place = stroke.at * 16;
    assert!(place.is_integer());
    let names = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];
    let midi = stroke.pitch.expect("a pitch");
    let name = format!("{}{}", names[(midi % 12) as usize], midi / 12 - 1);
    (place.to_integer(), name)
}

fn written(places: &[(i128, &str)]) -> Vec<(i128, String)> {
    places.iter().map(|(at, name)| (*at, name.to_string())).collect()
}

/// The notes of a part, a list for each place.
fn stacks(part: &Part) -> Vec<(Exact, Vec<i32>)> {
    let mut stacks: Vec<(Exact, Vec<i32>)> = Vec::new();
    for stroke in &part.strokes {
        let midi = stroke.pitch.expect("a pitch");
        match stacks.last_mut() {
            Some((at, notes)) if *at == stroke.at => notes.push(midi),
            _ => stacks.push((stroke.at, vec![midi])),
        }
    }
    stacks.iter_mut().for_each(|(_, notes)| notes.sort_unstable());
    stacks
}

#[test]
fn a_slash_is_one_more_beat() {
    let song = resolved(&with(r#""Gm9 | Cm7 / / F13 | % | Eb7 Ab7""#, "comp = \"x\""));
    let chart: Vec<(Exact, &str)> = song
        .chords
        .iter()
        .map(|change| {
            (
                change.at,
                change.chord.as_ref().map_or("-", |chord| chord.symbol.as_str()),
            )
        })
        .collect();
    let at = |beat: i128| Exact::new(beat, 4);
    assert_eq!(
        chart,
        [
            (at(0), "Gm9"),
            (at(4), "Cm7"),
            (at(7), "F13"),
            (at(8), "Cm7"),
            (at(11), "F13"),
            (at(12), "Eb7"),
            (at(14), "Ab7"),
        ]
    );
}

#[test]
fn degrees_follow_the_chart_and_are_pushed_over_the_barline() {
    // checks.md, Harmony: a pushed note sounds the next chord's note before the barline and holds over it.
    let text = with(
        r#"{ "1" = "Gm9", "2" = "Cm7 / / F13", "3-4" = "N.C." }"#,
        "register = \"G1\"\ndegrees = { \"1\" = \"1 3 5, <1\", \"2\" = \"= 1 - <3\", \"3-4\" = \"1 - - -\" }",
    );
    let song = resolved(&text);
    assert_eq!(
        named(&song),
        written(&[(0, "G1"), (4, "Bb1"), (8, "D1"), (12, "C2"), (20, "C2")]),
        "the last push has no chord to take"
    );
    assert_eq!(song.parts[0].strokes[3].sounds, Some(Exact::new(2, 4)));
    let sooner = with(r#""Gm9 / / F13""#, "degrees = \"- <1 - -\"\nregister = \"G1\"");
    assert_eq!(named(&resolved(&sooner))[0], (4, "F2".into()));
    // The last bar's push takes the first bar's chord, when the loop repeats.
    let round = with(
        r#""Gm9 | Gm9 | Gm9 | Cm7""#,
        "degrees = \"- - - <1\"\nregister = \"G1\"",
    );
    assert_eq!(named(&resolved(&round)).last(), Some(&(60, "G1".into())));
}

#[test]
fn comping_leads_the_voices_and_stays_on_a_chord() {
    let song = resolved(&with(r#""Gm7 | Cm7 | F7 | Bbmaj7""#, "comp = \"x-g- --X=\""));
    let stacks = stacks(&song.parts[0]);
    assert_eq!(stacks.len(), 12);
    for bar in stacks.chunks(3) {
        assert!(bar[0].1 == bar[1].1 && bar[1].1 == bar[2].1, "one voicing a chord");
    }
    let middle = Note::parse("C4").expect("a note").midi();
    for pair in stacks.chunks(3).collect::<Vec<_>>().windows(2) {
        for (from, to) in pair[0][0].1.iter().zip(&pair[1][0].1) {
            assert!((from - to).abs() <= 4, "{pair:?}");
            assert!((from - middle).abs() <= 18);
        }
    }
    let first = &song.parts[0].strokes;
    assert_eq!(
        (first[0].velocity, first[4].velocity, first[8].velocity),
        (96.0, 40.0, 118.0)
    );
    assert_eq!(first[8].sounds, Some(Exact::new(2, 8)));
}

#[test]
fn a_figure_is_three_decibels_and_an_arrow_the_chord_to_come() {
    let song = resolved(&with(
        r#""Gm7 | Cm7 | Gm7 | Cm7""#,
        "comp = \"9--- ---<\"\nvoicing = \"shell\"",
    ));
    let stacks = stacks(&song.parts[0]);
    let roots: Vec<i32> = stacks.iter().map(|(_, notes)| notes[0] % 12).collect();
    assert_eq!(roots, [7, 0, 0, 7, 7, 0, 0, 7]);
    assert_eq!(song.parts[0].strokes[0].velocity, 127.0);
}

#[test]
fn strokes_of_the_hand_go_down_and_up() {
    let song = resolved(&with("\"C\"", "comp = \"duxk\""));
    let strokes = &song.parts[0].strokes;
    let shifts = |from: usize| -> Vec<(i32, f64)> {
        strokes[from..from + 3]
            .iter()
            .map(|stroke| (stroke.pitch.expect("a pitch"), stroke.shift))
            .collect()
    };
    let (down, up, even) = (shifts(0), shifts(3), shifts(6));
    assert!(down[0].0 < down[2].0 && up[0].0 > up[2].0);
    assert_eq!([down[0].1, down[1].1, down[2].1], [0.0, 0.0125, 0.025]);
    assert!(even.iter().all(|(_, shift)| *shift == 0.0));
    assert_eq!(strokes[9].sounds, Some(Exact::new(1, 64)));
    let strummed = resolved(&with("\"C\"", "comp = \"x\"\nstrum = { ms = 40, order = \"down\" }"));
    let first = &strummed.parts[0].strokes[0..3];
    assert!(first[0].pitch > first[2].pitch && first[2].shift == 0.04);
}

#[test]
fn a_chord_is_broken_as_long_as_it_sounds() {
    let broken = |order: &str, seed: &str| {
        let part = format!("comp = \"x=--\"\narpeggio = {{ step = \"1/16\", order = \"{order}\" }}");
        let song = changed(&with("\"C\"", &part), &set(&[("loop.seed", seed)]));
        let first: Vec<i32> = song.parts[0].strokes[0..8]
            .iter()
            .map(|stroke| stroke.pitch.unwrap_or(0))
            .collect();
        assert_eq!(song.parts[0].strokes.len(), 4 * 8);
        first
    };
    let up = broken("up", "1");
    let chord = up[0..3].to_vec();
    assert!(chord[0] < chord[1] && chord[1] < chord[2]);
    assert_eq!(up, [0, 1, 2, 0, 1, 2, 0, 1].map(|voice| chord[voice]));
    assert_eq!(broken("down", "1"), [2, 1, 0, 2, 1, 0, 2, 1].map(|voice| chord[voice]));
    assert_eq!(
        broken("up-down", "1"),
        [0, 1, 2, 1, 0, 1, 2, 1].map(|voice| chord[voice])
    );
    let random = broken("random", "1");
    assert_eq!(random, broken("random", "1"));
    assert!((2..9).any(|seed| broken("random", &seed.to_string()) != random));
    assert!(random.windows(2).all(|pair| pair[0] != pair[1]));
}

#[test]
fn notes_in_brackets_are_the_chords_voicing() {
    let chart = r#""Gm7 | C7#9 (Eb4 E3 Bb3) / / F7 | % | C7#9 (E3) C7#9""#;
    let song = resolved(&with(chart, "comp = \"x-xx\"\nvoicing = \"shell\""));
    let heard: Vec<(Exact, Vec<i32>)> = stacks(&song.parts[0]);
    let pinned = vec![52, 58, 63];
    let at = |quarter: i128| {
        let found = heard.iter().find(|(at, _)| *at == Exact::new(quarter, 4));
        &found.expect("a chord").1
    };
    // Bars, in quarters: the bracket is no beat, and `%` plays it again.
    assert_eq!((at(4), at(6), at(8), at(10)), (&pinned, &pinned, &pinned, &pinned));
    assert_eq!(at(12), &vec![52]);
    assert_eq!(at(14).len(), 3, "the same symbol without a bracket is voiced again");
    assert_eq!(at(7).len(), 3);
    assert_eq!(
        song.chords[1].chord.as_ref().map(ToString::to_string).as_deref(),
        Some("C7#9")
    );
}

#[test]
fn what_is_wrong_in_a_chart_is_pointed_at() {
    for (chart, told) in [
        (
            r#""Gm77""#,
            "1:14 `7` is no part of a chord symbol; did you mean `Gm7`?",
        ),
        (
            r#""Gm7 /""#,
            "1:11 with a slash each word is a beat, and these are 2, but the bar has 4 beats; write a chord or a slash for each",
        ),
        (
            r#""%""#,
            "1:11 `%` has no bar before it to play again; write a chord symbol",
        ),
        (
            r#""/ / / Gm7""#,
            "1:11 this slash has no chord before it; write a chord symbol",
        ),
        (
            r#""(E3 G3) Gm7""#,
            "1:11 these notes stand behind no chord; write them behind a chord symbol, as in `C7#9 (E3 Bb3 Eb4)`",
        ),
        (
            r#""Gm7 / (E3 G3) / /""#,
            "1:17 these notes stand behind no chord; write them behind a chord symbol, as in `C7#9 (E3 Bb3 Eb4)`",
        ),
        (
            r#""Gm7 (Bb3 D4 | Cm7""#,
            "1:15 a bracket of notes is open at the end of its bar; write `(Bb3 D4)`",
        ),
        (r#""Gm7 (Bb3 D)""#, "1:20 `D` has no octave; did you mean `D4`?"),
        (
            r#""Gm7 ()""#,
            "1:15 there are no notes in this bracket; write them with their octaves, as in `C7#9 (E3 Bb3 Eb4)`",
        ),
        (
            r#""Gm7 (Bb3 A#3)""#,
            "1:20 A#3 stands twice in this bracket; write each note once",
        ),
        (
            r#""Gm7 (Bb3) (D4)""#,
            "1:21 this chord has its notes already; write all of them in one bracket",
        ),
        (
            r#""Gm7 %""#,
            "1:15 `%` is a whole bar, and stands alone in it; write `/` for one more beat of the same chord",
        ),
        (
            r#"{ "5" = "Gm7" }"#,
            "1:13 bar 5 is past the end of the loop, which has 4 bars",
        ),
        (
            r#""Gm7 | | C""#,
            "1:11 there is nothing between two barlines; write `%` for the bar before again",
        ),
    ] {
        assert_eq!(wrong(&with(chart, "notes = \"G1\"")), [told], "{chart}");
    }
}

#[test]
fn what_is_wrong_in_degrees_and_comping_is_pointed_at() {
    for (part, told) in [
        (
            "degrees = \"1 b3 16\"",
            "8:17 `16` is no degree: they go from 1 to 15; did you mean `2''`?",
        ),
        (
            "degrees = \"1 =, 3\"",
            "8:14 `=,` is no degree: degrees are numbers from 1 to 15, as in `1`, `b3` or `5,`",
        ),
        (
            "comp = \"x--y\"",
            "8:12 `y` is no mark; comping takes `x` `X` `g` `3` to `9` `d` `u` `k` `<`, `-` for nothing and `=` to hold",
        ),
        (
            "comp = \"x-=-\"",
            "8:11 `=` has nothing to hold: a rest stands before it; write `-` to go on resting",
        ),
        (
            "register = \"H2\"\ncomp = \"x\"",
            "8:13 `H` is no note: names go from A to G; did you mean `B2`?",
        ),
        (
            "voicing = \"shel\"\ncomp = \"x\"",
            "8:11 `voicing` is one of \"close\", \"open\", \"drop 2\", \"drop 3\", \"drop 2&4\", \"spread\", \"rootless\", \"shell\", not the text \"shel\"; did you mean \"shell\"?",
        ),
        (
            "degrees = \"1''''\"\nregister = \"G7\"",
            "8:12 on Gm7 this is G11, beyond the keys of MIDI, which go from C-1 to G9; take another octave, or another `register`",
        ),
    ] {
        assert_eq!(wrong(&with("\"Gm7\"", part)), [told], "{part}");
    }
    assert_eq!(
        wrong(&with("{ \"1-3\" = \"Gm7\" }", "degrees = \"1 - 5 -\"")),
        [
            "8:12 `[chords]` has no chord in bar 4; name the bar in `[chords]`, with N.C. for no chord",
            "8:16 `[chords]` has no chord in bar 4; name the bar in `[chords]`, with N.C. for no chord"
        ]
    );
}
