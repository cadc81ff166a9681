//! What versions cost that share a keep, in renders: of the loop of sixteen bars beside this file.
//!
//! `cargo bench --bench keep` renders it once without a keep, then versions of it with one, and prints each set's cost
//! as a multiple of the single render, all from one run.

use std::path::Path;
use std::time::Instant;

use pressroll::Order;
use pressroll::internals::export;
use pressroll::internals::kit::Kit;
use pressroll::internals::loopfile::{self, Changes, Draft, Given};
use pressroll::internals::render::RenderCache;
use pressroll::internals::render::render_sharing;
use pressroll::internals::wav::{Coding, Tags};

const RUNS: usize = 5;

/// A version: a key with its value, or a piece with the file in its place.
#[derive(Clone)]
enum Change {
    Set(&'static str, String),
    Swap(&'static str, &'static str),
}

/// From the loop file to the WAV.
fn render(change: Option<&Change>, keep: Option<&RenderCache>) {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut changes = Changes::default();
    let mut swaps = Vec::new();
    match change {
        Some(Change::Set(key, value)) => changes.set.push(Given::set(key, value)),
        Some(Change::Swap(piece, file)) => swaps.push((piece.to_string(), here.join(file))),
        None => {}
    }
    let Ok(Draft::Loop(draft)) = loopfile::read(&here.join("benches/sixteen-bars.toml"), &changes) else {
        panic!("the bench's loop reads");
    };
    let kit = Kit::open(draft.kits(), &swaps).expect("the demo kit opens");
    let song = draft.resolve(kit.defaults());
    let order = Order {
        rate: 48_000,
        rounds: 1,
        ..Order::default()
    };
    let rendered = render_sharing(&song, &kit, &order, keep, &|_| ()).expect("the bench's loop renders");
    let path = std::env::temp_dir().join("pressroll-bench-keep.wav");
    export::wav::write(&path, &rendered.audio, Coding::Int24, &Tags::default(), 1).expect("a WAV can be written");
}

/// The best of several runs, in seconds.
fn best(mut run: impl FnMut() -> f64) -> f64 {
    (0..RUNS).map(|_| run()).fold(f64::INFINITY, f64::min)
}

fn timed(work: impl FnOnce()) -> f64 {
    let begun = Instant::now();
    work();
    begun.elapsed().as_secs_f64()
}

fn main() {
    let set = |key: &'static str, values: &[f64]| -> Vec<Change> {
        values.iter().map(|value| Change::Set(key, value.to_string())).collect()
    };
    let eight = |from: f64, step: f64| (0..7).map(|n| from + step * f64::from(n)).collect::<Vec<_>>();
    let sets = [
        ("a part's send to the room", set("snare.room", &eight(-30.0, 2.0))),
        ("a part's send to the delay", set("keys.delay", &eight(-30.0, 1.5))),
        ("a bus's compressor", set("drums.compress.ratio", &eight(4.0, 1.0))),
        ("the room's decay", set("room.decay", &eight(0.5, 0.1))),
        ("the master's ceiling", set("master.ceiling", &eight(-8.0, 0.5))),
        ("the master's loudness", set("master.loudness", &eight(-24.0, 1.0))),
        (
            "a piece's one-shot",
            [
                "snare_03",
                "snare-2_01",
                "side-stick_01",
                "kick_01",
                "kick_02",
                "tom-floor_01",
                "shaker_01",
            ]
            .map(|file| {
                let file: &'static str = Box::leak(format!("kits/harbour-studio/{file}.wav").into_boxed_str());
                Change::Swap("snare", file)
            })
            .to_vec(),
        ),
    ];
    let alone = best(|| timed(|| render(None, None)));
    println!("one render alone: {:.0} ms", alone * 1e3);
    let keep = RenderCache::default();
    println!(
        "the same as the first with a keep: {:.2} renders",
        timed(|| render(None, Some(&keep))) / alone
    );
    for (name, changes) in sets {
        let (mut first, mut rest) = (f64::INFINITY, f64::INFINITY);
        for _ in 0..RUNS {
            let keep = RenderCache::default();
            first = first.min(timed(|| render(None, Some(&keep))));
            rest = rest.min(timed(|| {
                changes.iter().for_each(|change| render(Some(change), Some(&keep)))
            }));
        }
        let each = rest / changes.len() as f64;
        println!(
            "{name}: the loop and {} versions {:.2} renders; each version {:.2} ({:.0} ms)",
            changes.len(),
            (first + rest) / alone,
            each / alone,
            each * 1e3
        );
    }
}
