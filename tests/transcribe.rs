//! `transcribe` writes down what a recording plays: here recordings that pressroll made itself, whose hits are known.

use serde_json::Value;

use crate::support::{Desk, number};

/// A loop that leaves no doubt: kick, snare and hats on their own, nothing drifts.
const GROOVE: &str = r#"
[loop]
kit = "demo/harbour-studio"
tempo = 97
bars = 4
ending = "let ring"

[tab]
"all" = """
kick        X--- ---- x-x- ----
snare       ---- x--- ---- x---
hat-closed  --x- --x- ---- --x-
"""
"#;

fn groove(desk: &Desk, text: &str) {
    desk.run(&["start", "demo"]).assert_done();
    desk.write("groove.toml", text);
    desk.run(&["render", "groove.toml", "-o", "groove.wav"]).assert_done();
}

fn told(desk: &Desk, options: &[&str]) -> Value {
    let answer = desk.run(&[&["transcribe", "groove.wav", "--json"], options].concat());
    answer.assert_done();
    serde_json::from_str(&answer.out).expect("JSON")
}

#[test]
fn json_has_the_hits_and_the_tempo() {
    let desk = Desk::new();
    groove(&desk, GROOVE);
    let told = told(&desk, &[]);
    for name in [
        "seconds",
        "tempo",
        "tempo_confidence",
        "beat_offset",
        "key",
        "tuning_cents",
        "hits",
        "notes",
    ] {
        assert!(told.get(name).is_some(), "no {name}");
    }
    let tempo = number(&told["tempo"]);
    assert!((tempo / 97.0 - 1.0).abs() < 0.001, "{tempo}");
    assert!(number(&told["beat_offset"]).abs() < 0.01, "{}", told["beat_offset"]);
    let hits = told["hits"].as_array().expect("a list");
    assert_eq!(hits.len(), 4 * 8);
}

#[test]
fn a_loop_that_is_written_renders_at_once() {
    let desk = Desk::new();
    groove(&desk, GROOVE);
    desk.run(&[
        "transcribe",
        "groove.wav",
        "-o",
        "heard.toml",
        "--kit",
        "demo/harbour-studio",
    ])
    .assert_done();
    desk.run(&["render", "heard.toml", "-o", "again.wav"]).assert_done();
}
