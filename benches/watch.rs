//! Whole-process figures of `pressroll watch`: from the moment at which a file is saved to the new bytes in the WAV.
//!
//! `cargo bench --bench watch` lets the loop of sixteen bars beside this file be watched, saves it again and again as an editor
//! does (written beside, then renamed), and prints medians. Machines are noisy: compare only figures of one run.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant, SystemTime};

const RUNS: usize = 9;

/// A folder with the loop and a copy of its kit, watched.
struct Watched {
    folder: tempfile::TempDir,
    text: String,
    child: Child,
    lines: BufReader<std::process::ChildStdout>,
}

impl Watched {
    fn new() -> Watched {
        let here = Path::new(env!("CARGO_MANIFEST_DIR"));
        let folder = tempfile::tempdir().expect("a temporary folder");
        let kit = folder.path().join("kit");
        fs::create_dir(&kit).expect("a folder is made");
        for shot in fs::read_dir(here.join("kits/harbour-studio")).expect("the demo kit is there") {
            let shot = shot.expect("an entry").path();
            if shot.is_file() {
                fs::copy(&shot, kit.join(shot.file_name().expect("a name"))).expect("a file is copied");
            }
        }
        let text = fs::read_to_string(here.join("benches/sixteen-bars.toml")).expect("the bench's loop is there");
        let text = text.replace("../kits/harbour-studio", "kit");
        fs::write(folder.path().join("loop.toml"), &text).expect("a file is written");
        let mut child = Command::new(env!("CARGO_BIN_EXE_pressroll"))
            .args(["watch", "loop.toml", "-o", "out.wav"])
            .current_dir(folder.path())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the binary runs");
        let lines = BufReader::new(child.stdout.take().expect("a pipe"));
        let mut watched = Watched {
            folder,
            text,
            child,
            lines,
        };
        watched.line();
        watched
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn line(&mut self) -> String {
        let mut line = String::new();
        self.lines.read_line(&mut line).expect("it goes on telling");
        assert!(!line.is_empty(), "it has ended");
        line.trim_end().to_string()
    }

    fn written(&self) -> SystemTime {
        let meta = fs::metadata(self.path("out.wav")).expect("the WAV is there");
        meta.modified().expect("files have dates")
    }

    /// Puts bytes in the place of a file, and gives the seconds until the WAV is another.
    fn save(&mut self, name: &str, bytes: &[u8]) -> f64 {
        let before = self.written();
        let beside = self.path("beside.tmp");
        fs::write(&beside, bytes).expect("a file is written");
        let begun = Instant::now();
        fs::rename(beside, self.path(name)).expect("a file is renamed");
        while self.written() == before {
            assert!(begun.elapsed() < Duration::from_secs(10), "nothing comes of a save");
            std::thread::sleep(Duration::from_micros(500));
        }
        let seconds = begun.elapsed().as_secs_f64();
        self.line();
        seconds
    }

    /// The median of saving the loop with each of some values in a place of its text.
    fn change(&mut self, what: &str, from: &str, to: impl Fn(usize) -> String) {
        assert!(self.text.contains(from), "the bench's loop has `{from}`");
        let mut seconds: Vec<f64> = (0..RUNS)
            .map(|run| {
                let text = self.text.replacen(from, &to(run), 1);
                self.save("loop.toml", text.as_bytes())
            })
            .collect();
        // What comes next changes one thing too.
        let text = self.text.clone();
        self.save("loop.toml", text.as_bytes());
        told(what, &mut seconds);
    }
}

fn told(what: &str, seconds: &mut [f64]) {
    seconds.sort_by(f64::total_cmp);
    println!(
        "{what}: median {:.0} ms, from {:.0} to {:.0} ms",
        seconds[seconds.len() / 2] * 1e3,
        seconds[0] * 1e3,
        seconds[seconds.len() - 1] * 1e3
    );
}

fn main() {
    let mut watched = Watched::new();
    let send = |run| {
        format!(
            "room = -12\n\n[[part]]\nname = \"ride\"\nbus = \"drums\"\nroom = -{}",
            20 + run
        )
    };
    watched.change(
        "a part's send to the room",
        "room = -12\n\n[[part]]\nname = \"ride\"\nbus = \"drums\"\nroom = -18",
        send,
    );
    watched.change("the send of a bus's part to the delay", "delay = -14", |run| {
        format!("delay = -{}", 15 + run)
    });
    watched.change("the master's ceiling", "ceiling = -1", |run| {
        format!("ceiling = -{}", 2 + run)
    });
    watched.change("the master's loudness", "loudness = -16", |run| {
        format!("loudness = -{}", 17 + run)
    });
    watched.change("a part's marks", "X--- --x- -xx- --x-", |run| {
        let mut marks: Vec<char> = "X---x---x---x---".chars().collect();
        marks[run] = 'g';
        marks.into_iter().collect()
    });
    watched.change("a part's gain in a bus", "pan = 30", |run| {
        format!("pan = 30\ngain = -{}", 1 + run)
    });
    watched.change("a part's envelope", "decay = 600", |run| {
        format!("decay = {}", 500 + run)
    });
    watched.change("a bus's compressor", "ratio = 3", |run| format!("ratio = {}", 4 + run));
    watched.change("the room's decay", "decay = 0.9", |run| {
        format!("decay = 0.{}", 1 + run % 8)
    });
    let shots: Vec<Vec<u8>> = ["snare_01.wav", "snare_02.wav"]
        .map(|name| fs::read(watched.path("kit").join(name)).expect("the kit has snares"))
        .to_vec();
    let mut seconds: Vec<f64> = (0..RUNS)
        .map(|run| watched.save("kit/snare_01.wav", &shots[(run + 1) % 2]))
        .collect();
    told("a one-shot of the kit", &mut seconds);
    let _ = watched.child.kill();
    let _ = watched.child.wait();
}
