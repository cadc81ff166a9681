//! Folders as people have them, built on the disk.

use std::fs;
use std::path::{Path, PathBuf};

use proptest::prelude::*;

use super::Kit;
use crate::schema::{Setting, sound, strip};
use crate::wav::{Coding, Tags, Writer};

/// A folder of WAVs of one frame each, of the sample value that stands beside the name.
fn kit_folder(files: &[&str]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (number, file) in files.iter().enumerate() {
        put(folder.path(), file, 44_100, &[1_000 * (number as i32 + 1); 4]);
    }
    folder
}

fn put(folder: &Path, file: &str, rate: u32, samples: &[i32]) {
    let path = folder.join(file);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    let mut writer = Writer::new(
        Vec::new(),
        1,
        rate,
        Coding::Int16,
        samples.len() as u64,
        &Tags::default(),
    )
    .unwrap();
    writer.integers(samples).unwrap();
    fs::write(path, writer.finish().unwrap()).unwrap();
}

fn open(folder: &Path) -> Kit {
    Kit::open(&[folder.to_path_buf()], &[]).unwrap_or_else(|problems| panic!("{problems}"))
}

fn refused(folder: &Path) -> Vec<String> {
    let problems = Kit::open(&[folder.to_path_buf()], &[]).unwrap_err();
    problems.0.iter().map(ToString::to_string).collect()
}

fn listed(kit: &Kit) -> Vec<&str> {
    kit.index().listed().iter().map(|piece| piece.name.as_str()).collect()
}

/// The layers of the piece that goes by a name: the highest velocity and the files' names.
fn layers(kit: &Kit, name: &str) -> Vec<(f64, Vec<String>)> {
    let piece = &kit.index().pieces[kit.index().find(name).unwrap_or_else(|| panic!("no {name}"))];
    let file = |take: &usize| kit.file(*take).file_name().unwrap().to_string_lossy().into_owned();
    piece
        .layers
        .iter()
        .map(|layer| (layer.upto, layer.takes.iter().map(file).collect()))
        .collect()
}

fn one(files: &[&str]) -> Vec<(f64, Vec<String>)> {
    vec![(127.0, files.iter().map(ToString::to_string).collect())]
}

#[test]
fn file_names_tell_the_pieces() {
    let folder = kit_folder(&[
        "Kick_Deep.wav",
        "snare_02.wav",
        "snare_01.wav",
        "snare_10.WAV",
        "Snare Tight.wav",
        "foghorn.wav",
        "sub/OHH.wav",
    ]);
    let kit = open(folder.path());
    assert_eq!(listed(&kit), ["foghorn", "kick", "snare-2", "snare", "hat-open"]);
    assert_eq!(
        layers(&kit, "snare"),
        one(&["snare_01.wav", "snare_02.wav", "snare_10.WAV"])
    );
    assert_eq!(layers(&kit, "snare-2"), one(&["Snare Tight.wav"]));
    // The name that a file has always works too, as it is or with hyphens.
    for name in ["kick", "Kick_Deep", "kick-deep"] {
        assert_eq!(layers(&kit, name), one(&["Kick_Deep.wav"]));
    }
    assert_eq!(layers(&kit, "snare_02"), one(&["snare_02.wav"]));
    assert_eq!(layers(&kit, "ohh"), one(&["OHH.wav"]));
    assert_eq!(kit.index().find("kick_"), None);
    assert_eq!(kit.index().find(""), None);
    let choke = |name| kit.index().pieces[kit.index().find(name).unwrap()].choke.clone();
    assert_eq!(choke("hat-open").as_deref(), Some("hat"));
    assert_eq!(choke("kick"), None);
}

#[test]
fn a_file_that_is_called_what_its_piece_is_called_comes_first() {
    let folder = kit_folder(&[
        "acoustic kick.wav",
        "kick.wav",
        "big snare.wav",
        "snare deep.wav",
        "snare-2.wav",
    ]);
    let kit = open(folder.path());
    assert_eq!(layers(&kit, "kick"), one(&["kick.wav"]));
    assert_eq!(layers(&kit, "kick-2"), one(&["acoustic kick.wav"]));
    assert_eq!(
        layers(&kit, "snare"),
        one(&["snare-2.wav"]),
        "a take of the plain snare"
    );
    // `snare-2` is the name that a file has, so the other snares are numbered from 3.
    assert_eq!(layers(&kit, "snare-2"), one(&["snare-2.wav"]));
    assert_eq!(layers(&kit, "snare-3"), one(&["big snare.wav"]));
    assert_eq!(layers(&kit, "snare-4"), one(&["snare deep.wav"]));
}

#[test]
fn velocity_words_make_layers_that_reach_127() {
    let folder = kit_folder(&[
        "snare soft 1.wav",
        "snare soft 2.wav",
        "snare.wav",
        "snare hard.wav",
        "tom low v1.wav",
        "tom low v2.wav",
    ]);
    let kit = open(folder.path());
    let names: Vec<Vec<String>> = layers(&kit, "snare").into_iter().map(|(_, files)| files).collect();
    assert_eq!(
        names,
        [
            vec!["snare soft 1.wav", "snare soft 2.wav"],
            vec!["snare.wav"],
            vec!["snare hard.wav"]
        ]
    );
    let tops: Vec<f64> = layers(&kit, "snare").into_iter().map(|(upto, _)| upto).collect();
    assert_eq!(tops, [42.0, 85.0, 127.0]);
    assert_eq!(layers(&kit, "tom-low").len(), 2);
}

#[test]
fn hidden_files_renders_and_loops_are_passed_over() {
    let folder = kit_folder(&[
        "kick.wav",
        ".snare.wav",
        ".trash/clap.wav",
        "renders/night.wav",
        "Loops/beat.wav",
        "__MACOSX/._kick.wav",
        "__MACOSX/hat.wav",
        "$RECYCLE.BIN/tom low.wav",
    ]);
    fs::write(folder.path().join("notes.txt"), "tide").unwrap();
    assert_eq!(listed(&open(folder.path())), ["kick"]);
}

#[cfg(unix)]
#[test]
fn links_are_followed_within_the_folder_but_not_into_circles() {
    let folder = kit_folder(&["a/kick.wav"]);
    let other = kit_folder(&["clap.wav"]);
    std::os::unix::fs::symlink(folder.path(), folder.path().join("a/round")).unwrap();
    std::os::unix::fs::symlink(other.path(), folder.path().join("more")).unwrap();
    std::os::unix::fs::symlink("nowhere", folder.path().join("snare.wav")).unwrap();
    assert_eq!(listed(&open(folder.path())), ["kick"]);
}

#[test]
fn a_folder_without_wavs_says_what_it_holds_instead() {
    let folder = tempfile::tempdir().unwrap();
    assert!(refused(folder.path())[0].contains("is empty"));
    for file in ["a.ogg", "b.OGG", "c.mp3", "README"] {
        fs::write(folder.path().join(file), "x").unwrap();
    }
    let says = &refused(folder.path())[0];
    assert!(
        says.contains("no WAV, AIFF or FLAC, but 1 file without an extension, 1 .mp3 file and 2 .ogg files"),
        "{says}"
    );
    assert!(refused(&folder.path().join("README"))[0].contains("is a file"));
    assert!(refused(&folder.path().join("none"))[0].contains("no kit folder"));
}

#[test]
fn the_first_folder_that_has_a_piece_wins() {
    let first = kit_folder(&["kick.wav"]);
    let second = kit_folder(&["kick_deep.wav", "snare_1.wav", "snare_2.wav"]);
    let kit = Kit::open(&[first.path().into(), second.path().into()], &[]).unwrap();
    assert_eq!(listed(&kit), ["kick", "kick-deep", "snare"]);
    assert_eq!(layers(&kit, "kick"), one(&["kick.wav"]));
    assert_eq!(layers(&kit, "snare_2"), one(&["snare_2.wav"]));
}

#[test]
fn a_swap_replaces_a_pieces_recordings() {
    let folder = kit_folder(&["hat_1.wav", "hat_2.wav"]);
    let other = kit_folder(&["shaker.wav"]);
    let file = other.path().join("shaker.wav");
    let swap = |piece: &str, file: &Path| Kit::open(&[folder.path().into()], &[(piece.into(), file.into())]);
    let kit = swap("hat-closed", &file).unwrap();
    assert_eq!(layers(&kit, "hat-closed"), one(&["shaker.wav"]));
    assert_eq!(kit.index().pieces[0].choke.as_deref(), Some("hat"));
    let take = kit.index().pieces[0].layers[0].takes[0];
    assert!(kit.about(take).is_none());
    // A piece that the kit lacks comes along with its file.
    assert_eq!(
        layers(&swap("cowbell", &file).unwrap(), "cowbell"),
        one(&["shaker.wav"])
    );
    assert!(
        swap("hat-closed", Path::new("none.wav"))
            .unwrap_err()
            .to_string()
            .contains("none.wav")
    );
}

const KIT_TOML: &str = r#"
[kit]
title = "Boat shed"
maker = "The night watch"
licence = "CC0-1.0"

[[piece]]
name = "snare"
layers = [{ upto = 60, files = ["sn/low.wav"] }, { files = ["sn/a.wav", "./sn/b.wav"] }]
choke = "snares"
gain = -3
tune = 2

[[piece]]
name = "buoy"
files = "deep one.wav"

[[piece]]
name = "hat-open"
choke = "off"
release = 20
"#;

#[test]
fn kit_toml_gives_pieces_layers_and_defaults() {
    let folder = kit_folder(&[
        "sn/low.wav",
        "sn/a.wav",
        "sn/b.wav",
        "deep one.wav",
        "open hat 1.wav",
        "open hat 2.wav",
        "snare tight.wav",
    ]);
    fs::write(folder.path().join("kit.toml"), KIT_TOML).unwrap();
    let kit = open(folder.path());
    assert_eq!(listed(&kit), ["snare", "buoy", "hat-open", "snare-2"]);
    assert_eq!(
        layers(&kit, "snare"),
        [
            (60.0, vec!["low.wav".to_string()]),
            (127.0, vec!["a.wav".into(), "b.wav".into()])
        ]
    );
    assert_eq!(layers(&kit, "deep-one"), one(&["deep one.wav"]));
    let piece = |name| &kit.index().pieces[kit.index().find(name).unwrap()];
    assert_eq!(piece("snare").choke.as_deref(), Some("snares"));
    assert_eq!(piece("hat-open").choke, None);
    let about = kit.about(0).unwrap();
    assert_eq!(
        (about.title.as_str(), about.maker.as_deref(), about.licence.as_deref()),
        ("Boat shed", Some("The night watch"), Some("CC0-1.0"))
    );
    let number = |name: &str, setting: Setting<f64>| kit.defaults()[name].get(setting).copied();
    assert_eq!(
        (number("snare", strip::GAIN), number("snare", sound::TUNE)),
        (Some(-3.0), Some(2.0))
    );
    assert_eq!(number("hat-open", sound::RELEASE), Some(20.0));
    assert_eq!(number("open-hat", sound::RELEASE), Some(20.0), "by every name");
    assert_eq!(number("open-hat-2", sound::RELEASE), Some(20.0), "and for single files");
    assert!(kit.defaults()["snare"].get(sound::CHOKE).is_none());
    assert!(!kit.defaults().contains_key("snare-2"));
}

#[test]
fn every_problem_of_a_kit_toml_comes_at_once_and_points_into_it() {
    let folder = kit_folder(&["kick.wav", "snare.wav", "snare tight.wav"]);
    let text = "[kit]\nmakr = \"x\"\n[[piece]]\nname = \"kick\"\nfiles = [\"kik.wav\"]\n[[piece]]\nname = \"snar\"\n\
        [[piece]]\nname = \"clap\"\nlayers = [{ upto = 60, files = \"kick.wav\" }]\ngian = 3\n";
    fs::write(folder.path().join("kit.toml"), text).unwrap();
    let says = refused(folder.path());
    let lines: Vec<&str> = says
        .iter()
        .map(|says| says.split("kit.toml:").nth(1).unwrap().split(':').next().unwrap())
        .collect();
    assert_eq!(lines, ["2", "5", "7", "10", "11"], "in the order of the text");
    let says = says.join("\n");
    for part in [
        "kit.toml:2:1:",
        "`maker`",
        "kit.toml:5:11: the kit has no file `kik.wav`; did you mean \"kick.wav\"?",
        "kit.toml:7:9: no file's name means a piece `snar`",
        "did you mean `snare`?",
        "the last layer ends at 60",
        "`gain`",
    ] {
        assert!(says.contains(part), "{part} is not in:\n{says}");
    }
}

#[test]
fn only_what_is_asked_for_is_decoded_and_at_the_renders_rate() {
    let folder = kit_folder(&["kick.wav"]);
    put(folder.path(), "snare.wav", 44_100, &[8_192; 441]);
    fs::write(folder.path().join("bad clap.wav"), "this is text").unwrap();
    let kit = open(folder.path());
    let take = |name: &str| kit.index().pieces[kit.index().find(name).unwrap()].layers[0].takes[0];
    let loaded = kit
        .load(&[(take("snare"), true), (take("snare"), true)], 48_000)
        .unwrap();
    let present: Vec<usize> = (0..loaded.len()).filter(|take| loaded[*take].is_some()).collect();
    assert_eq!(present, [take("snare")]);
    let recording = loaded[take("snare")].as_ref().unwrap();
    assert_eq!(
        (recording.audio.rate, recording.audio.frames(), recording.care.onset),
        (48_000, 480, 0)
    );
    let problem = kit
        .load(&[(take("kick"), true), (take("clap"), true)], 48_000)
        .unwrap_err()
        .to_string();
    assert!(
        problem.contains("bad clap.wav") && problem.contains("is text, not a sound"),
        "{problem}"
    );
    let at_its_own = kit.load(&[(take("kick"), false)], 44_100).unwrap();
    assert_eq!(
        at_its_own[take("kick")].as_ref().unwrap().audio.channels,
        [[1_000.0 / 32_768.0; 4]]
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn whatever_files_are_called_each_name_works(stems in proptest::collection::btree_set(
        "(kick|snare|hat|hh|tom|deep|[a-zA-Z#ö]{1,3})([ _-]?(open|soft|hard|f|pp|v2|take|closed|[a-z]|[0-9]{1,2})){0,3}", 1..8,
    )) {
        let folder = tempfile::tempdir().unwrap();
        for stem in &stems {
            // Names are all that is read, so the files may be empty.
            fs::write(folder.path().join(format!("{stem}.wav")), "").unwrap();
        }
        let kit = open(folder.path());
        for stem in &stems {
            let piece = &kit.index().pieces[kit.index().find(stem).unwrap()];
            let mut takes = piece.layers.iter().flat_map(|layer| &layer.takes);
            prop_assert!(takes.any(|take| kit.file(*take).file_stem().unwrap() == stem.as_str()), "{stem} is in {piece:?}");
        }
        for piece in &kit.index().pieces {
            prop_assert_eq!(piece.layers.last().map(|layer| layer.upto), Some(127.0));
            prop_assert!(piece.layers.windows(2).all(|pair| pair[0].upto < pair[1].upto));
            prop_assert!(piece.layers.iter().all(|layer| !layer.takes.is_empty()));
        }
        let takes: usize = kit.index().listed().iter().flat_map(|piece| &piece.layers).map(|layer| layer.takes.len()).sum();
        prop_assert_eq!(takes, stems.len(), "every file is in just one piece");
    }
}

#[test]
fn the_order_of_the_disk_changes_nothing() {
    let names = [
        "b kick.wav",
        "a kick.wav",
        "snare 2.wav",
        "snare 1.wav",
        "x/hat.wav",
        "w/hat.wav",
    ];
    let mut back = names;
    back.reverse();
    let (one, other) = (kit_folder(&names), kit_folder(&back));
    let (one, other) = (open(one.path()), open(other.path()));
    assert_eq!(listed(&one), listed(&other));
    let files = |kit: &Kit| -> Vec<PathBuf> {
        (0..kit.takes())
            .map(|take| kit.file(take).file_name().unwrap().into())
            .collect()
    };
    assert_eq!(files(&one), files(&other));
}
