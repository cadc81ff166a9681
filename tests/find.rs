//! One-shots are found by how they sound: the nearest to a file, those that could be a piece, and a few that stand for many.

use serde_json::Value;

use crate::support::{Desk, noise, pluck, tab};

/// Noise that dies away.
fn hiss(seconds: f64, seed: u32) -> Vec<f32> {
    let count = (seconds * 48_000.0) as usize;
    let fall = |at: usize| 10f64.powf(-3.0 * at as f64 / count as f64) as f32;
    noise(count, seed)
        .iter()
        .enumerate()
        .map(|(at, s)| *s as f32 / 65_536.0 * fall(at))
        .collect()
}

/// A desk with three low drums, two hats and a bell, only some of which have telling names.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("lib/kick.wav", &[pluck(60.0, 0.5, 0.5)]);
    desk.one_shot("lib/knock.wav", &[pluck(62.0, 0.5, 0.5)]);
    desk.one_shot("lib/pile.wav", &[pluck(75.0, 0.7, 0.5)]);
    desk.one_shot("lib/closed hat.wav", &[hiss(0.08, 1)]);
    desk.one_shot("lib/rustle.wav", &[hiss(0.1, 7)]);
    desk.one_shot("lib/bell.wav", &[pluck(2400.0, 2.0, 0.5)]);
    desk.one_shot("mine.wav", &[pluck(61.0, 0.5, 0.2)]);
    desk
}

fn found(desk: &Desk, options: &[&str]) -> Vec<Value> {
    let answer = desk.run(&[&["kit", "lib", "--json"], options].concat());
    answer.assert_done();
    let told: Value = serde_json::from_str(&answer.out).unwrap_or_else(|error| panic!("{error} in {}", answer.out));
    told["found"].as_array().expect("a list").clone()
}

fn files(found: &[Value]) -> Vec<&str> {
    found.iter().map(|one| one["file"].as_str().expect("a name")).collect()
}

#[test]
fn the_nearest_sounds_come_first_whatever_they_are_called() {
    let desk = desk();
    let all = found(&desk, &["--like", "mine.wav"]);
    assert_eq!(all.len(), 6);
    let mut nearest = files(&all[..2]);
    nearest.sort_unstable();
    assert_eq!(nearest, ["kick.wav", "knock.wav"]);
    assert_eq!(files(&all[2..3]), ["pile.wav"]);
    let far: Vec<f64> = all
        .iter()
        .map(|one| one["distance"].as_f64().expect("a number"))
        .collect();
    assert!(far.is_sorted() && far[0] < 0.5 && far[5] > 1.0, "{far:?}");
    assert_eq!(found(&desk, &["--like", "mine.wav", "--most", "2"]).len(), 2);
    // A file of the folder is not like itself.
    let others = found(&desk, &["--like", "lib/kick.wav"]);
    assert_eq!((others.len(), others[0]["file"].as_str()), (5, Some("knock.wav")));
    let page = desk.run(&["kit", "lib", "--like", "mine.wav"]).out;
    assert!(
        page.contains("knock") && page.lines().all(|line| line.chars().count() <= 80),
        "{page}"
    );
}

#[test]
fn what_could_be_a_piece_is_ranked_by_its_name_and_by_its_sound() {
    let desk = desk();
    let kicks = found(&desk, &["--role", "kick"]);
    assert_eq!(files(&kicks)[..2], ["kick.wav", "knock.wav"]);
    assert!(
        !files(&kicks)
            .iter()
            .any(|file| ["bell.wav", "rustle.wav", "closed hat.wav"].contains(file))
    );
    let hats = found(&desk, &["--role", "hat-closed"]);
    assert_eq!(files(&hats), ["closed hat.wav", "rustle.wav"]);
    let wrong = desk.run(&["kit", "lib", "--role", "kik"]);
    assert_eq!(wrong.code, Some(1));
    assert!(wrong.err.contains("did you mean `kick`?"), "{}", wrong.err);
}

#[test]
fn a_silent_file_has_nothing_like_it() {
    let desk = desk();
    desk.one_shot("nothing.wav", &[vec![0.0; 4800]]);
    let answer = desk.run(&["kit", "lib", "--like", "nothing.wav"]);
    assert_eq!((answer.code, answer.out.as_str()), (Some(1), ""));
    assert!(answer.err.contains("is silent"), "{}", answer.err);
}

#[test]
fn a_few_that_differ_are_tried_out_of_any_number() {
    let desk = Desk::new();
    desk.one_shot("kit/kick.wav", &[pluck(60.0, 0.4, 0.5)]);
    desk.write(
        "loop.toml",
        tab("120", 1, "kick x-x-").replace("[loop]\n", "[loop]\nkit = \"kit\"\n"),
    );
    // Seventy kicks at three heights, and hats that are no kicks.
    for number in 0..70u32 {
        let hz = [50.0, 80.0, 120.0][number as usize % 3] + f64::from(number) / 100.0;
        desk.one_shot(&format!("lib/thud {number} kick.wav"), &[pluck(hz, 0.4, 0.5)]);
        desk.one_shot(&format!("lib/hat closed {number}.wav"), &[hiss(0.08, number)]);
    }
    let run = |options: &[&str]| {
        let tryout = [
            "tryout",
            "loop.toml",
            "kick",
            "lib",
            "--no-page",
            "-o",
            "out",
            "--by",
            "path",
        ];
        desk.run(&[&tryout, options].concat())
    };
    let refused = run(&[]);
    assert_eq!(refused.code, Some(1));
    assert!(refused.err.contains("--pick"), "{}", refused.err);
    let answer = run(&["--pick", "3", "--json"]);
    answer.assert_done();
    let told: Value = serde_json::from_str(&answer.out).unwrap();
    let tried: Vec<&str> = told["tried"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["name"].as_str().unwrap())
        .collect();
    let height = |name: &&str| name.split(' ').nth(1).unwrap().parse::<usize>().unwrap() % 3;
    assert!(tried.iter().all(|name| name.contains("kick")), "{tried:?}");
    let mut heights: Vec<usize> = tried.iter().map(height).collect();
    heights.sort_unstable();
    assert_eq!(heights, [0, 1, 2], "one of each height: {tried:?}");
    assert_eq!(
        (&told["picked_of"], &told["fitting"]),
        (&Value::from(140), &Value::from(70))
    );
    assert!(run(&["--pick", "3", "--json"]).out.contains(tried[0]));
    assert_eq!(run(&["--pick", "65"]).code, Some(2));
}
