//! Notes, degrees and comping have the grammar of time that hits have: groups, counted lists with ms, velocities, swells,
//! grace notes, `behind`. They come out of MIDI, the chart, `check` and the schema.

use crate::support::Desk;
use pressroll::internals::midi::{self, Note};

/// A loop of a bar a second: a quarter is 250 ms and 960 ticks.
fn song(plays: &str) -> String {
    format!(
        "chords = \"Cm7\"\n[loop]\ntempo = 240\nbars = 2\nkey = \"C minor\"\n[[part]]\nname = \"lead\"\npiece = \"stand-in\"\n{plays}\n"
    )
}

/// Start, key and velocity of each note of `render --midi`, in the order of time.
fn notes(plays: &str) -> Vec<(u64, u8, u8)> {
    let desk = Desk::new();
    desk.render_with(&song(plays), &["--midi"]);
    let performance = midi::read(desk.path("out.mid")).expect("a Standard MIDI File");
    let mut notes: Vec<Note> = performance.notes().map(|(_, note)| *note).collect();
    notes.sort_by_key(|note| (note.start, note.key));
    notes.iter().map(|note| (note.start, note.key, note.velocity)).collect()
}

#[test]
fn a_triplet_of_a_beat_is_a_third_of_it_each() {
    let starts: Vec<u64> = notes("notes = { \"1\" = \"{C4 D4 Eb4} - {F4 {G4 A4}} -\" }")
        .iter()
        .map(|note| note.0)
        .collect();
    assert_eq!(starts, [0, 320, 640, 1920, 2400, 2640]);
    let starts: Vec<u64> = notes("degrees = { \"1\" = \"1 {3 5}\" }")
        .iter()
        .map(|note| note.0)
        .collect();
    assert_eq!(starts, [0, 1920, 2880]);
}

#[test]
fn counted_notes_stand_off_the_grid_as_hits_do() {
    // 10 ms are 38.4 ticks.
    assert_eq!(
        notes("notes = { \"1\" = [\"2& C2 -10ms\", \"4a G1 g\"] }"),
        [(1440 - 38, 36, 96), (3600, 31, 40)]
    );
    let chords = notes("comp = { \"1\" = [\"1 x\", \"3& X +10ms\"] }");
    let starts: Vec<u64> = chords.iter().map(|note| note.0).collect();
    assert_eq!(starts, [[0; 4], [2400 + 38; 4]].concat());
    let hits = "hits = { \"1\" = [\"2& x -10ms\"] }\n"
        .replace("hits", "[[part]]\nname = \"kick\"\npiece = \"stand-in\"\nhits");
    let both = notes(&format!("notes = {{ \"1\" = [\"2& C2 -10ms\"] }}\n{hits}"));
    assert_eq!(both[0].0, both[1].0, "{both:?}");
}

#[test]
fn velocities_are_those_of_the_marks_of_hits() {
    let velocities = |plays: &str| -> Vec<u8> { notes(plays).iter().map(|note| note.2).collect() };
    // 9 is 127, each figure 3 dB less by 40·log10(v/127) dB: DLS and General MIDI 2 [memory].
    assert_eq!(
        velocities("notes = { \"1\" = \"C4:9 C4:8 C4:X C4:g\" }"),
        [127, 107, 118, 40]
    );
    assert_eq!(
        velocities("notes = { swell = \"48-96\", play = \"C4 - C4 -\" }"),
        [48, 60, 72, 84]
    );
}

#[test]
fn a_part_of_notes_can_stand_behind_the_beat() {
    assert_eq!(notes("behind = 10\nnotes = { \"1\" = \"C4\" }"), [(38, 60, 96)]);
    assert_eq!(
        notes("behind = 10\nchange = { \"2\" = { behind = \"off\" } }\nnotes = \"C4\""),
        [(38, 60, 96), (3840, 60, 96)]
    );
}

#[test]
fn grace_notes_come_just_before_their_note_which_stays_on_the_beat() {
    let heard = notes("notes = { \"1\" = \"- Bb3/B3/C4^ - -\" }");
    let keys: Vec<u8> = heard.iter().map(|note| note.1).collect();
    assert_eq!(keys, [58, 59, 60]);
    assert_eq!(heard[2].0, 960);
    // [practice] 60 ms each, a little uneven, and softer than their note.
    for pair in heard.windows(2) {
        let apart = (pair[1].0 - pair[0].0) as f64 / 3.84;
        assert!((56.0..=64.0).contains(&apart), "{apart} ms");
        assert!(pair[0].2 < 100);
    }
}

#[test]
fn the_chart_shows_what_was_written() {
    let desk = Desk::new();
    desk.write(
        "loop.toml",
        song("notes = \"{C4 D4 Eb4} B3/C4:7 (G4) {F4^ G4} | C4:g - - -\""),
    );
    let answer = desk.run(&["chart", "loop.toml"]);
    answer.assert_done();
    for word in ["{C4 D4 Eb4}", "B3/C4:7", "(G4)", "F4^", "(C4)"] {
        assert!(answer.out.contains(word), "{word}: {}", answer.out);
    }
    // What the chart of degrees writes as notes plays the same.
    desk.write(
        "loop.toml",
        song("degrees = \"{1 3 5} 7,/1:7 (5) b3^\"\nregister = \"C3\""),
    );
    let answer = desk.run(&["chart", "loop.toml", "--write", "-"]);
    answer.assert_done();
    assert!(answer.out.contains("Bb2/C3:7"), "{}", answer.out);
    let lines = answer.out.split_once("[part.notes]\n").expect("notes").1;
    assert_eq!(
        notes(&format!("[part.notes]\n{lines}")),
        notes("degrees = \"{1 3 5} 7,/1:7 (5) b3^\"\nregister = \"C3\"")
    );
}

#[test]
fn nothing_of_it_is_remarked_upon_by_check() {
    let desk = Desk::new();
    for plays in [
        "notes = \"{C4 D4 Eb4} C4:7 = B3/C4 {G4 {Ab4 G4}} - C4 =\"",
        "degrees = { \"1\" = [\"1 1\", \"2& 5 -10ms\", \"3& =\"], \"2\" = { swell = \"50-118\", play = [\"1 1\"] } }",
        "comp = { swell = \"50-118\", play = \"x--x {xxx} ---- x===\" }",
    ] {
        desk.write("loop.toml", song(plays));
        let answer = desk.run(&["check", "loop.toml"]);
        answer.assert_done();
        assert!(answer.out.contains("no problems found\n"), "{plays}: {}", answer.out);
    }
}

#[test]
fn a_mark_of_another_grammar_is_refused_with_what_to_write_here() {
    let desk = Desk::new();
    for (plays, told) in [
        (
            "notes = \"C4:d - - -\"",
            "here write its grace notes before a note, such as `B3/C4`",
        ),
        ("comp = \"f---\"", "`f` is a mark of `hits`"),
        ("hits = \"x=--\"", "here write `-`: a hit rings as it was recorded"),
        ("degrees = \"Eb4 - - -\"", "`Eb4` is a note, which `notes` takes"),
        ("notes = \"x - - -\"", "marks such as `x` are for `hits` and `comp`"),
    ] {
        desk.write("loop.toml", song(plays));
        let answer = desk.run(&["check", "loop.toml"]);
        assert_eq!(answer.code, Some(1), "{plays}");
        assert!(answer.err.contains(told), "{plays}: {}", answer.err);
    }
}
