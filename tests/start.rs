//! `start` makes the demo kits whole or not at all, and a first loop on anyone's kit that renders at once.

use std::fs;

use serde_json::Value;

use crate::support::{Desk, assert_near, click, noise, pluck};

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
    let (list, bytes) = pressroll::internals::starter::CATALOGUE;
    assert_eq!(std::fs::read(desk.path("demo").join(list)).unwrap(), bytes);
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

/// Noise that dies away, at a level.
fn hiss(seconds: f64, seed: u32, size: f32) -> Vec<f32> {
    let count = (seconds * 48_000.0) as usize;
    let fall = |at: usize| size * 10f64.powf(-3.0 * at as f64 / count as f64) as f32;
    noise(count, seed)
        .iter()
        .enumerate()
        .map(|(at, s)| *s as f32 / 32_768.0 * fall(at))
        .collect()
}

/// A library of two makers, neither of whom has numbered the same drum, and of much else.
fn library() -> Desk {
    let desk = Desk::new();
    for number in 1..=4u32 {
        let hz = 50.0 + 9.0 * f64::from(number);
        desk.one_shot(
            &format!("lib/Loose kicks/thump {number} kick.wav"),
            &[pluck(hz, 0.3, 0.9)],
        );
        desk.one_shot(&format!("lib/gravel {number}.wav"), &[hiss(1.5, number, 0.3)]);
    }
    desk.one_shot("lib/Pier/Kicks/pier kick.wav", &[pluck(55.0, 0.4, 0.7)]);
    desk.one_shot("lib/Pier/Snares/pier snare.wav", &[hiss(0.25, 90, 0.2)]);
    desk.one_shot("lib/Pier/Hats/pier closed hat.wav", &[hiss(0.08, 91, 0.9)]);
    desk.one_shot("lib/Shed/shed snare.wav", &[hiss(0.3, 92, 0.5)]);
    desk
}

/// The loudness of a part of the first loop, rendered alone.
fn alone(desk: &Desk, part: &str) -> f64 {
    let answer = desk.run(&[
        "render",
        "first-loop.toml",
        "--only",
        part,
        "-o",
        "alone.wav",
        "--json",
        "--force",
    ]);
    answer.assert_done();
    let told: Value = serde_json::from_str(&answer.out).unwrap();
    told["lufs"].as_f64().expect("it sounds")
}

#[test]
fn a_first_loop_on_a_library_plays_one_makers_set_at_measured_levels() {
    let desk = library();
    let answer = desk.run(&["start", ".", "--kit", "lib"]);
    answer.assert_done();
    for file in [
        "Pier/Kicks/pier kick.wav",
        "Pier/Snares/pier snare.wav",
        "Pier/Hats/pier closed hat.wav",
    ] {
        assert!(answer.out.contains(file), "{file}:\n{}", answer.out);
    }
    assert!(answer.out.contains("lie in `Pier`"), "{}", answer.out);
    let levels = ["hat-closed", "snare", "kick"].map(|part| alone(&desk, part));
    let [hat, snare, kick] = levels;
    assert_near(snare, kick, 1.0, "snare and kick");
    assert_near(hat, kick - 8.0, 1.0, "the hat lies under them");
    // It is as loud as it was said to be.
    let told: Vec<f64> = answer
        .out
        .lines()
        .filter(|line| line.contains(".wav"))
        .map(|line| {
            line.split_whitespace()
                .nth(2)
                .expect("a figure")
                .parse()
                .expect("a number")
        })
        .collect();
    assert_eq!(told.len(), 3, "{}", answer.out);
    for (is, told) in levels.into_iter().zip(told) {
        assert_near(is, told, 1.0, "as told");
    }
}

#[test]
fn what_a_folder_lacks_leaves_no_line_in_its_first_loop() {
    let desk = Desk::new();
    desk.one_shot("shots/Kick 1.wav", &[pluck(60.0, 0.4, 0.5)]);
    desk.one_shot("shots/big gravel.wav", &[hiss(0.5, 3, 0.5)]);
    desk.run(&["start", ".", "--kit", "shots"]).assert_done();
    let text = fs::read_to_string(desk.path("first-loop.toml")).unwrap();
    let tab: Vec<&str> = text
        .split("\"\"\"")
        .nth(1)
        .unwrap()
        .trim_start_matches('\n')
        .lines()
        .collect();
    assert_eq!(tab.len(), 1, "{text}");
    assert!(tab[0].starts_with("kick  X---"), "{text}");
    assert!(!text.contains("\n\n\n"), "{text}");
    // Names that tell nothing, and that no line of a tab can begin with, play all the same.
    let other = Desk::new();
    other.one_shot("shots/!!!.wav", &[pluck(60.0, 0.4, 0.5)]);
    other.run(&["start", ".", "--kit", "shots"]).assert_done();
    assert!(alone_sounds(&other));
}

fn alone_sounds(desk: &Desk) -> bool {
    let answer = desk.run(&["render", "first-loop.toml", "-o", "all.wav", "--json"]);
    answer.assert_done();
    serde_json::from_str::<Value>(&answer.out).unwrap()["lufs"].is_number()
}
