//! Whole processes: how long a run of the binary takes from start to exit, and the most memory that it holds.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// What runs of one command took.
#[derive(Debug, Clone, Copy)]
pub struct Spent {
    /// Seconds of the fastest.
    pub best: f64,
    /// Seconds of the one in the middle.
    pub median: f64,
    /// The most memory that one held, in bytes; 0 where the system does not tell.
    pub memory: u64,
}

impl Spent {
    /// The memory in MB.
    #[allow(dead_code, reason = "not every bench tells it so")]
    pub fn megabytes(&self) -> f64 {
        self.memory as f64 / 1e6
    }
}

/// Runs pressroll so many times for the time, and once more for the memory, since who looks at a process slows it down.
///
/// # Panics
/// When a run fails.
pub fn spend(runs: usize, folder: &Path, arguments: &[&str]) -> Spent {
    let mut seconds: Vec<f64> = (0..runs.max(1)).map(|_| time(folder, arguments)).collect();
    seconds.sort_by(f64::total_cmp);
    Spent {
        best: seconds[0],
        median: seconds[seconds.len() / 2],
        memory: memory(folder, arguments),
    }
}

fn command(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_pressroll"));
    command.args(arguments).current_dir(folder).stdin(Stdio::null());
    command.stdout(Stdio::null()).stderr(Stdio::null());
    command
}

fn time(folder: &Path, arguments: &[&str]) -> f64 {
    let begun = Instant::now();
    let done = command(folder, arguments).status().expect("the binary runs");
    let seconds = begun.elapsed().as_secs_f64();
    assert!(done.success(), "pressroll {} fails", arguments.join(" "));
    seconds
}

fn memory(folder: &Path, arguments: &[&str]) -> u64 {
    let mut child = command(folder, arguments).spawn().expect("the binary runs");
    let mut most = 0;
    while child.try_wait().expect("it can be waited for").is_none() {
        most = most.max(peak_kib(child.id()));
        std::thread::sleep(Duration::from_millis(1));
    }
    most * 1024
}

/// The most memory that a process has held, in KiB: the high water mark of its resident set, as Linux tells it.
fn peak_kib(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok())
        .unwrap_or(0)
}
