//! The demo kits under `kits/` are what `pressroll start` writes, whole, and what they hold is fit to be played.
//!
//! That their recordings are what `kits/make/` makes, that example tests itself.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use pressroll::internals::starter::DEMOS;

/// Every file under a folder by its path from there.
fn read_all(folder: &Path, root: &Path, into: &mut BTreeMap<PathBuf, Vec<u8>>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            read_all(&path, root, into);
        } else {
            into.insert(path.strip_prefix(root).unwrap().to_path_buf(), fs::read(&path).unwrap());
        }
    }
}

#[test]
fn every_committed_file_is_embedded() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits");
    for demo in DEMOS {
        let mut committed = BTreeMap::new();
        read_all(&root.join(demo.name), &root.join(demo.name), &mut committed);
        let embedded: BTreeMap<PathBuf, Vec<u8>> = demo
            .files
            .iter()
            .map(|(path, bytes)| (PathBuf::from(path), bytes.to_vec()))
            .collect();
        let names = |files: &BTreeMap<PathBuf, Vec<u8>>| files.keys().cloned().collect::<Vec<_>>();
        assert_eq!(names(&committed), names(&embedded), "{}", demo.name);
        assert!(committed == embedded, "{}: build anew", demo.name);
    }
}

#[test]
fn both_kits_together_stay_under_five_megabytes() {
    let total: usize = DEMOS
        .iter()
        .flat_map(|demo| demo.files)
        .map(|(_, bytes)| bytes.len())
        .sum();
    assert!(total < 5_000_000, "{total} bytes");
}

/// The samples of a WAV of 24 bits, all channels in one.
fn samples(bytes: &[u8]) -> Vec<f64> {
    hound::WavReader::new(bytes)
        .unwrap()
        .into_samples::<i32>()
        .map(|sample| f64::from(sample.unwrap()) / 8_388_608.0)
        .collect()
}

#[test]
fn one_shots_start_at_once_end_in_silence_and_stay_below_full_scale() {
    for demo in DEMOS {
        let shots = demo.files.iter();
        for (name, bytes) in shots.filter(|(path, _)| path.ends_with(".wav") && !path.starts_with("loops")) {
            let heard = samples(bytes);
            let peak = heard.iter().fold(0.0_f64, |most, sample| most.max(sample.abs()));
            assert!((0.15..=0.9).contains(&peak), "{name}: peak {peak}");
            let onset = heard.iter().position(|sample| sample.abs() > 0.003 * peak).unwrap();
            assert!(onset <= 2, "{name}: onset at frame {onset}");
            assert!(heard[heard.len() - 1].abs() < 1e-6, "{name}: ends with a step");
            let mean = heard.iter().sum::<f64>() / heard.len() as f64;
            assert!(mean.abs() < 1e-4 * peak, "{name}: DC of {mean}");
        }
    }
}

/// The energy of some samples at a frequency, under a Hann window.
fn energy_at(heard: &[f64], hz: f64) -> f64 {
    let length = heard.len() as f64;
    let (mut re, mut im) = (0.0, 0.0);
    for (frame, sample) in heard.iter().enumerate() {
        let window = 0.5 - 0.5 * (std::f64::consts::TAU * frame as f64 / length).cos();
        let (sin, cos) = (std::f64::consts::TAU * hz * frame as f64 / 48_000.0).sin_cos();
        re += window * sample * cos;
        im += window * sample * sin;
    }
    re * re + im * im
}

#[test]
fn pitched_pieces_have_the_pitch_in_their_name() {
    // Equal temperament from A4 = 440 Hz (ISO 16): MIDI notes of the names.
    let pitches = [
        ("bass_E1.wav", 28),
        ("bass_D2.wav", 38),
        ("guitar_E3.wav", 52),
        ("guitar_B3.wav", 59),
        ("keys_C4.wav", 60),
        ("keys_C5.wav", 72),
        ("organ_C4.wav", 60),
        ("vibraphone_C4.wav", 60),
        ("vibraphone_C5.wav", 72),
        ("bottle_A3.wav", 57),
        ("pipe_E4.wav", 64),
        ("fog-horn_D3.wav", 50),
    ];
    for (name, note) in pitches {
        let (_, bytes) = DEMOS
            .iter()
            .flat_map(|demo| demo.files)
            .find(|(path, _)| *path == name)
            .unwrap();
        let heard = samples(bytes);
        let hz = 440.0 * 2_f64.powf(f64::from(note - 69) / 12.0);
        let energy = |cents: i32| energy_at(&heard, hz * 2_f64.powf(f64::from(cents) / 1200.0));
        let best = (-40..=40)
            .step_by(2)
            .max_by(|a, b| energy(*a).total_cmp(&energy(*b)))
            .unwrap();
        assert!(best.abs() <= 8, "{name} is {best} cents off");
    }
}

#[test]
fn takes_of_a_piece_differ() {
    for demo in DEMOS {
        for (first, (path, bytes)) in demo.files.iter().enumerate() {
            for (other, more) in &demo.files[first + 1..] {
                assert!(bytes != more, "{path} and {other} are the same");
            }
        }
    }
}
