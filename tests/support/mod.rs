//! What the promise files share: a temporary folder of one-shots and loops in which the binary runs, as at a user's desk.

// Every promise file builds its own copy of this module and uses a share of it.
#![allow(dead_code)]

pub mod form;
pub mod meter;
pub mod page;
#[cfg(unix)]
pub mod reader;
#[cfg(unix)]
pub mod watched;
pub mod wav;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use serde_json::Value;
use tempfile::TempDir;

use wav::Wav;

/// The rate at which renders come unless `--rate` says otherwise.
pub const RATE: u32 = 48000;

/// A temporary folder that is kit, desk and outbox at once; it goes with the value.
pub struct Desk {
    folder: TempDir,
    /// The user's cache folder.
    cache: TempDir,
}

/// What a run of the binary left behind.
pub struct Answer {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
    pub took: Duration,
}

impl Desk {
    pub fn new() -> Desk {
        Desk {
            folder: tempfile::Builder::new()
                .prefix("pressroll-promise")
                .tempdir()
                .expect("a temporary folder"),
            cache: TempDir::new().expect("a temporary folder"),
        }
    }

    /// The user's cache folder.
    pub fn cache(&self) -> &Path {
        self.cache.path()
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes a text file, with the folders on its way.
    pub fn write(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().expect("a folder above")).expect("folders are made");
        std::fs::write(&path, text).expect("a file is written");
        path
    }

    /// Writes a one-shot of 32-bit floats at 48 kHz.
    pub fn one_shot(&self, name: &str, channels: &[Vec<f32>]) -> PathBuf {
        self.write(name, wav::float(RATE, channels))
    }

    /// Runs the binary in the desk's folder.
    pub fn run(&self, arguments: &[&str]) -> Answer {
        self.run_in(self.folder.path(), &[], arguments)
    }

    /// Runs the binary in another folder, with environment variables set.
    pub fn run_in(&self, folder: &Path, variables: &[(&str, &str)], arguments: &[&str]) -> Answer {
        let started = Instant::now();
        let done = Command::new(env!("CARGO_BIN_EXE_pressroll"))
            .args(arguments)
            .env("XDG_CACHE_HOME", self.cache())
            .envs(variables.iter().copied())
            .env("NO_COLOR", "1")
            .stdin(std::process::Stdio::null())
            .current_dir(folder)
            .output()
            .expect("the binary runs");
        Answer {
            code: done.status.code(),
            out: String::from_utf8_lossy(&done.stdout).into_owned(),
            err: String::from_utf8_lossy(&done.stderr).into_owned(),
            took: started.elapsed(),
        }
    }

    /// Renders a loop's text to floats; what went wrong ends the test.
    pub fn render(&self, text: &str) -> Wav {
        self.render_with(text, &[]).0
    }

    /// Renders a loop's text with more options: the audio and what `--json` told.
    pub fn render_with(&self, text: &str, options: &[&str]) -> (Wav, Value) {
        self.write("loop.toml", text);
        self.render_file("loop.toml", options)
    }

    /// Renders a file that is there: the audio and what `--json` told.
    pub fn render_file(&self, file: &str, options: &[&str]) -> (Wav, Value) {
        let mut arguments = vec!["render", file, "-o", "out.wav", "--json"];
        if !options.contains(&"--depth") {
            arguments.extend(["--depth", "float"]);
        }
        arguments.extend(options);
        let answer = self.run(&arguments);
        assert_eq!(answer.code, Some(0), "{arguments:?}\n{}", answer.err);
        let told = serde_json::from_str(&answer.out).unwrap_or_else(|error| panic!("{error} in {}", answer.out));
        (self.read("out.wav"), told)
    }

    /// Reads a WAV of the desk.
    pub fn read(&self, name: &str) -> Wav {
        let bytes = std::fs::read(self.path(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
        Wav::parse(&bytes)
    }

    /// The names of everything in a folder of the desk, in order.
    pub fn names(&self, folder: &str) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(self.path(folder))
            .into_iter()
            .flatten()
            .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }
}

impl Answer {
    /// Standard error's first line and what follows, for a message of a failing test.
    pub fn assert_done(&self) {
        assert_eq!(self.code, Some(0), "{}", self.err);
    }
}

/// A loop of a tempo, bars and lines of tablature that name the parts.
pub fn tab(tempo: &str, bars: u32, lines: &str) -> String {
    format!("[loop]\ntempo = {tempo}\nbars = {bars}\n\n[tab]\n\"all\" = \"\"\"\n{lines}\n\"\"\"\n")
}

/// A click: one sample of half of full scale, then nothing.
pub fn click() -> Vec<f32> {
    let mut samples = vec![0.0; 64];
    samples[0] = 0.5;
    samples
}

/// A cosine, so that it begins at its full height; `size` is its peak.
pub fn tone(hz: f64, seconds: f64, size: f64) -> Vec<f32> {
    (0..(seconds * f64::from(RATE)).round() as usize)
        .map(|i| (size * (std::f64::consts::TAU * hz * i as f64 / f64::from(RATE)).cos()) as f32)
        .collect()
}

/// A tone that falls 60 dB in `seconds`, which it also lasts.
pub fn pluck(hz: f64, seconds: f64, size: f64) -> Vec<f32> {
    let samples = tone(hz, seconds, size);
    let length = samples.len() as f64;
    let fall = |i: usize| 10f64.powf(-3.0 * i as f64 / length) as f32;
    samples.iter().enumerate().map(|(i, sample)| sample * fall(i)).collect()
}

/// Integers from -32768 to 32767 of the generator that `tests/reference/compute.py` also uses.
pub fn noise(count: usize, seed: u32) -> Vec<i64> {
    let mut state = seed;
    (0..count)
        .map(|_| {
            state = state.wrapping_mul(1664525).wrapping_add(1013904223);
            i64::from(state >> 16) - 32768
        })
        .collect()
}

/// Reference values computed by `tests/reference/compute.py`.
pub fn reference(name: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/reference/{name}.json"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    serde_json::from_str(&text).expect("reference values are JSON")
}

/// A FLAC of the reference rows.
pub fn flac() -> Vec<u8> {
    let rows = reference("formats");
    let mut rows = rows.as_array().expect("a list").iter();
    let row = rows
        .find(|row| row["name"] == "FLAC FILE PCM_16 1 48000")
        .expect("a row");
    let digits = row["file"].as_str().expect("a text");
    (0..digits.len() / 2)
        .map(|at| u8::from_str_radix(&digits[2 * at..2 * at + 2], 16).expect("digits"))
        .collect()
}

/// The items of a list among reference values.
pub fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().unwrap_or_else(|| panic!("`{key}` is a list"))
}

/// A number among reference values.
pub fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is a number"))
}

/// Asserts that two figures are no further apart than `within`.
#[track_caller]
pub fn assert_near(is: f64, wanted: f64, within: f64, what: impl std::fmt::Display) {
    assert!(
        (is - wanted).abs() <= within,
        "{what}: {is}, wanted {wanted} ± {within}"
    );
}
