//! What a catalogue costs beside one `render` after another, and what a preview costs in memory and on disk.
//!
//! `cargo bench --bench catalogue` runs the program, whole processes all: the demo loops of one kit; versions of a loop that share
//! their parts; a thousand and ten thousand previews of a small loop. Rates are ratios of one run, each way in turn.

mod process;

use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

use process::{Took, run};

const RUNS: usize = 3;
/// Versions of a loop.
const VERSIONS: i32 = 16;

/// A list of one collection, as a folder of its own in which its catalogue is made.
struct List {
    folder: tempfile::TempDir,
}

impl List {
    fn new(collection: &str) -> List {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let text = format!("[catalogue]\ntitle = \"Beds\"\n\n[[collection]]\nname = \"All\"\n{collection}\n");
        std::fs::write(folder.path().join("catalogue.toml"), text).expect("a list is written");
        List { folder }
    }

    fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Makes the catalogue anew.
    fn make(&self, threads: Option<usize>) -> Took {
        let _ = std::fs::remove_dir_all(self.path().join("out"));
        self.run(threads, &["-o", "out"])
    }

    fn run(&self, threads: Option<usize>, options: &[&str]) -> Took {
        let arguments = [&["catalogue", "catalogue.toml"], options].concat();
        run(self.path(), threads, &arguments)
    }
}

fn main() {
    let kit = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits/harbour-studio");
    one_kit(&kit);
    versions(&kit);
    for previews in [1000, 10_000] {
        many(&kit, previews);
    }
}

/// The way of the fastest of some runs, each way in turn.
fn in_turn<const WAYS: usize>(ways: [&dyn Fn() -> Took; WAYS]) -> [Took; WAYS] {
    let mut best = ways.map(|_| Took {
        wall: f64::MAX,
        ..Took::default()
    });
    for _ in 0..RUNS {
        for (best, way) in best.iter_mut().zip(ways) {
            let took = way();
            if took.wall < best.wall {
                *best = took;
            }
        }
    }
    best
}

/// Renders with these options, one process after another.
fn one_by_one(folder: &Path, renders: &[Vec<String>]) -> Took {
    let mut all = Took::default();
    for options in renders {
        let mut arguments = vec!["render"];
        arguments.extend(options.iter().map(String::as_str));
        arguments.extend(["-o", "alone.wav"]);
        let took = run(folder, None, &arguments);
        all.wall += took.wall;
        all.processor += took.processor;
    }
    all
}

fn told(what: &str, previews: usize, [alone, once, one_thread]: [Took; 3]) {
    println!(
        "{what}: {previews} previews, {:.1} times the rate of one render after another ({:.0} and {:.0} ms a preview, processor \
         {:.0} and {:.0}); on one thread {:.2} times as long; peak memory {:.0} MB",
        alone.wall / once.wall,
        1e3 * once.wall / previews as f64,
        1e3 * alone.wall / previews as f64,
        1e3 * once.processor / previews as f64,
        1e3 * alone.processor / previews as f64,
        one_thread.wall / once.wall,
        once.memory as f64 / 1e6
    );
}

/// The demo loops of one kit, at four tempos each.
fn one_kit(kit: &Path) {
    let mut loops: Vec<PathBuf> = std::fs::read_dir(kit.join("loops"))
        .expect("the demo kit has loops")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .collect();
    loops.sort();
    let tempos = ["80", "90", "100", "110"];
    let names: Vec<String> = loops.iter().map(|path| format!("{path:?}")).collect();
    let list = List::new(&format!(
        "loops = [{}]\ntempos = [{}]",
        names.join(", "),
        tempos.join(", ")
    ));
    let of = |path: &PathBuf, tempo: &str| {
        vec![
            path.display().to_string(),
            "--set".into(),
            format!("loop.tempo={tempo}"),
        ]
    };
    let renders: Vec<Vec<String>> = loops
        .iter()
        .flat_map(|path| tempos.map(|tempo| of(path, tempo)))
        .collect();
    let alone = || one_by_one(list.path(), &renders);
    let took = in_turn([&alone, &|| list.make(None), &|| list.make(Some(1))]);
    told("loops that share a kit", renders.len(), took);
}

/// Versions of a loop that share their parts.
fn versions(kit: &Path) {
    let file = kit.join("loops/night-ferry.toml").display().to_string();
    for (what, setting, lowest) in [
        ("a send", "snare.room", -24),
        ("a gain", "keys.gain", -18),
        ("the loudness", "master.loudness", -30),
    ] {
        let values: Vec<String> = (0..VERSIONS).map(|step| (lowest + step).to_string()).collect();
        let list = List::new(&format!(
            "loops = {file:?}\nvary = {{ \"{setting}\" = [{}] }}",
            values.join(", ")
        ));
        let renders: Vec<Vec<String>> = values
            .iter()
            .map(|value| vec![file.clone(), "--set".into(), format!("{setting}={value}")])
            .collect();
        let alone = || one_by_one(list.path(), &renders);
        told(
            &format!("versions of {what}"),
            renders.len(),
            in_turn([&alone, &|| list.make(None), &|| list.make(Some(1))]),
        );
    }
}

/// So many previews of small loops, sixteen versions of each.
fn many(kit: &Path, previews: usize) {
    const MEMORY: &str = "300";
    const TAB: &str = "kick   x--- ---- x--- ----\nsnare  ---- x--- ---- x---\n";
    let list = List::new(&format!(
        "loops = \"small\"\nvary = {{ \"snare.gain\" = [{}] }}",
        (0..VERSIONS)
            .map(|gain| (-gain).to_string())
            .collect::<Vec<_>>()
            .join(", ")
    ));
    let small = list.path().join("small");
    std::fs::create_dir(&small).expect("a folder is made");
    for number in 0..previews / VERSIONS as usize {
        let tempo = 100 + number % 100;
        let text =
            format!("[loop]\ntempo = {tempo}\nbars = 1\nkit = {kit:?}\n\n[tab]\n\"all\" = \"\"\"\n{TAB}\"\"\"\n");
        std::fs::write(small.join(format!("bed-{number:04}.toml")), text).expect("a loop is written");
    }
    let [made, again, dry, finish] = [
        &["-o", "out", "--memory", MEMORY][..],
        &["-o", "out"],
        &["--dry"],
        &["-o", "out", "--finish"],
    ]
    .map(|options| list.run(None, options));
    let each = |seconds: f64| 1e3 * seconds / previews as f64;
    println!(
        "{previews} previews of one bar: {:.1} s ({:.2} ms each, processor {:.2}), peak memory {:.0} MB of {MEMORY}; nothing to make \
         {:.1} s, --dry {:.2} s, --finish {:.1} s and {:.0} MB",
        made.wall,
        each(made.wall),
        each(made.processor),
        made.memory as f64 / 1e6,
        again.wall,
        dry.wall,
        finish.wall,
        finish.memory as f64 / 1e6
    );
    for part in ["previews", "records", "index"] {
        let (files, bytes) = size(&list.path().join("out").join(part));
        println!(
            "  {part}: {files} files, {:.1} KB a preview on disk",
            bytes as f64 / 1e3 / previews as f64
        );
    }
}

/// How many files a folder holds, and how many bytes of disk they take.
fn size(folder: &Path) -> (usize, u64) {
    let mut all = (0, 0);
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let known = entry.metadata().expect("a file is there");
        let own = if known.is_dir() {
            size(&entry.path())
        } else {
            (1, known.blocks() * 512)
        };
        all = (all.0 + own.0, all.1 + own.1);
    }
    all
}
