//! A tutti: where the band strikes together, parts that are named play, whatever they have written.

use crate::support::Desk;
use pressroll::{Order, Project};

const CHORDS: &str = "[chords]\n\"1-2\" = \"Cm7 | F7\"\n";

fn song(accents: &str, parts: &str) -> String {
    format!("[loop]\ntempo = 120\nbars = 2\n{CHORDS}{accents}\n{parts}")
}

fn part(name: &str, plays: &str) -> String {
    format!("[[part]]\nname = \"{name}\"\npiece = \"stand-in\"\n{plays}\n")
}

/// What a part plays: its place in sixteenths of 125 ms, its velocity, its pitch, and how many sixteenths it sounds.
fn played(text: &str, name: &str) -> Vec<(i64, i64, Option<i32>, Option<f64>)> {
    let desk = Desk::new();
    desk.write("loop.toml", text);
    let project = Project::open(desk.path("loop.toml")).unwrap_or_else(|problems| panic!("{problems:?}"));
    let score = project.score(&Order::default()).expect("a score");
    let own = score.hits().filter(|hit| hit.part == name);
    own.map(|hit| {
        let length = hit.length.map(|length| (length / 0.125 * 1000.0).round() / 1000.0);
        (
            (hit.at / 0.125).round() as i64,
            hit.velocity.round() as i64,
            hit.pitch,
            length,
        )
    })
    .collect()
}

#[test]
fn a_drum_strikes_its_hit_in_place_of_what_stands_within_the_step() {
    let accents = "[accents]\n\"2\" = { hits = \"X--- X---\", strike = [\"snare\", \"crash\"] }";
    let text = song(
        accents,
        &(part("snare", "hits = \"--x- x-x- g-gg xxxx\"") + &part("crash", "") + &part("kick", "hits = \"x--- ----\"")),
    );
    let plain = |at| (at, 96, None, None);
    let bar: Vec<_> = [2, 4, 6].map(plain).into_iter().collect();
    let snare = played(&text, "snare");
    // A step of an eighth: of the second bar the third sixteenth stays, the first two steps give way.
    assert_eq!(snare[..3], bar);
    let second: Vec<(i64, i64)> = snare
        .iter()
        .filter(|hit| hit.0 >= 16)
        .map(|hit| (hit.0, hit.1))
        .collect();
    let rest = [(26, 40), (27, 40), (28, 96), (29, 96), (30, 96), (31, 96)];
    assert_eq!(
        second,
        [&[(16, 118), (18, 96), (20, 96), (22, 96), (24, 118)], &rest[..]].concat()
    );
    // Silent so far, the crash strikes; who is not named is accented, and strikes nothing.
    assert_eq!(
        played(&text, "crash").iter().map(|hit| hit.0).collect::<Vec<_>>(),
        [16, 24]
    );
    assert_eq!(
        played(&text, "kick")
            .iter()
            .map(|hit| (hit.0, hit.1))
            .collect::<Vec<_>>(),
        [(0, 96), (16, 118)]
    );
    // A finer line takes less away: within a sixteenth nothing but the hit itself.
    let fine = text.replace("X--- X---", "X--- ---- X--- ----").replace("g-gg", "gggg");
    let snare: Vec<i64> = played(&fine, "snare")
        .iter()
        .map(|hit| hit.0)
        .filter(|at| (24..28).contains(at))
        .collect();
    assert_eq!(snare, [24, 25, 26, 27]);
}

#[test]
fn the_bass_strikes_the_root_and_the_keys_their_chord() {
    let accents = "[accents]\n\"2\" = { hits = \"---- X---\", strike = [\"bass\", \"low\", \"keys\"] }";
    let parts = [
        part("bass", "register = \"C2\"\ndegrees = \"5 = = 3 | 5 = = =\""),
        part("low", "notes = \"G1 - - - | C2 - = -\"").replace("- = -", "= = -"),
        part("keys", "voicing = \"shell\"\nregister = \"C4\"\ncomp = \"x=== ====\""),
    ];
    let text = song(accents, &parts.concat());
    // F at next above C2; what was held ends there.
    let bass: Vec<_> = played(&text, "bass").into_iter().filter(|note| note.0 >= 16).collect();
    assert_eq!(bass, [(16, 96, Some(48), Some(8.0)), (24, 118, Some(41), Some(2.0))]);
    // The F nearest to the note before, C2.
    let low: Vec<_> = played(&text, "low").into_iter().filter(|note| note.0 >= 16).collect();
    assert_eq!(low, [(16, 96, Some(36), Some(8.0)), (24, 118, Some(41), Some(2.0))]);
    let keys: Vec<_> = played(&text, "keys").into_iter().filter(|note| note.0 >= 16).collect();
    let chord = |from: i64, hard, length| -> Vec<_> {
        let own = keys.iter().filter(|note| note.0 == from);
        let own: Vec<i32> = own
            .inspect(|note| assert_eq!((note.1, note.3), (hard, Some(length))))
            .filter_map(|note| note.2)
            .collect();
        own.iter().map(|pitch| pitch % 12).collect()
    };
    // Root, third and seventh of F7.
    let mut struck = chord(24, 118, 2.0);
    struck.sort_unstable();
    assert_eq!(struck, [3, 5, 9]);
    assert_eq!(chord(16, 96, 8.0).len(), 3);
    assert_eq!(keys.len(), 6);
}

#[test]
fn what_is_held_over_the_loops_end_stops_where_the_loop_is_struck_anew() {
    let accents = "[accents]\n\"1\" = { hits = \"X---\", strike = \"bass\" }";
    let text = song(accents, &part("bass", "notes = \"= = - - | - - C2 =\""));
    assert_eq!(
        played(&text, "bass"),
        [(0, 118, Some(36), Some(4.0)), (24, 96, Some(36), Some(8.0))]
    );
}

#[test]
fn without_a_chord_notes_stay_as_they_are_written() {
    let accents = "[accents]\n\"2\" = { hits = \"X---\", strike = [\"bass\"] }";
    let text = song(accents, &part("bass", "notes = \"C2 - - - | D2 = - -\"")).replace("F7", "N.C.");
    assert_eq!(played(&text, "bass")[1], (16, 118, Some(38), Some(8.0)));
}

#[test]
fn a_double_strikes_along_and_parts_may_leave_out_who_strikes() {
    let accents = "[accents]\nparts = [\"keys\"]\nstrike = [\"bass\"]\n\"2\" = \"--X-\"";
    let bass = "double = [{ interval = 12 }]\nnotes = \"C2 - - - | C2 - - -\"";
    let text = song(
        accents,
        &(part("bass", bass) + &part("keys", "comp = \"x-x-\"") + &part("snare", "hits = \"x-x-\"")),
    );
    assert_eq!(played(&text, "bass double 1")[2], (24, 118, Some(53), Some(4.0)));
    let velocities = |name| {
        played(&text, name)
            .iter()
            .map(|hit| (hit.0, hit.1))
            .collect::<std::collections::BTreeSet<_>>()
    };
    assert!(velocities("keys").contains(&(24, 118)));
    assert!(velocities("snare").contains(&(24, 96)));
}

#[test]
fn chart_and_midi_show_it() {
    let accents = "[accents]\n\"2\" = { hits = \"X--- ----\", strike = [\"crash\", \"bass\"] }";
    let text = song(accents, &(part("crash", "") + &part("bass", "degrees = \"- - - -\"")));
    let desk = Desk::new();
    desk.write("loop.toml", &text);
    let chart = desk.run(&["chart", "loop.toml"]);
    let row = |name: &str| {
        chart
            .out
            .lines()
            .find(|line| line.trim_start().starts_with(name))
            .map(str::to_string)
    };
    assert!(row("crash").is_some_and(|row| row.contains('x')), "{}", chart.out);
    assert!(row("bass").is_some_and(|row| row.contains("F2")), "{}", chart.out);
    desk.run(&["render", "loop.toml", "-o", "out.wav", "--midi"]);
    let bytes = std::fs::read(desk.path("out.mid")).expect("MIDI");
    let struck = bytes.windows(2).filter(|pair| *pair == [41, 118]).count();
    assert_eq!(struck, 1, "one F2 at 118");
}

#[test]
fn wrong_strikes_are_pointed_at() {
    let desk = Desk::new();
    let bass = part("bass", "notes = \"C2 - - -\"");
    for (accents, parts, chords, what) in [
        ("strike = \"bsas\"", bass.clone(), true, "did you mean `bass`?"),
        (
            "strike = 3",
            bass.clone(),
            true,
            "the name of a part in quotes, or a list of them",
        ),
        (
            "strike = \"bass\"",
            bass.clone(),
            false,
            "`[chords]` has no chord in bar 2",
        ),
    ] {
        let text = song(&format!("[accents]\n{accents}\n\"2\" = \"X---\""), &parts);
        let text = if chords { text } else { text.replace(CHORDS, "") };
        desk.write("loop.toml", text);
        let answer = desk.run(&["check", "loop.toml"]);
        assert_eq!(answer.code, Some(1), "{accents}");
        assert!(answer.err.contains(what), "{}", answer.err);
    }
}
