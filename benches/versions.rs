//! What versions cost as people ask for them, in renders: `tryout` and `compare` on the loop beside this file.
//!
//! `cargo bench --bench versions` runs the program, whole processes from the command line to the files, and prints each
//! as a multiple of one `render`, all from one run. What the listening page takes is told apart: it is nearly all the
//! encoding of its sound.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

const RUNS: usize = 5;

/// The one-shots that are tried in the snare's place.
const SHOTS: [&str; 8] = [
    "snare_01",
    "snare_02",
    "snare_03",
    "snare-2_01",
    "snare-2_02",
    "side-stick_01",
    "kick_01",
    "tom-floor_01",
];

/// Runs pressroll on the loop with some options: seconds in all, those of the page, and the most memory held, in MB.
fn run(command: &str, options: &[&str]) -> (f64, f64, u64) {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let begun = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_pressroll"))
        .arg(command)
        .arg(here.join("benches/sixteen-bars.toml"))
        .args(options)
        .arg("--json")
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("the binary runs");
    let mut memory = 0;
    while child.try_wait().expect("it can be waited for").is_none() {
        memory = memory.max(peak_memory(child.id()));
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    let seconds = begun.elapsed().as_secs_f64();
    let answer = child.wait_with_output().expect("it has ended");
    assert!(answer.status.success(), "{command} {options:?} failed");
    let told: serde_json::Value = serde_json::from_slice(&answer.stdout).expect("one JSON object");
    (seconds, told["page_seconds"].as_f64().unwrap_or(0.0), memory)
}

/// The run that took least, but for its page.
fn best(command: &str, options: &[&str]) -> (f64, f64, u64) {
    (0..RUNS)
        .map(|_| run(command, options))
        .min_by(|a, b| (a.0 - a.1).total_cmp(&(b.0 - b.1)))
        .expect("a run")
}

fn main() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("out");
    let out = out.to_str().expect("a path in words");
    let wav = folder.path().join("out.wav");
    let alone = best("render", &["-o", wav.to_str().expect("a path in words")]).0;
    println!("one render: {:.0} ms", 1e3 * alone);

    let kit = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits/harbour-studio");
    let shots: Vec<PathBuf> = SHOTS.iter().map(|name| kit.join(format!("{name}.wav"))).collect();
    let shots: Vec<&str> = shots.iter().filter_map(|path| path.to_str()).collect();
    let (seconds, _, memory) = best("tryout", &[&["snare"], &shots[..], &["--no-page", "-o", out]].concat());
    println!(
        "tryout of {} one-shots: {:.2} renders a one-shot, peak memory {memory} MB",
        SHOTS.len(),
        seconds / alone / SHOTS.len() as f64
    );

    for (what, vary) in [
        ("send", "snare.room=-30,-27,-24,-21,-18,-15,-9,-6"),
        ("master's ceiling", "master.ceiling=-8,-7,-6,-5,-4,-3,-2,-1.5"),
        ("master's loudness", "master.loudness=-24,-23,-22,-21,-20,-19,-18,-17"),
    ] {
        let (seconds, page, memory) = best("compare", &["--vary", vary, "-o", out]);
        println!(
            "compare of 8 versions that change the {what}, and the loop as written: {:.2} renders, and {:.2} for the page; \
             peak memory {memory} MB",
            (seconds - page) / alone,
            page / alone
        );
    }
}

/// The most memory that a process has held, in MB; 0 where the system does not tell.
fn peak_memory(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.trim().trim_end_matches(" kB").parse::<u64>().ok())
        .unwrap_or(0)
        / 1024
}
