//! All targets of speed and memory with today's figures, in one table.
//!
//! `cargo bench --bench targets` renders as whole processes: the loop of sixteen bars beside this file, ten times its bars, a
//! loop of 100,000 hits, loops on a folder of 20,000 one-shots; runs `benches/peer/run`, which needs Python 3.11 and its
//! packages; and closes with what the benches of versions and of `watch` say. Machines are noisy: compare only figures of
//! one run. `-- --alone` leaves out what other benches and the peer measure.

mod process;

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use process::{Spent, spend};
use serde_json::Value;

const RUNS: usize = 7;
/// Frames of the sixteen bars, and of ten times as many.
const FRAMES: [f64; 2] = [2_194_286.0, 21_942_857.0];
/// Parts of the sixteen bars.
const PARTS: [&str; 12] = [
    "kick",
    "snare",
    "ride",
    "side-stick",
    "tom-floor",
    "frame-drum",
    "bass",
    "keys",
    "vibraphone",
    "crash",
    "hat-closed",
    "shaker",
];
/// Marks a bar of each, for 100,000 hits in sixteen bars.
const MARKS: usize = 521;
const ONE_SHOTS: usize = 20_000;

fn main() {
    let alone = std::env::args().any(|argument| argument == "--alone");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let desk = folder.path();
    println!("{:42}{:>20}{:>11}  met", "", "target", "today");
    loop_and_longer(desk);
    hundred_thousand(desk);
    large_kit(desk);
    if !alone {
        peer();
        for bench in ["versions", "watch"] {
            others(bench);
        }
    }
}

/// One line of the table: within what was meant to be, or not.
fn row(what: &str, target: &str, today: &str, reached: bool) {
    let word = if reached { "yes" } else { "NO" };
    println!("{what:42}{target:>20}{today:>11}  {word}");
}

fn time_row(what: &str, target: f64, aim: Option<f64>, spent: &Spent) {
    let mut wanted = format!("{target} s");
    if let Some(aim) = aim {
        let _ = write!(wanted, ", aim {aim} s");
    }
    row(what, &wanted, &format!("{:.3} s", spent.best), spent.best <= target);
    println!("{:42}{:>31}", "  median", format!("{:.3} s", spent.median));
}

fn memory_row(what: &str, megabytes: f64, spent: &Spent) {
    let today = spent.megabytes();
    row(
        what,
        &format!("{megabytes:.0} MB"),
        &format!("{today:.0} MB"),
        today <= megabytes,
    );
}

fn loop_and_longer(desk: &Path) {
    let text = sixteen();
    std::fs::write(desk.join("loop.toml"), &text).expect("a loop is written");
    let bars =
        |times: u32| (0..times).flat_map(|round| [1, 4, 7, 10, 13, 16].map(|bar| (bar + 16 * round).to_string()));
    let longer = text.replace("bars  = 16", "bars  = 160").replace(
        "\"1,4,7,10,13,16\"",
        &format!("\"{}\"", bars(10).collect::<Vec<_>>().join(",")),
    );
    std::fs::write(desk.join("longer.toml"), longer).expect("a loop is written");
    let once = spend(RUNS, desk, &["render", "loop.toml", "-o", "out.wav"]);
    let tenfold = spend(3, desk, &["render", "longer.toml", "-o", "out.wav"]);
    time_row("render 16 bars, 12 parts, 950 hits", 0.2, Some(0.15), &once);
    memory_row("  its memory", 120.0, &once);
    let ratio = tenfold.best / once.best;
    row(
        "ten times the bars: its time",
        "10 times",
        &format!("{ratio:.1} times"),
        ratio <= 10.0,
    );
    let bytes = (tenfold.memory as f64 - once.memory as f64) / (FRAMES[1] - FRAMES[0]);
    row(
        "  more memory a frame",
        "32 bytes",
        &format!("{bytes:.1} bytes"),
        bytes <= 32.0,
    );
}

fn hundred_thousand(desk: &Path) {
    let text = sixteen();
    let (head, rest) = text.split_once("[tab]").expect("the loop has tablature");
    let settings = &rest[rest.find("[[part]]").expect("the loop has parts")..];
    let settings = settings.lines().filter(|line| !line.starts_with("hits ="));
    let settings: Vec<&str> = settings.collect();
    let lines = PARTS.map(|part| format!("{part} {}\n", "x".repeat(MARKS))).concat();
    let many = format!(
        "{head}[tab]\n\"all\" = \"\"\"\n{lines}\"\"\"\n\n{}\n",
        settings.join("\n")
    );
    std::fs::write(desk.join("many.toml"), many).expect("a loop is written");
    let spent = spend(3, desk, &["render", "many.toml", "-o", "out.wav"]);
    time_row("render 100,000 hits in 16 bars", 1.0, None, &spent);
}

/// A folder of short one-shots under names of several manners, and a loop that plays three of its pieces.
fn large_kit(desk: &Path) {
    let words = [
        "Kick", "Snr", "CHH", "Open Hat", "Clap", "Rim", "Tom Low", "Crash", "Ride", "Perc",
    ];
    let shot = one_shot();
    for number in 0..ONE_SHOTS {
        let word = words[number % words.len()];
        let maker = desk.join(format!("shots/Maker {:02}/{word}s", number / 500));
        std::fs::create_dir_all(&maker).expect("a folder is made");
        std::fs::write(maker.join(format!("MK_{word}_{number:05}.wav")), &shot).expect("a one-shot is written");
    }
    let text = "[loop]\nkit = \"shots\"\ntempo = 120\nbars = 1\n[tab]\n\"all\" = \"\"\"\nkick x---\nsnare -x-x\nhat-closed xxxx\n\"\"\"\n";
    std::fs::write(desk.join("large.toml"), text).expect("a loop is written");
    let spent = spend(3, desk, &["render", "large.toml", "-o", "out.wav"]);
    time_row("render a bar on 20,000 one-shots", 3.0, None, &spent);
    memory_row("  its memory", 150.0, &spent);
    let spent = spend(1, desk, &["kit", "shots"]);
    let figure = format!("{:.2} s", spent.best);
    println!("{:42}{:>20}{figure:>11}", "kit, which decodes all 20,000", "none");
    println!("{:42}{:>31}", "  its memory", format!("{:.0} MB", spent.megabytes()));
}

/// A WAV of 1000 frames, 16 bits, mono, 48 kHz: a tone that dies away.
fn one_shot() -> Vec<u8> {
    let frame = |n: u16| (12_000.0 * (-f64::from(n) / 200.0).exp() * (f64::from(n) * 0.05).sin()) as i16;
    let data: Vec<u8> = (0..1000).flat_map(|n| frame(n).to_le_bytes()).collect();
    let mut bytes = b"RIFF".to_vec();
    bytes.extend((36 + data.len() as u32).to_le_bytes());
    bytes.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
    bytes.extend(48_000_u32.to_le_bytes());
    bytes.extend(96_000_u32.to_le_bytes());
    bytes.extend(b"\x02\0\x10\0data");
    bytes.extend((data.len() as u32).to_le_bytes());
    bytes.extend(data);
    bytes
}

/// The text of the sixteen bars, its kit by its whole path.
fn sixteen() -> String {
    let here = root();
    let text = std::fs::read_to_string(here.join("benches/sixteen-bars.toml")).expect("the bench's loop is there");
    let kit = here.join("kits/harbour-studio");
    text.replace("../kits/harbour-studio", &kit.display().to_string())
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn peer() {
    let run = Command::new(root().join("benches/peer/run"))
        .arg("--json")
        .env("PRESSROLL", env!("CARGO_BIN_EXE_pressroll"))
        .output();
    let told = run.ok().and_then(|done| {
        serde_json::from_slice::<Value>(&done.stdout)
            .ok()
            .map(|told| (told, done.status))
    });
    let Some((told, status)) = told else {
        println!(
            "{:42}{:>20}{:>11}",
            "against numpy and scipy", "15 times, aim 20", "not run"
        );
        return;
    };
    let ratio = |name: &str| told["ratio"]["best"][name].as_f64().unwrap_or(0.0);
    for (name, what) in [
        ("peer", "against numpy and scipy, whole process"),
        ("within", "  without their imports"),
    ] {
        let ratio = ratio(name);
        row(what, "15 times, aim 20", &format!("{ratio:.1} times"), ratio >= 15.0);
    }
    let pieces = format!("{:.1} times", ratio("pieces"));
    println!(
        "{:42}{:>20}{pieces:>11}",
        "  whole, in pieces that a cache holds", "none"
    );
    if !status.success() {
        println!("  but the peer's work was not the same: {}", told["differences"]);
    }
}

/// What another bench prints, where there is one of that name.
fn others(bench: &str) {
    if !root().join(format!("benches/{bench}.rs")).is_file() {
        return;
    }
    let run = Command::new(env!("CARGO"))
        .args(["bench", "--quiet", "--bench", bench])
        .current_dir(root())
        .output();
    match run {
        Ok(done) if done.status.success() => print!("\n{}", String::from_utf8_lossy(&done.stdout)),
        _ => println!("\n{bench}: its bench did not run"),
    }
}
