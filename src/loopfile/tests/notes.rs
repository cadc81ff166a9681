//! Notes, lengths, doubles, and what changes in some bars.

use super::{changed, resolved, set};
use crate::loopfile::{Changes, Exact, Loop};

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
