//! Notes, lengths, doubles, and what changes in some bars.

use super::{changed, resolved, set, wrong};
use crate::loopfile::{Changes, Exact, Loop};

fn with(part: &str) -> String {
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
            "7:9 `notes` is a line of notes such as \"G1 = - Bb1\", or a table of these by bars, not a list",
        ),
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
