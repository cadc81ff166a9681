//! `--lend`: the closest piece is substituted for what a kit lacks, and the render reports it; without it the error says what there is.

use crate::support::{Desk, click, tab};

/// A click of its own height for each name.
fn kit(desk: &Desk, names: &[&str]) {
    for (number, name) in (1..).zip(names) {
        let click: Vec<f32> = click().iter().map(|sample| sample * number as f32 / 16.0).collect();
        desk.one_shot(&format!("{name}.wav"), &[click]);
    }
}

#[test]
fn the_closest_piece_is_substituted_and_the_summary_reports_it() {
    let desk = Desk::new();
    kit(&desk, &["crash", "ride", "kick"]);
    desk.write("loop.toml", tab("120", 1, "ride-bell x---\nkick --x-"));
    desk.write("own.toml", tab("120", 1, "ride x---\nkick --x-"));
    let (lent, told) = desk.render_file("loop.toml", &["--lend"]);
    let (own, told_own) = desk.render_file("own.toml", &["--lend"]);
    assert!(lent.channels == own.channels, "the bell is played on the ride");
    assert_eq!(told["lent"], serde_json::json!([{"piece": "ride-bell", "by": "ride"}]));
    assert!(told_own["lent"].is_null(), "nothing is lent that the kit has");
    let text = desk.run(&["render", "loop.toml", "--lend"]).out;
    assert!(
        text.contains("the kit has no ride-bell: ride is its substitute"),
        "{text}"
    );
    for command in ["check", "chart"] {
        let answer = desk.run(&[command, "loop.toml", "--lend"]);
        answer.assert_done();
        assert!(
            answer.err.contains("`ride` is its substitute"),
            "{command}: {}",
            answer.err
        );
    }
}

#[test]
fn what_is_lent_chokes_as_the_piece_it_plays_for() {
    // A crash in the place of the open hat is stopped by the closed hat; a crash as a crash rings on.
    let desk = Desk::new();
    desk.one_shot("crash.wav", &[crate::support::tone(300.0, 1.0, 0.2)]);
    desk.one_shot("shaker.wav", &[click()]);
    let loops = |name: &str| tab("120", 1, &format!("{name} x---\nhat-closed -x--"));
    desk.write("hat.toml", loops("hat-open"));
    desk.write("crash.toml", loops("crash"));
    let at = 48_000 * 3 / 4;
    let (hat, told) = desk.render_file("hat.toml", &["--lend"]);
    assert_eq!(told["lent"][0]["by"], "crash");
    assert_eq!(told["lent"][1]["by"], "shaker");
    assert!(hat.left()[at..at + 2000].iter().all(|sample| *sample == 0.0));
    let (crash, _) = desk.render_file("crash.toml", &["--lend"]);
    assert!(crash.left()[at..at + 2000].iter().any(|sample| sample.abs() > 0.05));
}

#[test]
fn an_error_lists_what_there_is_in_a_line_or_two_and_offers_to_lend() {
    let desk = Desk::new();
    kit(&desk, &["ride", "kick", "snare_oak", "snare_rope", "snare_steel"]);
    for number in 0..60 {
        desk.one_shot(&format!("harbour noise {number:02}x.wav"), &[click()]);
    }
    desk.write("loop.toml", tab("120", 1, "ride-bell x---\nkik --x-"));
    let answer = desk.run(&["render", "loop.toml"]);
    assert_eq!(answer.code, Some(1));
    let plain = answer.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(plain.contains("the kit has no piece `ride-bell`"), "{plain}");
    assert!(plain.contains("`--lend` would substitute `ride`"), "{plain}");
    assert!(plain.contains("the kit has no piece `kik`"), "{plain}");
    assert!(plain.contains("did you mean `kick`?"), "{plain}");
    assert!(
        plain.contains("the kit has kick, ride, snare to snare-3, harbour"),
        "{plain}"
    );
    assert_eq!(
        plain.matches(" more").count(),
        1,
        "what there is stands there once: {plain}"
    );
    assert!(answer.err.lines().count() < 20, "{}", answer.err);
    assert_eq!(desk.names("renders").len(), 0);
}

#[test]
fn notes_are_not_lent_and_neither_is_what_is_no_percussion() {
    let desk = Desk::new();
    kit(&desk, &["tom-low_C3", "kick"]);
    desk.write(
        "notes.toml",
        "[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = \"tom-mid\"\nnotes = \"C3 - - -\"\n",
    );
    let answer = desk.run(&["render", "notes.toml", "--lend"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("the kit has no piece `tom-mid`"), "{}", answer.err);
    desk.write("bass.toml", tab("120", 1, "bass x---"));
    let answer = desk.run(&["render", "bass.toml", "--lend"]);
    assert_eq!(answer.code, Some(1));
    assert!(!answer.err.contains("--lend"), "{}", answer.err);
}

#[test]
fn a_swap_comes_before_a_loan_and_further_ones_of_a_kind_take_the_first() {
    let desk = Desk::new();
    kit(&desk, &["ride", "snare"]);
    desk.write("bells/mine.wav", std::fs::read(desk.path("snare.wav")).unwrap());
    desk.write("loop.toml", tab("120", 1, "ride-bell x---\nsnare-2 --x-"));
    let (_, told) = desk.render_file("loop.toml", &["--lend", "--swap", "ride-bell=bells/mine.wav"]);
    assert_eq!(told["lent"], serde_json::json!([{"piece": "snare-2", "by": "snare"}]));
}

#[test]
fn keys_of_a_midi_file_are_lent_pieces_too() {
    let desk = Desk::new();
    kit(&desk, &["ride", "kick"]);
    // One note on key 53, General MIDI's ride bell, then its end and the track's.
    let track = b"\x00\x99\x35\x64\x60\x89\x35\x00\x00\xff\x2f\x00";
    let mut take = b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk\0\0\0".to_vec();
    take.push(track.len() as u8);
    take.extend_from_slice(track);
    desk.write("take.mid", take);
    desk.write(
        "loop.toml",
        "[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = \"drums\"\nmidi = \"take.mid\"\n",
    );
    let plain = desk.run(&["check", "loop.toml"]);
    assert!(plain.err.contains("--lend"), "{}", plain.err);
    let (_, told) = desk.render_file("loop.toml", &["--lend"]);
    assert_eq!(
        (&told["hits"], &told["lent"][0]["by"]),
        (&serde_json::json!(1), &serde_json::json!("ride"))
    );
}
