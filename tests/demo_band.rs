//! The demo band: its loops use every mark of notes, degrees and comping, check clean, and sound balanced.

use std::path::{Path, PathBuf};

use crate::support::Desk;
use pressroll::internals::loopfile::{Mark, PITCHED_MARKS};
use toml::{Table, Value};

const LOOPS: [&str; 2] = ["low-tide", "high-water"];

fn path_of(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("kits/harbour-studio/loops/{name}.toml"))
}

fn parts(name: &str) -> Vec<Table> {
    let text = std::fs::read_to_string(path_of(name)).expect("a demo loop");
    let file: Table = text.parse().expect("TOML");
    let parts = file["part"].as_array().expect("parts");
    parts
        .iter()
        .map(|part| part.as_table().expect("a table").clone())
        .collect()
}

/// Every text of a value.
fn texts(value: &Value) -> Vec<String> {
    match value {
        Value::String(text) => vec![text.clone()],
        Value::Table(table) => table.values().flat_map(texts).collect(),
        _ => Vec::new(),
    }
}

/// True where a line holds a mark as the reference writes it: signs apart, a run such as `3..9`, or `{xxx}`.
fn holds(line: &str, sign: &str) -> bool {
    match sign.split_once("..") {
        Some((first, last)) if last.len() == 1 => line.chars().any(|c| (first..=last).contains(&&*c.to_string())),
        Some(_) => line.chars().any(|c| c.is_ascii_digit()),
        None if sign.starts_with('{') => line.contains('{') && line.contains('}'),
        None => line.contains(sign),
    }
}

#[test]
fn every_mark_of_notes_degrees_and_comping_is_played() {
    let parts: Vec<Table> = LOOPS.iter().flat_map(|name| parts(name)).collect();
    for (key, marks) in PITCHED_MARKS {
        let lines: Vec<String> = parts.iter().filter_map(|part| part.get(*key)).flat_map(texts).collect();
        for Mark { mark, .. } in *marks {
            for sign in mark.split(' ') {
                let played = lines.iter().any(|line| holds(line, sign));
                assert!(played, "no `{sign}` in the {key} of {LOOPS:?}");
            }
        }
    }
}

#[test]
fn the_band_does_all_that_a_part_can() {
    let parts: Vec<Table> = LOOPS.iter().flat_map(|name| parts(name)).collect();
    let doubles = || {
        parts
            .iter()
            .filter_map(|part| part.get("double"))
            .flat_map(|double| double.as_array().unwrap())
    };
    let unison = |double: &Value| double["interval"].as_integer() == Some(0) && double.get("piece").is_some();
    assert!(doubles().any(unison), "a tune in unison with another piece");
    assert!(
        doubles().any(|double| double["interval"].is_str()),
        "a second voice along in the key"
    );
    for key in [
        "strum", "arpeggio", "voicing", "register", "length", "change", "degrees", "comp",
    ] {
        assert!(parts.iter().any(|part| part.contains_key(key)), "a part with `{key}`");
    }
    let pushed = |part: &Table| {
        part.get("degrees")
            .is_some_and(|degrees| texts(degrees).join(" ").contains("<1"))
    };
    assert!(parts.iter().any(pushed), "a pushed bass");
}

#[test]
fn the_band_checks_clean_and_its_form_too() {
    let desk = Desk::new();
    for name in ["low-tide", "high-water", "tide-tables", "night-ferry", "last-lamp"] {
        let answer = desk.run(&["check", path_of(name).to_str().unwrap()]);
        answer.assert_done();
        // A chromatic step of the bass is meant, and told all the same.
        let hints: Vec<&str> = answer.err.lines().filter(|line| line.starts_with("warning")).collect();
        let meant = |hint: &&str| hint.contains("`bass` plays E in bar 6, outside of Bb major");
        assert!(hints.iter().all(meant), "{name}: {hints:?}");
    }
}

#[test]
fn the_band_is_balanced_and_the_seam_is_quiet() {
    let desk = Desk::new();
    for name in LOOPS {
        let path = path_of(name);
        let (sound, told) = desk.render_file(path.to_str().unwrap(), &["--stems", "parts"]);
        // Its file asks for -17 LUFS and -1 dBTP.
        crate::support::assert_near(told["lufs"].as_f64().unwrap(), -17.0, 0.3, name);
        let round: Vec<f32> = sound.left().iter().chain(sound.left()).copied().collect();
        let peak = crate::support::meter::true_peak_db(&round);
        assert!(peak <= -0.9, "{name}: {peak} dBTP");
        let stems: Vec<String> = desk
            .names("out-stems")
            .iter()
            .map(|stem| format!("out-stems/{stem}"))
            .collect();
        let mut arguments = vec!["measure", "--json"];
        arguments.extend(stems.iter().map(String::as_str));
        let answer = desk.run(&arguments);
        answer.assert_done();
        let measured: Vec<serde_json::Value> = serde_json::from_str(&answer.out).unwrap();
        let loudness = |stem: &str| {
            let of = measured
                .iter()
                .find(|one| one["file"].as_str().unwrap().ends_with(&format!("/{stem}.wav")));
            of.unwrap_or_else(|| panic!("{name} has no stem {stem}"))["lufs"]
                .as_f64()
                .unwrap()
        };
        let (bass, keys, tune) = (loudness("bass"), loudness("keys"), loudness("tune"));
        assert!((bass - tune).abs() < 4.0, "{name}: bass {bass}, tune {tune}");
        assert!(
            keys < tune && keys > tune - 8.0,
            "{name}: keys {keys} under the tune's {tune}"
        );
        for one in &measured {
            let (stem, lufs) = (&one["file"], one["lufs"].as_f64().unwrap());
            assert!(
                lufs > tune - 20.0 && lufs < tune + 2.0,
                "{name}: {stem} at {lufs}, the tune at {tune}"
            );
        }
        // The step over the seam is no larger than the steps within.
        for side in &sound.channels {
            let step = |pair: &[f32]| (pair[1] - pair[0]).abs();
            let within = side.windows(2).map(step).fold(0.0, f32::max);
            assert!(step(&[side[side.len() - 1], side[0]]) < 0.5 * within, "{name}");
        }
    }
}
