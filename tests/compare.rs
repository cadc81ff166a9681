//! `compare`: versions at one loudness, equally long, with what sets them apart.

use std::path::Path;

use crate::support::page::{self, shown, told};
use crate::support::{Desk, assert_near, noise, number, pluck, tone};
use serde_json::Value;

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[pluck(60.0, 0.5, 0.8)]);
    let hiss: Vec<f32> = noise(9600, 3).iter().map(|n| *n as f32 / 65536.0).collect();
    desk.one_shot("snare.wav", &[hiss]);
    desk.one_shot("bell.wav", &[pluck(880.0, 1.0, 0.4), pluck(883.0, 1.0, 0.4)]);
    desk.write(
        "quay.toml",
        "[loop]\ntitle = \"Quay\"\ntempo = 110\nbars = 2\n[tab]\n\"all\" = \"\"\"\nkick x---x---x---x---\n\
         snare ----x-------x---\nbell x-------x-------\n\"\"\"\n[[part]]\nname = \"snare\"\nbus = \"drums\"\n\
         [[part]]\nname = \"kick\"\nbus = \"drums\"\n[[bus]]\nname = \"drums\"\ndrive = 3\n\
         compress = { threshold = -24, ratio = 4 }\n\
         [[mix]]\nname = \"bell / back\"\nset = { \"bell.gain\" = -12 }\n\
         [[mix]]\nname = \"roomy\"\nset = { \"snare.room\" = -6 }\n",
    );
    desk
}

/// Runs `compare` with `--json`; the answer and what it printed.
fn compare(desk: &Desk, options: &[&str]) -> Value {
    let answer = desk.run(&[&["compare", "quay.toml", "--json", "-o", "out"], options].concat());
    answer.assert_done();
    serde_json::from_str(&answer.out).expect("one JSON object")
}

fn names(told: &Value) -> Vec<String> {
    let versions = told["versions"].as_array().expect("versions");
    versions
        .iter()
        .map(|one| one["name"].as_str().unwrap_or("").to_string())
        .collect()
}

fn file(one: &Value) -> String {
    one["file"].as_str().expect("a file").to_string()
}

/// The loudness of a file by `measure`.
fn lufs(desk: &Desk, file: &str) -> f64 {
    let answer = desk.run(&["measure", "--json", file]);
    answer.assert_done();
    let told: Value = serde_json::from_str(&answer.out).expect("JSON");
    number(&told[0]["lufs"])
}

#[test]
fn mixes_lie_at_one_loudness_under_the_ceiling_and_are_equally_long() {
    let desk = desk();
    let told = compare(&desk, &[]);
    assert_eq!(names(&told), ["as written", "bell / back", "roomy"]);
    assert_eq!(
        desk.names("out"),
        ["01-as-written.wav", "02-bell---back.wav", "03-roomy.wav", "index.html"]
    );
    let target = number(&told["matched_lufs"]);
    for one in told["versions"].as_array().unwrap() {
        assert_near(lufs(&desk, &file(one)), target, 0.1, &one["name"]);
        assert_near(
            number(&one["lufs"]) + number(&one["gain_db"]),
            target,
            0.1,
            "the gain that is told",
        );
        assert!(number(&one["true_peak_db"]) + number(&one["gain_db"]) < -0.9, "{one}");
        assert_eq!(
            desk.read(&file(one)).frames(),
            desk.read("out/01-as-written.wav").frames()
        );
    }
    let page = shown(&std::fs::read_to_string(desk.path("out/index.html")).expect("a page"));
    assert!(page.contains("roomy") && page.contains("difference from 1"));
    // What the picture says of a difference is what the table says.
    for one in &told["versions"].as_array().unwrap()[1..] {
        let figure = format!("{:.1} dB", number(&one["difference_db"])).replace('-', "\u{2212}");
        assert!(page.contains(&format!(">{figure} relative to version 1<")), "{figure}");
        assert!(
            page.contains(&format!("<td class=\"figure\">{figure}</td>")),
            "{figure}"
        );
    }
    // What the octaves of the first are relative to, the page says.
    assert!(page.contains("version 1 as it is (a square wave of full scale has 0 dB)"));
    assert!(number(&told["page_seconds"]) > 0.0 && number(&told["render_seconds"]) > 0.0);
}

#[test]
fn what_differs_is_told() {
    let desk = desk();
    let told = compare(&desk, &[]);
    let versions = told["versions"].as_array().unwrap();
    assert_eq!(versions[0]["difference_db"], Value::Null);
    assert_eq!(versions[1]["changed"], serde_json::json!(["bell"]));
    // The room comes into being with its first send.
    assert_eq!(versions[2]["changed"], serde_json::json!(["snare", "room"]));
    assert!(number(&versions[1]["difference_db"]) < 0.0);
    // The bell's 880 Hz lie in the octave of 1 kHz, the kick's 60 Hz in that of 63 Hz.
    let octave = |version: usize, at: usize| number(&versions[version]["octaves_db"][at]);
    assert!(octave(1, 5) < octave(0, 5) - 3.0);
    assert_near(octave(1, 1), octave(0, 1), 0.2, "the kick stays");
}

#[test]
fn combinations_of_values() {
    let desk = desk();
    let told = compare(
        &desk,
        &["--vary", "drums.compress.ratio=2,8", "--vary", "bell.gain=-3,-6"],
    );
    assert_eq!(
        names(&told),
        [
            "as written",
            "drums.compress.ratio=2 bell.gain=-3",
            "drums.compress.ratio=2 bell.gain=-6",
            "drums.compress.ratio=8 bell.gain=-3",
            "drums.compress.ratio=8 bell.gain=-6"
        ]
    );
    // A version is what it is alone, but for its level.
    desk.run(&[
        "render",
        "quay.toml",
        "--set",
        "bell.gain=-6",
        "--set",
        "drums.compress.ratio=8",
        "--depth",
        "float",
        "-o",
        "alone.wav",
    ])
    .assert_done();
    let told = compare(
        &desk,
        &[
            "--vary",
            "drums.compress.ratio=8",
            "--vary",
            "bell.gain=-6",
            "--no-match",
            "--depth",
            "float",
        ],
    );
    assert_eq!(told["matched_lufs"], Value::Null);
    assert!(desk.read(&file(&told["versions"][1])).channels == desk.read("alone.wav").channels);
    let answer = desk.run(&[
        "compare",
        "quay.toml",
        "--vary",
        "bell.gain=1,2,3,4,5,6,7,8,9",
        "--vary",
        "kick.gain=1,2,3,4,5,6,7,8",
    ]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("72 versions; 64"), "{}", answer.err);
    assert_eq!(desk.run(&["compare", "quay.toml", "--vary", "bell.gain"]).code, Some(2));
}

#[test]
fn what_is_wrong_with_vary_points_into_it() {
    let desk = desk();
    let answer = desk.run(&["compare", "quay.toml", "--vary", "bell.gain=-3, loud,2"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("--vary:1:15"), "{}", answer.err);
    assert!(answer.err.contains("bell.gain=-3, loud,2"), "{}", answer.err);
    let answer = desk.run(&["compare", "quay.toml", "--set", "bell.gain=1", "--vary", "bel.gain=1,2"]);
    assert!(
        answer.err.contains("--vary:1:1") && answer.err.contains("`bell.gain`"),
        "{}",
        answer.err
    );
    assert!(!answer.err.contains("--set"), "{}", answer.err);
}

#[test]
fn keys_that_are_set_otherwise_are_named_with_what_they_were() {
    let desk = desk();
    let text = std::fs::read_to_string(desk.path("quay.toml")).expect("the loop");
    let text = text.replace("drive = 3", "drive = { amount = 4, blend = 40, high_cut = 9000 }");
    desk.write("quay.toml", &text);
    let told = compare(&desk, &["--vary", "drums.drive=0,6,off"]);
    let setting =
        |key: &str, before: &str, after: &str| serde_json::json!([{ "key": key, "before": before, "after": after }]);
    assert_eq!(told["versions"][0]["settings"], serde_json::json!([]));
    assert_eq!(told["versions"][2]["settings"], setting("drums.drive.amount", "4", "6"));
    assert_eq!(
        told["versions"][3]["settings"],
        setting("drums.drive", "{ amount = 4, blend = 40, high_cut = 9000 }", "off")
    );
    // What nobody has said was the key's default; a kit's word comes before that.
    let told = compare(&desk, &[]);
    assert_eq!(told["versions"][1]["settings"], setting("bell.gain", "0", "-12"));
    desk.write("kit.toml", "[[piece]]\nname = \"bell\"\ngain = -2\n");
    let answer = desk.run(&["compare", "quay.toml", "-o", "out"]);
    answer.assert_done();
    assert!(answer.out.contains("bell.gain -2 → -12"), "{}", answer.out);
    let page = shown(&std::fs::read_to_string(desk.path("out/index.html")).expect("a page"));
    assert!(page.contains("bell.gain -2 → -12"));
}

#[test]
fn tempos_are_brought_to_one_length() {
    let desk = desk();
    let told = compare(&desk, &["--vary", "loop.tempo=80,140"]);
    let lengths: Vec<usize> = told["versions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| desk.read(&file(one)).frames())
        .collect();
    assert!(lengths.iter().all(|length| *length == lengths[0]), "{lengths:?}");
    // The slowest is the longest: two bars of four beats at 80.
    assert_eq!(lengths[0], 288_000);
    assert_eq!(told["versions"][1]["changed"], serde_json::json!(["every part"]));
}

#[test]
fn a_bypassed_bus_is_the_bus_without_effects() {
    let desk = desk();
    let told = compare(&desk, &["--bypass", "drums", "--no-match", "--depth", "float"]);
    assert_eq!(names(&told), ["as written", "drums bypassed"]);
    assert_eq!(told["versions"][1]["changed"], serde_json::json!(["drums (bus)"]));
    desk.run(&[
        "render",
        "quay.toml",
        "--set",
        "drums.compress=off",
        "--set",
        "drums.drive=off",
        "--depth",
        "float",
        "-o",
        "alone.wav",
    ])
    .assert_done();
    assert!(desk.read(&file(&told["versions"][1])).channels == desk.read("alone.wav").channels);
    let answer = desk.run(&["compare", "quay.toml", "--bypass", "drum"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("did you mean `drums`?"), "{}", answer.err);
}

#[test]
fn a_recording_lies_beside_the_versions() {
    let desk = desk();
    desk.one_shot("mine.wav", &[tone(1000.0, 6.0, 0.05), tone(1000.0, 6.0, 0.05)]);
    let told = compare(&desk, &["--beside", &desk.path("mine.wav").to_string_lossy()]);
    let beside = &told["beside"][0];
    assert_eq!(beside["name"], "mine");
    assert_near(
        lufs(&desk, &file(beside)),
        number(&told["matched_lufs"]),
        0.1,
        "its loudness",
    );
    assert_eq!(desk.read(&file(beside)).frames(), 288_000);
    // A sine at 0.05 on both sides has a mean power of 0.00125.
    assert_near(number(&beside["octaves_db"][5]), -29.03, 0.1, "its octave");
}

#[test]
fn a_form_is_compared_too() {
    let desk = desk();
    desk.write(
        "form.toml",
        "[form]\ntitle = \"Evening\"\n[[section]]\nname = \"a\"\nloop = \"quay.toml\"\n\
         [[section]]\nname = \"b\"\nloop = \"quay.toml\"\nmute = [\"bell\"]\n",
    );
    let answer = desk.run(&["compare", "form.toml", "--json", "--bypass", "drums", "-o", "out"]);
    answer.assert_done();
    let told: Value = serde_json::from_str(&answer.out).unwrap();
    assert_eq!(
        told["versions"][1]["changed"],
        serde_json::json!(["a: drums (bus)", "b: drums (bus)"])
    );
}

#[test]
fn the_page_is_80_columns_wide_and_plain_in_a_pipe() {
    let desk = desk();
    let answer = desk.run(&[
        "compare",
        "quay.toml",
        "--vary",
        "drums.compress=off,\"{ threshold = -30, ratio = 12 }\"",
    ]);
    assert_eq!(answer.code, Some(1), "a text is no compressor");
    let answer = desk.run(&[
        "compare",
        "quay.toml",
        "--vary",
        "drums.compress=off,{ threshold = -30, ratio = 12 }",
    ]);
    answer.assert_done();
    let widest = answer.out.lines().map(|line| line.chars().count()).max();
    assert!(widest <= Some(80), "{}", answer.out);
    assert!(!answer.out.contains('\u{1b}'));
    assert!(Path::new(&desk.path("renders/quay-compare/index.html")).is_file());
}

#[test]
fn nothing_to_compare_is_told() {
    let desk = desk();
    let text = std::fs::read_to_string(desk.path("quay.toml")).unwrap();
    desk.write("plain.toml", text.split("[[mix]]").next().unwrap_or(""));
    let answer = desk.run(&["compare", "plain.toml"]);
    assert_eq!(answer.code, Some(1));
    assert!(
        answer.err.contains("no mixes") && answer.err.contains("--vary drums.drive=0,3,6"),
        "{}",
        answer.err
    );
    // What is advised names what this very file has, and works.
    desk.write("bare.toml", "[loop]\ntempo = 100\nbars = 1\n[tab]\nall = \"bell x\"\n");
    let answer = desk.run(&["compare", "bare.toml"]);
    let (_, advice) = answer.err.split_once("--vary ").expect("advice");
    let advice = advice.split_whitespace().next().expect("what to vary");
    assert_eq!(advice, "bell.drive=0,3,6");
    desk.run(&["compare", "bare.toml", "--vary", advice]).assert_done();
}

#[test]
fn a_page_that_begins_blind_says_so_to_its_script_alone() {
    let desk = desk();
    for (options, blind) in [(&[][..], false), (&["--blind"], true)] {
        compare(&desk, options);
        let html = std::fs::read_to_string(desk.path("out/index.html")).expect("a page");
        assert_eq!(told(&html)["blind"], blind);
        assert_eq!(page::names(&html)[2], "roomy");
        assert!(!html.contains("roomy"), "a name stands in the file");
    }
}

/// Lets the command write a page of eight versions of a demo loop, which the test in a browser opens too.
#[test]
fn a_page_for_the_browser() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("listening-page/compared");
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits/harbour-studio/loops/night-ferry.toml");
    let (folder, file) = (folder.to_string_lossy(), file.to_string_lossy());
    let vary = "snare.room=off,-30,-26,-22,-18,-14,-6";
    let answer = Desk::new().run(&["compare", &file, "--vary", vary, "--depth", "16", "-o", &folder]);
    answer.assert_done();
    let bytes = std::fs::metadata(Path::new(&*folder).join("index.html"))
        .expect("a page")
        .len();
    assert!(bytes < 40_000_000, "eight versions of eight bars take {bytes} bytes");
    // And one that begins blind.
    let blind = format!("{folder}/blind");
    let vary = "snare.room=off,-6";
    let command = [
        "compare", &file, "--vary", vary, "--bars", "1-2", "--blind", "--depth", "16",
    ];
    Desk::new().run(&[&command[..], &["-o", &blind]].concat()).assert_done();
}
