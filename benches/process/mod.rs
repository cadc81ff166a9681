//! Whole processes: how long a run of the binary takes from start to exit, and the most memory that it holds.

#![allow(dead_code, reason = "not every bench asks for all of it")]

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use wait4::Wait4;

/// What one run took.
#[derive(Debug, Clone, Copy, Default)]
pub struct Took {
    /// Seconds from start to exit.
    pub wall: f64,
    /// Seconds of processor, over all cores.
    pub processor: f64,
    /// The most memory that it held, in bytes.
    pub memory: u64,
}

/// What runs of one command took.
#[derive(Debug, Clone, Copy)]
pub struct Spent {
    /// Seconds of the fastest.
    pub best: f64,
    /// Seconds of the one in the middle.
    pub median: f64,
    /// The most memory that one held, in bytes.
    pub memory: u64,
}

impl Spent {
    /// The memory in MB.
    pub fn megabytes(&self) -> f64 {
        self.memory as f64 / 1e6
    }
}

/// Runs pressroll so many times.
///
/// # Panics
/// When a run fails.
pub fn spend(runs: usize, folder: &Path, arguments: &[&str]) -> Spent {
    let took: Vec<Took> = (0..runs.max(1)).map(|_| run(folder, None, arguments)).collect();
    let mut seconds: Vec<f64> = took.iter().map(|took| took.wall).collect();
    seconds.sort_by(f64::total_cmp);
    Spent {
        best: seconds[0],
        median: seconds[seconds.len() / 2],
        memory: took.iter().map(|took| took.memory).max().unwrap_or(0),
    }
}

/// Runs pressroll in a folder, on so many threads where that is said.
///
/// # Panics
/// When it fails.
pub fn run(folder: &Path, threads: Option<usize>, arguments: &[&str]) -> Took {
    let mut command = Command::new(env!("CARGO_BIN_EXE_pressroll"));
    command.args(arguments).current_dir(folder).stdin(Stdio::null());
    command.stdout(Stdio::null()).stderr(Stdio::null());
    if let Some(threads) = threads {
        command.env("RAYON_NUM_THREADS", threads.to_string());
    }
    let begun = Instant::now();
    let done = command.spawn().expect("the binary runs").wait4().expect("it ends");
    let wall = begun.elapsed().as_secs_f64();
    assert!(done.status.success(), "pressroll {} fails", arguments.join(" "));
    Took {
        wall,
        processor: (done.rusage.utime + done.rusage.stime).as_secs_f64(),
        memory: done.rusage.maxrss,
    }
}
