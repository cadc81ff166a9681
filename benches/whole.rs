//! Whole-process figures: time and memory of `pressroll render` on the loop beside this file.
//!
//! `cargo bench --bench whole` prints the best and the median of several runs. Machines are noisy: compare only
//! figures of one run. `cargo bench --bench targets` holds more of them against what they are meant to be.

mod process;

use std::path::Path;

const RUNS: usize = 9;

fn main() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/sixteen-bars.toml");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = here.display().to_string();
    let spent = process::spend(RUNS, folder.path(), &["render", &file, "-o", "out.wav"]);
    println!(
        "render, 16 bars, 12 parts, 950 hits: best {:.3} s, median {:.3} s, peak memory {:.0} MB",
        spent.best,
        spent.median,
        spent.megabytes()
    );
}
