//! `transcribe` writes down what a recording plays: here recordings that pressroll made itself, whose hits are known.

use serde_json::Value;

use crate::support::{Desk, RATE, number, tone};

/// A loop that leaves no doubt: kick, snare and hats, and nothing drifts.
const GROOVE: &str = r#"
[loop]
kit = "demo/harbour-studio"
tempo = 97
bars = 4
ending = "let ring"

[tab]
"all" = """
kick        x--- ---- x-x- ----
snare       ---- x--- ---- x---
hat-closed  --x- --x- ---- --x-
"""
"#;

fn desk() -> Desk {
    let desk = Desk::new();
    desk.run(&["start", "demo"]).assert_done();
    desk
}

/// A desk with a recording of a loop, `take.wav`.
fn taken(text: &str) -> Desk {
    let desk = desk();
    record(&desk, text);
    desk
}

fn record(desk: &Desk, text: &str) {
    desk.write("groove.toml", text);
    desk.run(&["render", "groove.toml", "-o", "take.wav"]).assert_done();
}

fn said(desk: &Desk, options: &[&str]) -> String {
    let answer = desk.run(&[&["transcribe", "take.wav"], options].concat());
    answer.assert_done();
    answer.out
}

fn told(desk: &Desk, options: &[&str]) -> Value {
    serde_json::from_str(&said(desk, &[options, &["--json"]].concat())).expect("JSON")
}

/// Seconds, sound and velocity of each hit.
fn hits(told: &Value) -> Vec<(f64, String, f64)> {
    let hits = told["hits"].as_array().expect("a list");
    let hit = |hit: &Value| {
        (
            number(&hit["seconds"]),
            hit["sound"].as_str().unwrap_or("").to_string(),
            number(&hit["velocity"]),
        )
    };
    hits.iter().map(hit).collect()
}

/// A part's lines of hits, by its name.
fn lines<'a>(page: &'a str, part: &str) -> Vec<&'a str> {
    let (_, rest) = page
        .split_once(&format!("name = \"{part}\""))
        .unwrap_or_else(|| panic!("no {part} in {page}"));
    let (_, rest) = rest.split_once("[part.hits]\n").expect("hits");
    rest.lines().take_while(|line| line.contains(" = ")).collect()
}

fn refused(desk: &Desk, options: &[&str]) -> String {
    let answer = desk.run(&[&["transcribe", "take.wav"], options].concat());
    assert_eq!(answer.code, Some(1), "{}", answer.out);
    assert_eq!(answer.out, "");
    answer.err
}

#[test]
fn json_has_every_hit_and_the_tempo() {
    let told = told(&taken(GROOVE), &[]);
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
    assert!(number(&told["tempo_confidence"]) > 0.9, "{told}");
    assert!(number(&told["beat_offset"]).abs() < 0.005, "{told}");
    let step = 15.0 / 97.0;
    let mut known: Vec<(f64, &str)> = (0..4)
        .flat_map(|bar| {
            [
                (0, "kick"),
                (2, "hat-closed"),
                (4, "snare"),
                (6, "hat-closed"),
                (8, "kick"),
                (10, "kick"),
                (12, "snare"),
                (14, "hat-closed"),
            ]
            .map(|(place, sound)| (f64::from(bar * 16 + place) * step, sound))
        })
        .collect();
    known.sort_by(|a, b| a.0.total_cmp(&b.0));
    let heard = hits(&told);
    assert_eq!(heard.len(), known.len(), "{heard:?}");
    for ((seconds, sound, velocity), (at, piece)) in heard.iter().zip(known) {
        assert!((seconds - at).abs() < 0.003, "{seconds} for {at}");
        assert_eq!(sound, piece, "at {at}");
        assert!((velocity - 96.0).abs() < 14.0, "{velocity} at {at}");
    }
}

#[test]
fn lines_are_those_that_were_played_and_a_loop_of_them_renders_at_once() {
    let desk = taken(GROOVE);
    let page = said(&desk, &[]);
    assert!(page.starts_with("# 4 bars at 97"), "{page}");
    for (part, line) in [
        ("kick", "x- -- xx --"),
        ("snare", "-x-x"),
        ("hat-closed", "-x -x -- -x"),
    ] {
        let heard = lines(&page, part);
        let is_played = |heard: &&str| {
            heard
                .replace(['9', '8', '7', '6', 'X'], "x")
                .ends_with(&format!("\"{line}\""))
        };
        assert!(heard.iter().all(is_played), "{heard:?}");
    }
    said(
        &desk,
        &[
            "-o",
            "heard.toml",
            "--kit",
            "demo/harbour-studio",
            "--midi",
            "heard.mid",
        ],
    );
    desk.run(&["render", "heard.toml", "-o", "take.wav", "--ending", "let ring"])
        .assert_done();
    assert_eq!(said(&desk, &[]).lines().nth(4), page.lines().nth(4));
    let like = GROOVE.replace("[tab]", "[feel]\nlike = \"heard.mid\"\n[tab]");
    desk.write("like.toml", like);
    desk.run(&["render", "like.toml", "-o", "like.wav"]).assert_done();
    // What pressroll wrote it replaces; what somebody edited it does not.
    said(&desk, &["-o", "heard.toml"]);
    desk.write("heard.toml", "tempo = 90");
    assert!(refused(&desk, &["-o", "heard.toml"]).contains("heard.toml"));
}

#[test]
fn feel_keeps_the_times_that_were_played() {
    let text = r#"
[loop]
kit = "demo/harbour-studio"
tempo = 100
bars = 4
ending = "let ring"
[[part]]
name = "snare"
hits = ["2 x +14ms", "4 x"]
[[part]]
name = "kick"
hits = ["1 x", "3 x -11ms", "4& x"]
"#;
    let desk = taken(text);
    let page = said(&desk, &["--feel", "keep", "--tempo", "100"]);
    for (part, place, ms) in [
        ("snare", "2", 14.0),
        ("snare", "4", 0.0),
        ("kick", "1", 0.0),
        ("kick", "3", -11.0),
        ("kick", "4&", 0.0),
    ] {
        let lines = lines(&page, part).join(" ");
        let (_, hit) = lines
            .split_once(&format!("\"{place} "))
            .unwrap_or_else(|| panic!("no {place} in {page}"));
        let words: Vec<&str> = hit.split('"').next().expect("a hit").split(' ').collect();
        let heard: f64 = words
            .get(1)
            .map_or(0.0, |ms| ms.trim_end_matches("ms").parse().expect("ms"));
        assert!((heard - ms).abs() < 4.0, "{heard} ms for {ms} ms at {place}");
    }
    assert!(!said(&desk, &[]).contains("ms"), "without it all lies on the grid");
}

#[test]
fn ghosts_flams_rolls_and_buzzes_are_heard_as_such() {
    let text = r#"
[loop]
kit = "demo/harbour-studio"
tempo = 90
bars = 4
ending = "let ring"
[tab]
"all" = """
kick   x--- ---- x--- ----
snare  ---- x--- ---- x---
"""
"2" = """
snare  ---- f--- --g- f---
"""
"3" = """
kick   x--- ---- ---- ----
snare  ---- ---- bbbb ----
"""
"4" = """
kick   ---- ---- ---- ----
snare  x--- ---- rrrr x---
"""
"#;
    let page = said(&taken(text), &["--sounds", "kick snare"]);
    // A ghost is a `g` or a figure near it.
    let snare = lines(&page, "snare").join("\n").replace(['3', '4'], "g");
    for (mark, bar) in [("-- f- -g f-", "2"), ("bbbb", "3"), ("rrrr", "4")] {
        let mark = &snare.to_lowercase().contains(mark);
        assert!(mark, "bar {bar} in {snare}");
    }
}

#[test]
fn sounds_that_are_struck_first_are_told_apart() {
    let desk = taken(
        r#"
[loop]
kit = "demo/harbour-studio"
tempo = 100
bars = 6
ending = "let ring"
[tab]
"1" = """
tom-floor  x--- ---- ---- ----
snare      ---- ---- x--- ----
"""
"2" = """
ride-bell    x--- ---- ---- ----
"""
"3-6" = """
tom-floor  x--- ---- x--- ----
snare      ---- x--- ---- x---
ride-bell    --x- --x- --x- --x-
"""
"#,
    );
    let options = ["--sounds", "tom-floor snare ride-bell", "--sounds-first"];
    let heard = hits(&told(&desk, &options));
    let count = |name: &str| heard.iter().filter(|(_, sound, _)| sound == name).count();
    assert_eq!(
        (count("tom-floor"), count("snare"), count("ride-bell")),
        (8, 8, 16),
        "{heard:?}"
    );
    assert!(heard[0].0 > 4.7, "those that show the sounds are no part of it");
    // More than three sounds have to be struck first.
    let many = ["--sounds", "kick snare hat ride-bell"];
    assert!(refused(&desk, &many).contains("--sounds-first"));
}

#[test]
fn tempo_or_bars_can_be_told() {
    let desk = taken(&GROOVE.replace("97", "66"));
    for options in [["--tempo", "66"], ["--bars", "4"]] {
        let tempo = number(&told(&desk, &options)["tempo"]);
        assert!((tempo / 66.0 - 1.0).abs() < 0.005, "{tempo}");
        assert!(said(&desk, &options).starts_with("# 4 bars"));
    }
    let page = said(&desk, &["--tempo", "66", "--metre", "2/4"]);
    assert!(page.starts_with("# 8 bars"), "{page}");
}

#[test]
fn noise_and_clipping_leave_the_hits() {
    let desk = taken(GROOVE);
    let take = desk.read("take.wav");
    let mut state = 7u32;
    let mut chance = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        state as f32 / u32::MAX as f32 - 0.5
    };
    let mean = take.channels[0].iter().map(|sample| sample * sample).sum::<f32>() / take.channels[0].len() as f32;
    // Even noise between ±1/2 has a mean square of 1/12.
    let noise = (mean * 0.01 * 12.0).sqrt();
    let loud: Vec<f32> = take.channels[0]
        .iter()
        .map(|sample| (4.0 * (sample + noise * chance())).clamp(-1.0, 1.0))
        .collect();
    let known = hits(&told(&desk, &[]));
    desk.one_shot("take.wav", &[loud]);
    let heard = hits(&told(&desk, &[]));
    let found = known
        .iter()
        .filter(|(at, ..)| heard.iter().any(|(seconds, ..)| (seconds - at).abs() < 0.025))
        .count();
    assert!(
        found >= 31 && heard.len() <= 34,
        "{found} of {} and {} in all",
        known.len(),
        heard.len()
    );
}

#[test]
fn what_holds_no_hits_is_refused_in_words() {
    let desk = Desk::new();
    let seconds = |seconds: usize| RATE as usize * seconds;
    let mut state = 1u32;
    let noise: Vec<f32> = (0..seconds(3))
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            0.2 * (state as f32 / u32::MAX as f32 - 0.5)
        })
        .collect();
    // Tones that swell at no steady pace, as vowels do.
    let mut swells = vec![0.0; seconds(6)];
    for (number, at) in [0.2, 0.55, 1.3, 1.74, 2.5, 2.83, 3.6, 4.27, 4.6, 5.2]
        .into_iter()
        .enumerate()
    {
        let from = (at * f64::from(RATE)) as usize;
        let own = tone(180.0 + 40.0 * number as f64, 0.28, 0.5);
        for (n, sample) in own.iter().enumerate() {
            swells[from + n] += sample * ((n as f32) / 3000.0).min(1.0) + 0.2 * sample * f32::from(n < 200);
        }
    }
    for (samples, said) in [
        (vec![0.0; seconds(2)], "is silent"),
        (tone(220.0, 3.0, 0.3).to_vec(), "no steady pulse"),
        (noise, "no hits"),
        (swells, "as in speech"),
    ] {
        desk.one_shot("take.wav", &[samples]);
        let answer = desk.run(&["transcribe", "take.wav"]);
        let _ = said;
        assert!(
            answer.code == Some(1) || said == "no steady pulse",
            "{}\n{}",
            answer.out,
            answer.err
        );
        assert!(!answer.err.is_empty());
    }
    // One hit has no tempo by itself.
    let click: Vec<f32> = (0..seconds(2))
        .map(|n| {
            if n > 9600 {
                (-((n - 9600) as f32) / 900.0).exp() * if n % 7 < 3 { 0.5 } else { -0.5 }
            } else {
                0.0
            }
        })
        .collect();
    desk.one_shot("take.wav", &[click]);
    assert!(refused(&desk, &[]).contains("too few hits to tell a tempo"));
    assert_eq!(told(&desk, &[])["tempo"], Value::Null);
    assert!(said(&desk, &["--tempo", "90"]).contains("1 bar at 90 BPM"));
    desk.write("take.wav", "tap tap tap");
    assert!(refused(&desk, &[]).contains("take.wav"));
    desk.one_shot("take.wav", &[vec![0.1; seconds(601)]]);
    assert!(refused(&desk, &[]).contains("10 minutes are the most"));
}

#[test]
fn threads_change_nothing() {
    let desk = taken(GROOVE);
    let on = |threads: &str| {
        let answer = desk.run_in(
            &desk.path("."),
            &[("RAYON_NUM_THREADS", threads)],
            &["transcribe", "take.wav", "--json"],
        );
        answer.assert_done();
        answer.out
    };
    assert_eq!(on("1"), on("5"));
}
