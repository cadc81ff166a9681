//! Whole-process figures: time and memory of `pressroll render` on the loop beside this file.
//!
//! `cargo bench --bench whole` prints the best and the median of several runs. Machines are noisy: compare only
//! figures of one run.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

const RUNS: usize = 9;

fn main() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("out.wav");
    let mut seconds = Vec::new();
    let mut memory = 0;
    for _ in 0..RUNS {
        let begun = Instant::now();
        let mut child = Command::new(env!("CARGO_BIN_EXE_pressroll"))
            .arg("render")
            .arg(here.join("sixteen-bars.toml"))
            .arg("-o")
            .arg(&out)
            .stdout(Stdio::null())
            .spawn()
            .expect("the binary runs");
        while child.try_wait().expect("it can be waited for").is_none() {
            memory = memory.max(peak_memory(child.id()));
            std::thread::sleep(std::time::Duration::from_millis(2));
        }
        seconds.push(begun.elapsed().as_secs_f64());
    }
    seconds.sort_by(f64::total_cmp);
    println!(
        "render, 16 bars, 12 parts, 950 hits: best {:.3} s, median {:.3} s, peak memory {} MB",
        seconds[0],
        seconds[RUNS / 2],
        memory / 1024
    );
}

/// The most memory that a process has held, in KiB; 0 where the system does not tell.
fn peak_memory(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok())
        .unwrap_or(0)
}
