//! `transcribe --as kit` cuts a recording into slices, and a loop that plays it again from them: at its own tempo to the sample, at
//! others without clicks and holes. The recordings are pressroll's own, from the demo kits, so that what was struck is known.

use serde_json::Value;

use crate::support::wav::{self, Wav};
use crate::support::{Desk, number};

/// Ghosts, flams, a drag, an open hat, a tom, in stereo and in a room; swung and loose.
const GROOVE: &str = r#"
[loop]
kit = "demo/harbour-studio"
tempo = 97
bars = 2

[feel]
swing = 57
loose = { ms = 6, velocity = 8 }

[tab]
"1" = """
hat-closed  x-x- x-x- x-x- x-xo
snare       ---- X--g -g-- f--g
kick        X--- --x- --x- ----
"""
"2" = """
hat-closed  x-x- x-x- x--- ----
snare       ---- X--g -g-- d---
kick        X--- --x- --x- --x-
tom-floor   ---- ---- ---- --xx
"""

[[part]]
name = "snare"
room = -12
pan = 15

[[part]]
name = "hat-closed"
room = -18
pan = -40

[master]
loudness = -18
"#;

/// A loop's recording at a rate, and what `--json` told of the folder of its slices: `slices`.
fn cut(desk: &Desk, text: &str, rate: &str, options: &[&str]) -> (Wav, Value) {
    desk.run(&["start", "demo"]).assert_done();
    desk.write("groove.toml", text);
    desk.run(&[
        "render",
        "groove.toml",
        "-o",
        "take.wav",
        "--rate",
        rate,
        "--depth",
        "24",
    ])
    .assert_done();
    let words = ["transcribe", "take.wav", "--as", "kit", "-o", "slices", "--json"];
    let answer = desk.run(&[&words[..], options].concat());
    answer.assert_done();
    let told = serde_json::from_str(&answer.out).expect("JSON");
    let checked = desk.run(&["check", "slices/take.toml"]);
    checked.assert_done();
    assert!(
        checked.out.contains("no problems found"),
        "{}\n{}",
        checked.out,
        checked.err
    );
    (desk.read("take.wav"), told)
}

fn again(desk: &Desk, rate: &str, options: &[&str]) -> Wav {
    let words = [
        "render",
        "slices/take.toml",
        "-o",
        "again.wav",
        "--rate",
        rate,
        "--depth",
        "float",
    ];
    desk.run(&[&words[..], options].concat()).assert_done();
    desk.read("again.wav")
}

fn power(samples: impl Iterator<Item = f32>) -> f64 {
    samples.map(|sample| f64::from(sample).powi(2)).sum()
}

/// The difference of two sounds against the first, in dB.
fn null(known: &[Vec<f32>], other: &[Vec<f32>]) -> f64 {
    let apart = known
        .iter()
        .zip(other)
        .flat_map(|(known, other)| known.iter().zip(other).map(|(a, b)| a - b));
    10.0 * (power(apart) / power(known.iter().flatten().copied()))
        .max(1e-20)
        .log10()
}

/// Windows of 10 ms, each with its level in dB.
fn levels(sound: &Wav, rate: usize) -> Vec<f64> {
    let frames = sound.channels[0].len();
    let windows = (0..frames / (rate / 100)).map(|number| number * (rate / 100));
    let level = |from: usize| {
        power(
            sound
                .channels
                .iter()
                .flat_map(|side| side[from..from + rate / 100].iter().copied()),
        )
    };
    windows
        .map(|from| 10.0 * (level(from) / (rate / 100) as f64).max(1e-20).log10())
        .collect()
}

/// The largest step from sample to sample.
fn step(sound: &Wav) -> f32 {
    let steps = sound
        .channels
        .iter()
        .flat_map(|side| side.windows(2).map(|pair| (pair[1] - pair[0]).abs()));
    steps.fold(0.0, f32::max)
}

#[test]
fn the_loop_is_the_recording_at_every_rate_and_tempo() {
    for (rate, tempo) in [("44100", "97"), ("48000", "132.5"), ("96000", "71")] {
        let desk = Desk::new();
        let (take, _) = cut(
            &desk,
            &GROOVE.replace("tempo = 97", &format!("tempo = {tempo}")),
            rate,
            &[],
        );
        let again = again(&desk, rate, &[]);
        assert_eq!(take.channels[0].len(), again.channels[0].len(), "{rate} {tempo}");
        let null = null(&take.channels, &again.channels);
        assert!(null < -90.0, "{rate} {tempo}: {null} dB");
    }
}

#[test]
fn at_other_tempos_it_neither_clicks_nor_stops() {
    let desk = Desk::new();
    let (take, _) = cut(&desk, GROOVE, "48000", &["--bars", "2"]);
    let least = levels(&take, 48_000).into_iter().fold(f64::INFINITY, f64::min);
    for times in [0.8, 1.25] {
        let tempo = format!("loop.tempo={}", 97.0 * times);
        let other = again(&desk, "48000", &["--set", &tempo]);
        let expected = take.channels[0].len() as f64 / times;
        assert!((other.channels[0].len() as f64 - expected).abs() < 2.0);
        assert!(
            step(&other) < 1.05 * step(&take),
            "{times}: {} {}",
            step(&other),
            step(&take)
        );
        let quiet = levels(&other, 48_000).into_iter().fold(f64::INFINITY, f64::min);
        assert!(
            quiet > least - 18.0,
            "{times}: a hole of {quiet} dB, {least} dB in the recording"
        );
    }
}

#[test]
fn a_take_that_rings_out_is_played_from_its_first_bar_on() {
    let desk = Desk::new();
    let text = GROOVE.replace("bars = 2", "bars = 2\nending = \"let ring\"");
    let (take, told) = cut(&desk, &text, "44100", &["--tempo", "97"]);
    let text = std::fs::read_to_string(desk.path("slices/take.toml")).expect("a loop");
    assert!(text.contains("ending = \"let ring\""), "{text}");
    let again = again(&desk, "44100", &[]);
    // Where bar 1 begins before the recording, or in it.
    let lag = (number(&told["beat_offset"]) * 44_100.0).round() as i64;
    let from = |sound: &Wav, frames: i64| -> Vec<Vec<f32>> {
        let sides = sound.channels.iter();
        sides.map(|side| side[frames.max(0) as usize..].to_vec()).collect()
    };
    let null = null(&from(&take, lag), &from(&again, -lag));
    assert!(null < -60.0, "{null} dB at {lag}");
}

#[test]
fn one_channel_is_as_loud_as_it_was() {
    let desk = Desk::new();
    cut(&desk, GROOVE, "48000", &[]);
    let stereo = desk.read("take.wav");
    let side = vec![stereo.channels[0].clone()];
    desk.write("take.wav", wav::float(48_000, &side));
    desk.run(&["transcribe", "take.wav", "--as", "kit", "-o", "one"])
        .assert_done();
    desk.run(&["render", "one/take.toml", "-o", "again.wav", "--depth", "float"])
        .assert_done();
    let again = desk.read("again.wav");
    for channel in &again.channels {
        let null = null(&side, std::slice::from_ref(channel));
        assert!(null < -90.0, "{null} dB");
    }
}

#[test]
fn slices_of_a_drum_are_takes_of_a_kit() {
    let desk = Desk::new();
    cut(&desk, GROOVE, "48000", &[]);
    let names = desk.names("slices");
    assert!(
        names.contains(&"kit.toml".to_string()) && names.contains(&"kick-01.wav".to_string()),
        "{names:?}"
    );
    let text = "[loop]\nkit = \"slices\"\ntempo = 110\nbars = 1\n[tab]\n\"all\" = \"\"\"\nkick x--- x---\nsnare --x- --x-\n\"\"\"\n";
    desk.write("other.toml", text);
    let checked = desk.run(&["check", "other.toml"]);
    checked.assert_done();
    assert!(
        checked.out.contains("no problems found"),
        "{}\n{}",
        checked.out,
        checked.err
    );
}

#[test]
fn a_folder_is_replaced_where_it_is_pressrolls_alone() {
    let desk = Desk::new();
    cut(&desk, GROOVE, "48000", &[]);
    let words = ["transcribe", "take.wav", "--as", "kit", "-o", "slices"];
    desk.run(&words).assert_done();
    desk.write("slices/notes.txt", "keep me");
    let refused = desk.run(&words);
    assert_eq!(refused.code, Some(1));
    assert!(refused.err.contains("notes.txt is there already"), "{}", refused.err);
    std::fs::remove_file(desk.path("slices/notes.txt")).expect("it is there");
    let text = std::fs::read_to_string(desk.path("slices/take.toml")).expect("a loop");
    desk.write("slices/take.toml", text.replace("touch = 0", "touch = 1"));
    let refused = desk.run(&words);
    assert!(
        refused.err.contains("edited since pressroll wrote it"),
        "{}",
        refused.err
    );
    desk.run(&[&words[..], &["--force"]].concat()).assert_done();
    // A folder of somebody's, however it came about.
    desk.write("theirs/song.txt", "la");
    let refused = desk.run(&["transcribe", "take.wav", "--as", "kit", "-o", "theirs"]);
    assert_eq!(
        (refused.code, desk.names("theirs").len()),
        (Some(1), 1),
        "{}",
        refused.err
    );
}

#[test]
fn what_has_no_hit_is_told_so_and_leaves_nothing() {
    let desk = Desk::new();
    let tone = (0..96_000)
        .map(|n| (n as f32 * 0.03).sin() * (n as f32 / 96_000.0).min(0.3))
        .collect::<Vec<f32>>();
    desk.one_shot("hum.wav", &[tone]);
    let refused = desk.run(&["transcribe", "hum.wav", "--as", "kit", "-o", "slices"]);
    assert_eq!(refused.code, Some(1), "{}", refused.out);
    assert!(!desk.path("slices").exists());
}

#[test]
fn a_picture_names_what_was_heard_and_an_audition_has_both_sides() {
    let desk = Desk::new();
    let checks = ["--picture", "heard.svg", "--audition", "both.wav"];
    let (take, _) = cut(&desk, GROOVE, "48000", &checks);
    let picture = std::fs::read_to_string(desk.path("heard.svg")).expect("a picture");
    assert!(picture.contains("kick<") && picture.contains("BPM"), "{picture}");
    let both = desk.read("both.wav");
    // The recording is the loop: its mean on both sides.
    let sides = [vec![both.left().to_vec()], vec![both.right().to_vec()]];
    assert!(null(&sides[0], &sides[1]) < -60.0);
    let mean = take
        .left()
        .iter()
        .zip(take.right())
        .map(|(left, right)| 0.5 * (left + right));
    let mean: Vec<f32> = mean.collect();
    let gain = (power(both.left().iter().copied()) / power(mean.iter().copied())).sqrt() as f32;
    let louder: Vec<f32> = mean.iter().map(|sample| gain * sample).collect();
    assert!(null(&[louder], &sides[0]) < -60.0);
    assert!(both.left().iter().all(|sample| sample.abs() <= 0.892), "over -1 dBFS");
    // Neither is written over by chance, nor is a picture of no known format.
    desk.write("mine.svg", "<svg/>");
    let words = ["transcribe", "take.wav", "--as", "kit", "-o", "slices", "--picture"];
    for (file, what) in [
        ("mine.svg", "does not carry pressroll's mark"),
        ("heard.gif", "neither NAME.svg nor NAME.png"),
    ] {
        let refused = desk.run(&[&words[..], &[file]].concat());
        assert!(refused.code == Some(1) && refused.err.contains(what), "{}", refused.err);
    }
}

#[test]
fn an_audition_of_hits_plays_the_loop_that_is_written() {
    let desk = Desk::new();
    cut(&desk, GROOVE, "48000", &[]);
    let words = ["transcribe", "take.wav", "--audition", "both.wav"];
    let refused = desk.run(&words);
    assert!(
        refused.code == Some(1) && refused.err.contains("--audition plays the loop that -o writes"),
        "{}",
        refused.err
    );
    desk.run(&[&words[..], &["-o", "heard.toml", "--kit", "demo/harbour-studio"]].concat())
        .assert_done();
    assert_eq!(desk.read("both.wav").channels.len(), 2);
}
