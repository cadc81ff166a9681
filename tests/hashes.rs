//! How the demo loops and forms sound is settled: what each plays, to the bit, and its audio, to the bit on every kind of
//! processor of which the sum is known, and elsewhere to under -120 dBFS of frames that are kept.
//!
//! A change in sound is a decision. Where it is meant, listen, then write what is kept anew and commit it with the change:
//!
//! ```text
//! cargo test --release --test promises hashes -- --ignored write
//! ```
//!
//! The audio depends on the processor because FFTs pick their code by it, and on the system's mathematics in its last bits.
//! Its kind is named here by what the FFTs ask for and what that mathematics answers.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::support::Desk;
use crate::support::meter::null_db;
use crate::support::wav::Wav;

/// Every so many frames one is kept. A prime, so that they come from everywhere in bars and blocks.
const EVERY: usize = 499;
/// How deep kept frames null on processors of an unknown kind, in dBFS.
const NULL: f64 = -120.0;

/// What is settled of one render.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
struct Settled {
    /// SHA-256 of what it plays.
    score: String,
    /// SHA-256 of its samples, by the kind of processor.
    audio: BTreeMap<String, String>,
}

type Book = BTreeMap<String, Settled>;

/// The kind of this machine's processor.
fn kind() -> String {
    let arch = std::env::consts::ARCH;
    let mut kind = arch.to_string();
    #[cfg(target_arch = "x86_64")]
    {
        if is_x86_feature_detected!("avx") && is_x86_feature_detected!("fma") {
            kind += " avx fma";
        } else if is_x86_feature_detected!("sse4.1") {
            kind += " sse4.1";
        }
    }
    #[cfg(target_arch = "aarch64")]
    {
        if std::arch::is_aarch64_feature_detected!("neon") {
            kind += " neon";
        }
    }
    format!("{kind}, mathematics {:08x}", mathematics())
}

/// What the system's mathematics answers, in a number: libraries beneath ask it for sines, and its last bits differ from one
/// processor and one version to another. FNV-1a.
fn mathematics() -> u32 {
    let asked = (1..20_000).map(|n| f64::from(n) * 0.137);
    let answers = asked.flat_map(|x| [x.sin(), x.cos(), (-x).exp(), x.ln(), x.sqrt().powf(1.7)]);
    let bytes = answers.flat_map(|answer| answer.to_bits().to_le_bytes());
    bytes.fold(0x811c_9dc5, |hash, byte| {
        (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193)
    })
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sound")
}

fn book() -> Book {
    let text = std::fs::read_to_string(folder().join("settled.toml")).expect("tests/sound/settled.toml");
    toml::from_str(&text).expect("what is settled is TOML")
}

/// The demo loops and forms by their names, `kit/loop`.
fn demos() -> BTreeMap<String, PathBuf> {
    let kits = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits");
    let mut demos = BTreeMap::new();
    for kit in ["boat-shed", "harbour-studio"] {
        for entry in std::fs::read_dir(kits.join(kit).join("loops")).expect("loops") {
            let path = entry.expect("an entry").path();
            if path.extension().is_some_and(|ending| ending == "toml") {
                let name = path.file_stem().expect("a name").to_string_lossy().into_owned();
                demos.insert(format!("{kit}/{name}"), path);
            }
        }
    }
    assert!(demos.len() >= 12, "{demos:?}");
    demos
}

/// Renders a demo twice over: the sums of its score and its audio, and the frames to keep, left and right in turn.
fn render(demo: &Path) -> (String, String, Vec<f32>) {
    let desk = Desk::new();
    let (wav, told) = desk.render_file(&demo.to_string_lossy(), &["--verify"]);
    let sum = |name: &str| told["verified"][name].as_str().expect("a sum").to_string();
    (sum("score"), sum("audio"), kept_of(&wav))
}

fn kept_of(wav: &Wav) -> Vec<f32> {
    let frames = (0..wav.frames()).step_by(EVERY);
    frames
        .flat_map(|frame| [wav.left()[frame], wav.right()[frame]])
        .collect()
}

fn place_of_kept(name: &str) -> PathBuf {
    folder().join(format!("{}.f32", name.replace('/', "-")))
}

fn kept(name: &str) -> Vec<f32> {
    let bytes = std::fs::read(place_of_kept(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
    let fours = bytes.as_chunks::<4>().0;
    fours.iter().map(|four| f32::from_le_bytes(*four)).collect()
}

#[test]
fn the_demos_play_and_sound_as_is_settled() {
    let (book, kind) = (book(), kind());
    let demos = demos();
    assert!(book.keys().eq(demos.keys()), "as many demos as are settled");
    let mut changed = Vec::new();
    for (name, path) in &demos {
        let (score, audio, frames) = render(path);
        let kept = kept(name);
        if kept.len() != frames.len() {
            changed.push(format!("{name}: of another length"));
            continue;
        }
        let (null, settled) = (null_db(&kept, &frames), &book[name]);
        let same = match settled.audio.get(&kind) {
            Some(sum) => *sum == audio,
            None => {
                println!("{name}: no sum is known for {kind}; kept frames null at {null:.1} dBFS");
                null < NULL
            }
        };
        if score != settled.score {
            changed.push(format!("{name}: plays other hits"));
        }
        if !same {
            changed.push(format!("{name}: sounds different on {kind}, by up to {null:.1} dBFS"));
        }
        // Sums of other processors were taken of the same sound.
        assert!(
            null < NULL || !same,
            "{name}: the frames that are kept are not those of its sum"
        );
    }
    assert!(
        changed.is_empty(),
        "{}\nif that is meant: cargo test --release --test promises hashes -- --ignored write",
        changed.join("\n")
    );
}

/// Writes anew what is settled. Sums that were taken on other kinds of processors go where the sound has changed.
#[test]
#[ignore = "settles how the demos sound"]
fn write() {
    let kind = kind();
    std::fs::create_dir_all(folder()).expect("a folder");
    let mut book = if folder().join("settled.toml").exists() {
        book()
    } else {
        Book::new()
    };
    let demos = demos();
    book.retain(|name, _| demos.contains_key(name));
    for (name, path) in &demos {
        let (score, audio, frames) = render(path);
        let settled = book.entry(name.clone()).or_default();
        let known = place_of_kept(name).exists() && {
            let kept = kept(name);
            kept.len() == frames.len() && null_db(&kept, &frames) < NULL
        };
        let same = settled.audio.get(&kind).map_or(known, |sum| *sum == audio);
        if !same {
            println!("{name}: sounds different from what was settled");
            settled.audio.clear();
            let bytes: Vec<u8> = frames.iter().flat_map(|sample| sample.to_le_bytes()).collect();
            std::fs::write(place_of_kept(name), bytes).expect("frames are kept");
        }
        settled.audio.insert(kind.clone(), audio);
        settled.score = score;
    }
    let head = "# What the demos play and how they sound: SHA-256 of their scores, and of their audio by the kind of processor.\n\
                # Written by `cargo test --release --test promises hashes -- --ignored write`; see tests/hashes.rs.\n\n";
    let text = toml::to_string_pretty(&book).expect("TOML");
    std::fs::write(folder().join("settled.toml"), head.to_string() + &text).expect("it is written");
}
