//! The promise that what fuzzing begins with and what it has found is read or refused, and never more than that.
//!
//! `tests/fuzz/run` looks for new finds; this replays the kept ones.

#[path = "fuzz/src/lib.rs"]
mod targets;

use std::fs;
use std::path::Path;

fn replay(target: &str, run: fn(&[u8])) {
    let fuzz = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz");
    let mut cases = 0;
    for folder in ["seeds", "found"] {
        let files = fs::read_dir(fuzz.join(folder).join(target))
            .into_iter()
            .flatten()
            .flatten();
        for file in files {
            println!("{}", file.path().display());
            run(&fs::read(file.path()).expect("a case"));
            cases += 1;
        }
    }
    assert!(cases > 0, "no case for {target}");
}

#[test]
fn loop_files() {
    replay("loop_file", targets::loop_file);
}

#[test]
fn form_files() {
    replay("form_file", targets::form_file);
}

#[test]
fn kit_files() {
    replay("kit_file", targets::kit_file);
}

#[test]
fn recordings() {
    replay("recording", targets::recording);
}

#[test]
fn performances() {
    replay("midi", targets::midi);
}

#[test]
fn words_of_harmony() {
    replay("words", targets::words);
}

#[test]
fn whole_renders() {
    replay("whole", targets::whole);
}
