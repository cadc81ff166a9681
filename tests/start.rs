//! `start` makes the demo kits whole or not at all, and a first loop on anyone's kit that renders at once.

use crate::support::{Desk, click};

#[test]
fn nothing_is_overwritten_and_nothing_half_written() {
    let desk = Desk::new();
    desk.write("demo/boat-shed/kit.toml", "mine");
    let answer = desk.run(&["start", "demo"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("kit.toml is there already"), "{}", answer.err);
    assert_eq!(
        std::fs::read_to_string(desk.path("demo/boat-shed/kit.toml")).unwrap(),
        "mine"
    );
    assert!(!desk.path("demo/harbour-studio").exists());
}

#[test]
fn all_files_are_written_where_they_say() {
    let desk = Desk::new();
    desk.run(&["start", "demo"]).assert_done();
    for demo in pressroll::internals::starter::DEMOS {
        for (path, bytes) in demo.files {
            let written = std::fs::read(desk.path("demo").join(demo.name).join(path)).unwrap();
            assert!(written == *bytes, "{path}");
        }
    }
}

#[test]
fn a_first_loop_renders_on_whatever_there_is() {
    for names in [&["Kick 1.wav", "SD_02.wav", "closed hat.wav"][..], &["bucket.wav"]] {
        let desk = Desk::new();
        names.iter().for_each(|name| {
            desk.one_shot(&format!("shots/{name}"), &[click()]);
        });
        desk.run(&["start", ".", "--kit", "shots"]).assert_done();
        desk.run(&["render", "first-loop.toml", "-o", "out.wav"]).assert_done();
        assert_eq!(
            desk.run(&["start", ".", "--kit", "shots"]).code,
            Some(1),
            "it is not overwritten"
        );
    }
}
