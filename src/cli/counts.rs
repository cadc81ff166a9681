//! For tests: what commands make of versions that share, counted on any number of threads.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use clap::Parser;

use super::compare::Compare;
use super::options::{AudioOptions, LoopOptions};
use super::render::Render;
use super::tryout::Tryout;
use crate::render_cache::RenderCache;

/// How much was made, by what it is.
pub(super) type Counts = BTreeMap<&'static str, usize>;

/// Room for less than one version would share.
pub(super) const LITTLE: usize = 3 << 20;

/// A command line.
#[derive(Parser)]
#[allow(clippy::large_enum_variant)]
pub(super) enum Line {
    /// `compare`
    Compare(Compare),
    /// `tryout`
    Tryout(Tryout),
    /// `render`
    Render(Render),
}

/// Reads a command line on a file, at a low rate.
pub(super) fn line(file: &Path, words: &[&str]) -> Line {
    let (command, rest) = words.split_first().expect("a command");
    let file = file.to_str().expect("a path in words");
    let words = ["pressroll", command, file].into_iter().chain(rest.iter().copied());
    Line::parse_from(words.chain(["--rate", "16000"]))
}

/// The demo kit's folder.
pub(super) fn kit() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("kits/harbour-studio")
}

/// A folder with a loop, `loop.toml`: buses, a duck, a room, a delay, sounds that are repitched, mixes; and a form of it, `form.toml`.
pub(super) fn desk() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mix = |(name, set): (&str, &str)| format!("[[mix]]\nname = \"{name}\"\nset = {{ {set} }}\n");
    let mixes = [
        ("near", "\"snare.room\" = -20"),
        ("far", "\"snare.room\" = -3"),
        ("deep", "\"kick.tune\" = -3"),
        ("deep and far", "\"kick.tune\" = -3, \"snare.room\" = -3"),
        ("hard", "\"drums.drive\" = 6"),
    ];
    let text = format!(
        r#"[loop]
title = "Harbour lights"
tempo = 97.3
bars = 2
kit = '{}'
[tab]
"all" = """
kick       X--- --x- --xg ---x
snare      ---- X--g -g-- X{{xg}}xx
hat-closed xxgx xxxx xgxx x-xx
shaker     x-x- x-x- x-x- x-x-
"""
[[part]]
name = "kick"
bus = "drums"
eq = [{{ at = 60, gain = 3, width = 1.0 }}]
[[part]]
name = "snare"
bus = "drums"
room = -8
vary = {{ tune = 0.4 }}
[[part]]
name = "hat-closed"
drive = 2
spread = 4
delay = -12
[[part]]
name = "shaker"
room = -12
duck = {{ by = "kick", depth = 4, release = 120 }}
[[bus]]
name = "drums"
drive = 4
compress = {{ threshold = -20, ratio = 3 }}
[room]
decay = 0.5
[master]
loudness = -18
{}"#,
        kit().display(),
        mixes.map(mix).concat()
    );
    fs::write(folder.path().join("loop.toml"), text).expect("a file can be written");
    let form = "[form]\ntitle = \"Evening\"\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\n\
                [[section]]\nname = \"b\"\nloop = \"loop.toml\"\nset = { \"snare.room\" = -20 }\n\
                [[section]]\nname = \"c\"\nloop = \"loop.toml\"\n";
    fs::write(folder.path().join("form.toml"), form).expect("a file can be written");
    folder
}

/// What some work makes by way of a render cache, which must be the same on 1, 2, 4, 8 and 16 threads.
#[track_caller]
pub(super) fn on_any_threads(keep: impl Fn() -> RenderCache + Sync, work: impl Fn(&RenderCache) + Sync) -> Counts {
    let count = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("threads can be had").install(|| {
            let keep = keep();
            work(&keep);
            keep.made()
        })
    };
    let one = count(1);
    for threads in [2, 4, 8, 16, 8] {
        assert_eq!(count(threads), one, "on {threads} threads");
    }
    one
}

/// What one render makes.
pub(super) fn of_one(options: &LoopOptions, audio: &AudioOptions) -> Counts {
    let keep = RenderCache::default();
    let project = options.project(audio.ending).open().expect("the loop opens");
    let rendered = project.render_sharing(&audio.order(options), Some(&keep), &|_| ());
    rendered.expect("the loop renders");
    keep.made()
}
