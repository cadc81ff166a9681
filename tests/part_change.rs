//! `[part.change]` sets every key of playing for some bars: what is played there differs, and nowhere else.

use crate::support::{Desk, click, pluck, tone};
use pressroll::internals::schema::Table;

/// A hit pattern, a comped chord or a note line that a key has something to say about, and what the key is changed to.
const CHANGES: &[(&str, &str, &str)] = &[
    ("piece", "hits = \"x---\"", "\"keys\""),
    ("marks", "hits = \"x-c-\"\nmarks = { c = \"clap\" }", "{ c = \"keys\" }"),
    ("odds", "hits = \"mmmm\"\nodds = 100", "0"),
    ("behind", "hits = \"x---\"", "30"),
    ("swing", "hits = \"xxxx xxxx xxxx xxxx\"", "66.7"),
    ("loose", "hits = \"x-x-x-x-\"", "{ ms = 10, velocity = 5 }"),
    ("velocity", "hits = \"x-x-x-x-\"", "\"30-60\""),
    ("mute", "hits = \"x---\"", "true"),
    ("voicing", "piece = \"keys\"\ncomp = \"x===\"", "\"shell\""),
    ("register", "piece = \"keys\"\ncomp = \"x===\"", "\"C6\""),
    ("strum", "piece = \"keys\"\ncomp = \"x===\"", "40"),
    ("arpeggio", "piece = \"keys\"\ncomp = \"x===\"", "{ step = \"1/8\" }"),
    ("length", "piece = \"keys\"\nnotes = \"C4 = = -\"", "25"),
    (
        "double",
        "piece = \"keys\"\nnotes = \"C4 = = -\"",
        "[{ interval = 7, gain = -3 }]",
    ),
    ("slide", "piece = \"keys\"\nnotes = \"C4 E4:slide = -\"", "\"200 ms\""),
    ("bend", "piece = \"keys\"\nnotes = \"C4:bend=+2 = = -\"", "\"300 ms\""),
    ("scoop", "piece = \"keys\"\nnotes = \"C4:scoop = = -\"", "{ depth = 7 }"),
    ("fall", "piece = \"keys\"\nnotes = \"C4:fall = = -\"", "{ depth = 12 }"),
    (
        "vibrato",
        "piece = \"keys\"\nnotes = \"C4:vibrato = = -\"",
        "{ rate = 7, depth = 80, delay = 0 }",
    ),
];

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    desk.one_shot("clap.wav", &[pluck(900.0, 0.05, 0.4)]);
    desk.one_shot("keys_C4.wav", &[tone(261.6256, 3.0, 0.2)]);
    desk
}

/// Two bars of a second each; the change, if any, holds in the second.
fn song(part: &str, change: Option<(&str, &str)>) -> String {
    let change = change.map_or(String::new(), |(key, value)| {
        format!("[part.change]\n\"2\" = {{ {key} = {value} }}\n")
    });
    format!(
        "chords = \"Cm9\"\n[loop]\ntempo = 240\nbars = 2\nending = \"damp\"\n[master]\nceiling = \"off\"\n[[part]]\nname = \"kick\"\n\
         release = 5\n{part}\n{change}"
    )
}

#[test]
fn every_key_of_playing_can_change_for_some_bars() {
    let tested: Vec<&str> = CHANGES.iter().map(|(key, ..)| *key).collect();
    for key in Table::Playing.own() {
        assert!(tested.contains(&key.name), "`{}` has no row here", key.name);
    }
    let desk = desk();
    for (key, part, value) in CHANGES {
        let plain = desk.render(&song(part, None));
        let changed = desk.render(&song(part, Some((key, value))));
        let bar =
            |sound: &crate::support::wav::Wav, nth: usize| sound.left()[nth * 48_000..(nth + 1) * 48_000].to_vec();
        // A tone that is held ends a little after the barline, and the fade of its end begins there.
        assert!(
            crate::support::meter::null_db(&bar(&plain, 0), &bar(&changed, 0)) < -120.0
                || *key == "voicing"
                || *key == "register",
            "{key}: bar 1"
        );
        assert!(
            crate::support::meter::null_db(&bar(&plain, 1), &bar(&changed, 1)) > -40.0,
            "{key}: bar 2"
        );
    }
}

#[test]
fn marks_that_are_not_named_keep_what_they_play() {
    let desk = desk();
    let part = "hits = \"c-k-\"\nmarks = { c = \"clap\", k = \"keys\" }\nlength = 50";
    let changed = desk.render(&song(part, Some(("marks", "{ c = \"keys\" }"))));
    let plain = desk.render(&song(part, None));
    let half = |sound: &crate::support::wav::Wav| sound.left()[72_000..].to_vec();
    assert!(
        crate::support::meter::null_db(&half(&plain), &half(&changed)) < -90.0,
        "`k` is the keys in bar 2 as well"
    );
}

#[test]
fn a_mark_told_in_other_bars_alone_is_pointed_at() {
    let desk = desk();
    desk.write(
        "loop.toml",
        song("hits = \"x-z-\"", Some(("marks", "{ z = \"clap\" }"))),
    );
    let answer = desk.run(&["check", "loop.toml"]);
    assert_eq!(answer.code, Some(1));
    assert!(
        answer.err.contains("`z` is no mark in bar 1, only in other bars"),
        "{}",
        answer.err
    );
    assert!(answer.err.contains("loop.toml:11:11"), "{}", answer.err);
    desk.write(
        "loop.toml",
        song(
            "hits = { \"1\" = \"x---\", \"2\" = \"x-z-\" }",
            Some(("marks", "{ z = \"clap\" }")),
        ),
    );
    desk.run(&["check", "loop.toml"]).assert_done();
    desk.write(
        "loop.toml",
        song("hits = \"x---\"", Some(("marks", "{ x = \"clap\" }"))),
    );
    let answer = desk.run(&["check", "loop.toml"]);
    assert!(answer.err.contains("`x` cannot play a piece"), "{}", answer.err);
}
