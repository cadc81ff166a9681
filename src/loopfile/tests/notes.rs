//! Notes, lengths, doubles, and what changes in some bars.

use proptest::prelude::*;

use super::{changed, draft, resolved, set, wrong};
use crate::loopfile::{Changes, Exact, KitDefaults, Loop};

pub(super) fn with(part: &str) -> String {
    format!("[loop]\ntempo = 92\nbars = 2\nkey = \"G minor\"\n[[part]]\nname = \"bass\"\n{part}")
}

/// Place and length in quarters of a bar, key and velocity.
fn heard(song: &Loop, part: usize) -> Vec<(i128, Option<Exact>, i32, f64)> {
    let strokes = song.parts[part].strokes.iter();
    strokes
        .map(|stroke| {
            let sounds = stroke.sounds.map(|sounds| sounds * 4);
            (
                (stroke.at * 4).to_integer(),
                sounds,
                stroke.pitch.unwrap_or(-1),
                stroke.velocity,
            )
        })
        .collect()
}

fn beats(beats: i128) -> Option<Exact> {
    Some(Exact::from_integer(beats))
}

#[test]
fn words_share_the_bar_hold_and_rest() {
    let song = resolved(&with("notes = \"G1 = - Bb1^ | = (C4+Eb4+G4) - F#2\""));
    assert_eq!(
        heard(&song, 0),
        [
            (0, beats(2), 31, 96.0),
            (3, beats(2), 34, 118.0),
            (5, beats(1), 60, 40.0),
            (5, beats(1), 63, 40.0),
            (5, beats(1), 67, 40.0),
            (7, beats(1), 42, 96.0),
        ]
    );
    let plain: Vec<bool> = song.parts[0].strokes.iter().map(|stroke| stroke.plain).collect();
    assert_eq!(plain, [true, false, false, false, false, true]);
}

#[test]
fn an_opening_hold_takes_up_what_the_end_left_sounding() {
    let text = with("notes = \"= C2 - - | - - D2 =\"");
    assert_eq!(
        heard(&resolved(&text), 0),
        [(1, beats(1), 36, 96.0), (6, beats(3), 38, 96.0)]
    );
    let damped = changed(&text, &set(&[("loop.ending", "damp")]));
    assert_eq!(heard(&damped, 0), [(1, beats(1), 36, 96.0), (6, beats(2), 38, 96.0)]);
    // A bar that only holds passes on what sounds.
    let over = resolved(&with("notes = { \"1\" = \"G1\", \"2\" = \"=\" }"));
    assert_eq!(heard(&over, 0), [(0, beats(8), 31, 96.0)]);
}

#[test]
fn length_is_a_share_of_what_is_written() {
    let half = resolved(&with("notes = \"G1 = - -\"\nlength = 50"));
    assert_eq!(heard(&half, 0)[0].1, beats(1));
    let rings = resolved(&with("notes = \"G1 = - -\"\nlength = \"off\""));
    assert_eq!(heard(&rings, 0)[0].1, None);
    let hits = resolved(&with("hits = \"x---\"\nlength = 50"));
    assert_eq!(heard(&hits, 0)[0].1, Some(Exact::new(1, 2)));
    assert_eq!(heard(&resolved(&with("hits = \"x---\"")), 0)[0].1, None);
}

#[test]
fn some_bars_are_played_otherwise() {
    let song = resolved(&with(
        "notes = \"G1 = - -\"\n[part.change]\n\"2\" = { length = 50, behind = 10, piece = \"organ\", velocity = \"20-30\" }",
    ));
    let part = &song.parts[0];
    assert_eq!(
        heard(&song, 0).iter().map(|note| note.1).collect::<Vec<_>>(),
        [beats(2), beats(1)]
    );
    let pieces: Vec<&str> = part
        .strokes
        .iter()
        .map(|stroke| part.pieces[stroke.piece].piece.as_str())
        .collect();
    assert_eq!(pieces, ["bass", "organ"]);
    assert_eq!(part.playing_at(part.strokes[0].at).behind, 0.0);
    let second = part.playing_at(part.strokes[1].at);
    assert_eq!((second.behind, second.velocity), (0.01, Some((20.0, 30.0))));
    let silent = resolved(&with("notes = \"G1\"\nchange = { \"1\" = { mute = true } }"));
    assert_eq!(heard(&silent, 0), [(4, beats(4), 31, 96.0)]);
}

#[test]
fn doubles_are_parts_that_go_along() {
    let text = with(
        "notes = \"G2 A2 Bb2 F#2\"\ngain = -2\npan = 10\ndouble = [{ interval = -12, piece = \"organ\", gain = -8, behind = 5 }, { interval = \"third above\", pan = -50 }]",
    );
    let song = resolved(&text);
    let names: Vec<&str> = song.parts.iter().map(|part| part.name.as_str()).collect();
    assert_eq!(names, ["bass", "bass double 1", "bass double 2"]);
    let keys = |part| -> Vec<i32> { heard(&song, part).iter().take(4).map(|note| note.2).collect() };
    assert_eq!(keys(0), [43, 45, 46, 42]);
    assert_eq!(keys(1), [31, 33, 34, 30]);
    // In G minor: Bb, C, D; F sharp goes along as the key's F does.
    assert_eq!(keys(2), [46, 48, 50, 45]);
    let (low, high) = (&song.parts[1], &song.parts[2]);
    assert_eq!(
        (low.pieces[0].piece.as_str(), high.pieces[0].piece.as_str()),
        ("organ", "bass")
    );
    assert_eq!((low.strip.gain_db, low.strip.pan, low.apart), (-10.0, 0.1, 0.005));
    assert_eq!((high.strip.gain_db, high.strip.pan), (-2.0, -0.5));
    let silenced = |changes: Changes| -> Vec<bool> {
        let song = changed(&text, &changes);
        song.parts.iter().map(|part| part.silenced).collect()
    };
    let only = |name: &str| Changes {
        only: vec![name.into()],
        ..Changes::default()
    };
    assert_eq!(silenced(only("bass")), [false, false, false]);
    assert_eq!(silenced(only("bass double 1")), [true, false, true]);
    assert_eq!(silenced(set(&[("bass.mute", "true")])), [true, true, true]);
}

#[test]
fn hits_can_be_doubled_on_another_piece() {
    let song = resolved(&with("hits = \"x-x-\"\ndouble = [{ piece = \"clap\", interval = 3 }]"));
    let double = &song.parts[1];
    assert_eq!((double.strokes.len(), double.pieces[0].sound.tune), (4, 3.0));
    assert_eq!(double.pieces[0].piece, "clap");
}

/// Place in bars, length in quarters of a bar, key, velocity, ms off the grid.
fn played(song: &Loop) -> Vec<(Exact, Exact, i32, f64, f64)> {
    let strokes = song.parts[0].strokes.iter();
    let of = |stroke: &crate::loopfile::Stroke| {
        let velocity = stroke.velocity * stroke.scale;
        (
            stroke.at,
            stroke.sounds.unwrap_or(Exact::ZERO) * 4,
            stroke.pitch.unwrap_or(-1),
            (velocity * 10.0).round() / 10.0,
            stroke.shift * 1000.0,
        )
    };
    strokes.map(of).collect()
}

#[test]
fn braces_fit_words_into_a_beat_and_into_a_step() {
    let song = resolved(&with("notes = \"{C4 D4 Eb4} F4 {G4 {A4 = C5}} - | = D4 - -\""));
    let heard: Vec<(Exact, Exact, i32)> = played(&song).iter().map(|note| (note.0, note.1, note.2)).collect();
    let exact = Exact::new;
    assert_eq!(
        heard,
        [
            (exact(0, 1), exact(1, 3), 60),
            (exact(1, 12), exact(1, 3), 62),
            (exact(1, 6), exact(1, 3), 63),
            (exact(1, 4), exact(1, 1), 65),
            (exact(1, 2), exact(1, 2), 67),
            (exact(5, 8), exact(1, 3), 69),
            (exact(17, 24), exact(1, 6), 72),
            (exact(5, 4), exact(1, 1), 62),
        ]
    );
}

#[test]
fn a_list_counts_notes_aloud() {
    let exact = Exact::new;
    let list = "notes = [\"2& C2 -10ms\", \"4a G1 g\", \"1 D2^\", \"2 =\", \"3& =\"]";
    assert_eq!(
        played(&resolved(&with(list)))[..3],
        [
            (exact(0, 1), exact(3, 2), 38, 118.0, 0.0),
            (exact(3, 8), exact(5, 2) - 1, 36, 96.0, -10.0),
            (exact(15, 16), exact(1, 4), 31, 40.0, 0.0),
        ]
    );
    // A note ends where the next begins, and where a rest is counted.
    let song = resolved(&with("notes = [\"1 C2\", \"1e G1\", \"2 C2\", \"2& -\"]"));
    let lengths: Vec<Exact> = played(&song).iter().take(3).map(|note| note.1).collect();
    assert_eq!(lengths, [exact(1, 4), exact(1, 4), exact(1, 2)]);
    // Degrees and chords are counted in the same way; an opening hold goes on from the bar before.
    let song = resolved(&format!(
        "chords = \"Cm\"\n{}",
        with("degrees = { \"1\" = [\"4& 5, 7 +12ms\"], \"2\" = [\"2 =\", \"3 b3\"] }")
    ));
    let heard = played(&song);
    assert_eq!((heard[0].0, heard[0].1, heard[0].2), (exact(7, 8), exact(5, 2), 31));
    assert_eq!((heard[0].4, heard[1].2), (12.0, 39));
    let song = resolved(&format!(
        "chords = \"Cm\"\n{}",
        with("comp = [\"1 x\", \"2& X -8ms\", \"3& =\"]")
    ));
    let heard = played(&song);
    assert_eq!(
        (heard[0].1, heard[3].0, heard[3].1, heard[3].4),
        (exact(1, 1), exact(3, 8), exact(3, 2), -8.0)
    );
}

#[test]
fn a_colon_says_how_hard_and_a_swell_scales_it() {
    let velocities = |text: &str| -> Vec<f64> { played(&resolved(&with(text))).iter().map(|note| note.3).collect() };
    assert_eq!(
        velocities("notes = \"C4:9 C4:X C4+E4:g C4:x\"")[..5],
        [127.0, 118.0, 40.0, 40.0, 96.0]
    );
    // From 48 to 96 over two bars of four: a plain note's velocity is the swell's own, an accent's follows.
    assert_eq!(
        velocities("notes = { swell = \"48-96\", play = \"C4 C4 C4^ C4\" }"),
        [48.0, 54.0, 73.8, 66.0, 72.0, 78.0, 103.3, 90.0]
    );
    let chords = |text: &str| resolved(&format!("chords = \"Cm\"\n{}", with(text)));
    let swells = chords("comp = { \"2\" = { swell = \"48-96\", play = [\"1 x\", \"3 x\"] } }");
    let heard: Vec<f64> = played(&swells).iter().step_by(3).map(|note| note.3).collect();
    assert_eq!(heard, [48.0, 72.0]);
}

#[test]
fn grace_notes_stand_before_a_note_and_shorten_the_one_before() {
    let song = resolved(&with("notes = \"C4 A3/B3/C4:7 - E4+G4\"\ndouble = [{ interval = 12 }]"));
    let graces = |part: usize, stroke: usize| -> Vec<String> {
        let expression = song.parts[part].strokes[stroke].expression.as_ref();
        expression.map_or(Vec::new(), |expression| {
            expression.graces.iter().map(|note| note.to_string()).collect()
        })
    };
    assert_eq!(graces(0, 1), ["A3", "B3"]);
    assert_eq!(graces(1, 1), ["A4", "B4"]);
    assert!(graces(0, 0).is_empty() && graces(0, 2).is_empty());
    // Two of 60 ms each, at 92 BPM.
    let shorter = song.parts[0].strokes[0].sounds.unwrap_or(Exact::ZERO) * 4 - 1;
    let seconds = *shorter.numer() as f64 / *shorter.denom() as f64 * 60.0 / 92.0;
    assert!((seconds + 0.12).abs() < 1e-4, "{seconds}");
    let song = resolved(&format!("chords = \"Cm\"\n{}", with("degrees = \"b3/3 - - <7,/1\"")));
    let graces = song.parts[0]
        .strokes
        .iter()
        .take(2)
        .map(|stroke| stroke.expression.clone());
    let names: Vec<String> = graces
        .flatten()
        .map(|expression| expression.graces[0].to_string())
        .collect();
    assert_eq!(names, ["Eb2", "Bb1"]);
}

#[test]
fn marks_of_another_way_are_refused_with_what_to_write() {
    for (part, told) in [
        (
            "notes = \"C4:f\"",
            "7:13 `f` does not say how hard a note is played; `f` is a mark of `hits`: a flam: one soft grace note before it; accented; here write its grace notes before a note, such as `B3/C4`",
        ),
        (
            "notes = \"C4:q\"",
            "7:13 `q` does not say how hard a note is played; write `x`, `X`, `g` or `3` to `9`, such as `C4:7`",
        ),
        (
            "notes = \"C4^:7\"",
            "7:10 `C4^:7` says twice how hard it is played; write C4^, (C4) or C4:7",
        ),
        (
            "notes = \"3 x-\"",
            "7:10 `3` is no note: names go from A to G; `3` is a degree of the chart's chord, which `degrees` takes; here write for instance `C4`",
        ),
        (
            "degrees = \"C4\"",
            "7:12 `C4` is no degree: degrees are numbers from 1 to 15, as in `1`, `b3` or `5,`; `C4` is a note, which `notes` takes; here write for instance `1`",
        ),
        (
            "comp = \"x-r-\"",
            "7:11 `r` is no mark; `r` is a mark of `hits`: two even strokes in this step: rrrr is a single-stroke roll; accented; here write `{xx}` for two strikes in one step",
        ),
        (
            "hits = \"x-u-\"",
            "7:11 `u` is no mark; `u` is a mark of `comp`: a stroke of the hand up, from the highest note down; here write `x`",
        ),
        (
            "notes = \"C4 {D4\"",
            "7:13 this brace is not closed before the bar ends; write `{C4 D4 Eb4}` to fit words into one step's time",
        ),
        (
            "notes = \"A3/A3/A3/A3/A3/C4\"",
            "7:10 `A3/A3/A3/A3/A3/C4` has more than 4 grace notes; write a run out between braces, such as {C4 Eb4 G4}",
        ),
        (
            "notes = \"B3/\"",
            "7:10 a tone is missing in `B3/`; write its tones with a + between them, such as C4+Eb4+G4",
        ),
        (
            "notes = [\"2& G1 g -8\"]",
            "7:19 `-8` is no shift; write it in milliseconds, as in `+12ms` or `-8ms`",
        ),
        (
            "notes = [\"2&\"]",
            "7:11 the note is missing; write a count, its syllable and a note, as in `1 C2`, `2& G1` or `4a Bb1 g -8ms`",
        ),
        (
            "notes = [\"1 -\", \"2 =\"]",
            "7:20 `=` has nothing to hold: a rest stands before it; write `-` to go on resting",
        ),
    ] {
        assert_eq!(wrong(&with(part)).first().map(String::as_str), Some(told), "{part}");
    }
}

#[test]
fn what_is_wrong_is_pointed_at() {
    for (part, told) in [
        ("notes = \"G1 Bb G1\"", "7:13 `Bb` has no octave; did you mean `Bb4`?"),
        (
            "notes = \"C4+Hb4\"",
            "7:13 `H` is no note: names go from A to G; did you mean `Bb4`?",
        ),
        (
            "notes = \"C4+\"",
            "7:10 a tone is missing in `C4+`; write its tones with a + between them, such as C4+Eb4+G4",
        ),
        (
            "notes = \"(G1\"",
            "7:10 a parenthesis of `(G1` has no partner; a ghost note is written (G1)",
        ),
        (
            "notes = \"(G1)^\"",
            "7:10 `(G1)^` is a ghost note and an accent at once; write (G1) or G1^",
        ),
        (
            "notes = \"<G1\"",
            "7:10 `<` is for degrees: a note is itself, whatever the chord; write G1",
        ),
        (
            "notes = \"G1 - =\"",
            "7:15 `=` has nothing to hold: a rest stands before it; write `-` to go on resting",
        ),
        (
            "notes = \"\"",
            "7:10 there is nothing to play here; write `-` for a bar of nothing",
        ),
        (
            "notes = [\"G1\"]",
            "7:11 `G1` begins without a count; write a count, its syllable and a note, as in `1 C2`, `2& G1` or `4a Bb1 g -8ms`",
        ),
        (
            "notes = 1",
            "7:9 `notes` is a line of notes such as \"G1 = - Bb1\", a list that counts aloud, or a table of these by bars, not 1",
        ),
        ("notes = [1]", "7:10 what is counted is a text such as \"2& G1\", not 1"),
        (
            "hits = \"x\"\nnotes = \"G1\"",
            "8:1 `bass` has `notes`, and `hits` already; a part plays one of them; write a second part for the other",
        ),
        (
            "notes = \"G1\"\ndouble = [{ interval = \"third belw\" }]",
            "8:25 `third belw` is no interval; did you mean \"third below\"?",
        ),
        (
            "notes = \"G1\"\ndouble = [{ interval = 50 }]",
            "8:24 `interval` is 50, but goes from -48 to 48 semitones",
        ),
        (
            "hits = \"x\"\ndouble = [{ interval = \"third below\" }]",
            "8:25 `bass` has hits, and hits have no `third below`; write semitones, such as -12",
        ),
        (
            "notes = \"G1\"\nchange = { \"3\" = { length = 50 } }",
            "8:13 bar 3 is past the end of the loop, which has 2 bars",
        ),
        (
            "notes = \"G1\"\nchange = { \"2\" = { gain = 50 } }",
            "8:20 `[[part]]` or `[part.change]` has no key `gain`; `gain` belongs in `double`, `vary`, a strip, `eq`",
        ),
    ] {
        assert_eq!(wrong(&with(part)), [told], "{part}");
    }
    let keyless = with("notes = \"G1\"\ndouble = [{ interval = \"third below\" }]").replace("key = \"G minor\"\n", "");
    assert_eq!(
        wrong(&keyless),
        [
            "7:25 `third below` goes along in a key, and the loop has none; write semitones, such as -12, or give `[loop]` a `key` such as \"G minor\""
        ]
    );
    assert_eq!(
        wrong(&with("notes = \"G1\"").replace("G minor", "G minr")),
        [
            "4:10 `minr` is no mode: major, minor, harmonic minor, melodic minor, dorian, phrygian, lydian, mixolydian, aeolian, locrian; did you mean `G minor`?"
        ]
    );
}

/// Plays a part on a chord, where it can be read.
fn play(part: &str) {
    let text = format!("chords = \"Cm7\"\n{part}");
    if let Ok(draft) = draft(&text, &Changes::default()) {
        draft.resolve(&KitDefaults::new());
    }
}

proptest! {
    #[test]
    fn any_line_and_any_list_is_read_without_panic(
        line in "[A-Gabx0-9#<>(){}^:/+=, |-]{0,40}",
        word in "(C4|b3|5)(:(slide|scoop|fall|bend|dead|legato|vibrato|g|7|q)(=[0-9+.,/msA-C-]{0,9})?){0,3}",
    ) {
        for way in ["notes", "degrees", "comp"] {
            play(&with(&format!("{way} = \"{line}\"")));
            play(&with(&format!("{way} = \"{word} {line}\"")));
            play(&with(&format!("{way} = [\"{line}\", \"2& {word}\", \"{word} {line}\"]")));
        }
    }
}
