//! `tryout LOOP PIECE FOLDER`: the loop once with each one-shot of a folder, at one loudness, ranked by plain figures.

use std::path::Path;

use crate::support::page;
use crate::support::wav::long;
use crate::support::{Answer, Desk, assert_near, click, number, pluck};
use serde_json::Value;

/// A desk with a loop that repeats, and one-shots that differ in brightness, length and level.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kit/kick.wav", &[click()]);
    desk.one_shot("kit/hat-closed.wav", &[click()]);
    desk.one_shot("shots/high.wav", &[pluck(4000.0, 0.1, 0.3)]);
    desk.one_shot("shots/deep/low.wav", &[pluck(80.0, 0.4, 0.5)]);
    desk.one_shot("shots/mid.wav", &[pluck(700.0, 0.2, 0.05)]);
    desk.write("shots/notes.txt", "not a sound");
    desk.write(
        "loop.toml",
        "[loop]\ntitle = \"Quay\"\nkit = \"kit\"\ntempo = 120\nbars = 1\n[tab]\n\"all\" = \"\"\"\nkick x-x-\nhat-closed xxxx\n\"\"\"\n",
    );
    desk
}

fn tryout(desk: &Desk, options: &[&str]) -> Answer {
    desk.run(
        &[
            &["tryout", "loop.toml", "kick", "shots", "-o", "out", "--depth", "float"],
            options,
        ]
        .concat(),
    )
}

fn told(desk: &Desk, options: &[&str]) -> Value {
    let answer = tryout(desk, &[&["--json"], options].concat());
    answer.assert_done();
    serde_json::from_str(&answer.out).unwrap_or_else(|error| panic!("{error} in {}", answer.out))
}

fn names(told: &Value) -> Vec<String> {
    let tried = told["tried"].as_array().expect("a list");
    tried
        .iter()
        .map(|one| one["name"].as_str().unwrap().to_string())
        .collect()
}

#[test]
fn every_one_shot_is_heard_in_the_loop_at_the_loudness_of_the_quietest() {
    let desk = desk();
    let told = told(&desk, &[]);
    assert_eq!(
        desk.names("out"),
        [
            "all-in-turn.wav",
            "high.wav",
            "index.html",
            "low.wav",
            "mid.wav",
            "reference.wav"
        ]
    );
    let files = ["out/high.wav", "out/low.wav", "out/mid.wav", "out/reference.wav"];
    let measured = desk.run(&[&["measure", "--json"], &files[..]].concat()).out;
    let measured: Value = serde_json::from_str(&measured).unwrap();
    let loudness: Vec<f64> = measured
        .as_array()
        .unwrap()
        .iter()
        .map(|file| number(&file["lufs"]))
        .collect();
    let mut gains = vec![number(&told["reference"]["gain_db"])];
    for (one, name) in [
        ("shots/high.wav", "high"),
        ("shots/deep/low.wav", "low"),
        ("shots/mid.wav", "mid"),
    ] {
        let (alone, own) = desk.render_file("loop.toml", &["--swap", &format!("kick={one}")]);
        let matched = desk.read(&format!("out/{name}.wav"));
        let line = told["tried"]
            .as_array()
            .unwrap()
            .iter()
            .find(|line| line["name"] == name)
            .unwrap();
        let gain = number(&line["gain_db"]);
        gains.push(gain);
        // It is the render with that one swapped in, but for the gain that is told.
        let factor = 10f64.powf(gain / 20.0) as f32;
        let same = alone
            .left()
            .iter()
            .zip(matched.left())
            .all(|(a, b)| (a * factor - b).abs() < 1e-6);
        assert!(same && alone.frames() == matched.frames(), "{name}");
        assert_near(number(&own["lufs"]) + gain, number(&told["matched_lufs"]), 0.05, name);
        assert!(gain <= 0.0, "nothing is lifted over the ceiling");
    }
    assert!(
        gains.contains(&0.0) && gains.iter().any(|gain| *gain < -1.0),
        "{gains:?}"
    );
    let (most, least) = (
        loudness.iter().copied().fold(f64::MIN, f64::max),
        loudness.iter().copied().fold(f64::MAX, f64::min),
    );
    assert!(most - least <= 0.1, "{loudness:?}");
}

#[test]
fn the_kits_own_sound_is_among_them_as_the_reference() {
    let desk = desk();
    for options in [&[][..], &["--by", "length"], &["--pick", "2"]] {
        let told = told(&desk, options);
        let reference = &told["reference"];
        assert_eq!(reference["name"], "reference");
        assert_eq!(reference["one_shot"], "kit/kick.wav");
        assert!(reference["rank"].is_null(), "{reference}");
        let picked = if options.contains(&"--pick") { 2 } else { 3 };
        assert_eq!(names(&told).len(), picked, "it is none of those that were picked");
        assert_eq!(told["tried"][0]["rank"], 1);
        // It is the loop as it is written, but for the gain that is told.
        let (alone, _) = desk.render_file("loop.toml", &[]);
        let matched = desk.read("out/reference.wav");
        let factor = 10f64.powf(number(&reference["gain_db"]) / 20.0) as f32;
        let same = alone
            .left()
            .iter()
            .zip(matched.left())
            .all(|(a, b)| (a * factor - b).abs() < 1e-6);
        assert!(same && alone.frames() == matched.frames());
    }
    let page = tryout(&desk, &[]).out;
    assert!(page.contains("3 one-shots in the place of kick"), "{page}");
    assert!(page.contains("\n  1 reference "), "{page}");
    assert!(page.contains("reference: the loop with the kit's own kick"), "{page}");
    let html = std::fs::read_to_string(desk.path("out/index.html")).expect("a page");
    assert_eq!(page::names(&html), ["reference", "low", "mid", "high"]);
    // One that can't be read is no reason not to try others.
    desk.write("kit/kick.wav", "no sound");
    let broken = told(&desk, &[]);
    assert!(broken["reference"].is_null());
    assert_eq!(self::names(&broken).len(), 3);
}

#[test]
fn the_page_tells_how_each_differs_octave_by_octave() {
    let desk = desk();
    // What `compare` says of a loop's octaves and loudness.
    let compared = |options: &[&str]| {
        let words = ["compare", "loop.toml", "--vary", "hat-closed.gain=0", "--json"];
        let answer = desk.run(&[words.as_slice(), &["-o", "compared", "--force"], options].concat());
        answer.assert_done();
        let told: Value = serde_json::from_str(&answer.out).expect("JSON");
        told["versions"][0].clone()
    };
    let own = compared(&[]);
    for options in [&["--by", "path"][..], &["--by", "path", "--no-match"]] {
        std::fs::remove_dir_all(desk.path("out")).ok();
        tryout(&desk, options).assert_done();
        let html = std::fs::read_to_string(desk.path("out/index.html")).expect("a page");
        assert_eq!(page::names(&html), ["reference", "low", "high", "mid"]);
        let html = page::shown(&html);
        let table = page::between(&html, "<table id=\"octaves\">", "</table>")[0];
        let rows: Vec<Vec<f64>> = page::between(table, "<tr data-version=", "</tr>")
            .iter()
            .map(|row| {
                let cells = page::between(row, "<td class=\"figure\">", "</td>").into_iter();
                cells
                    .map(|cell| cell.replace('\u{2212}', "-").parse().expect(cell))
                    .collect()
            })
            .collect();
        assert_eq!((rows.len(), rows[0].len()), (4, 10));
        for octave in 0..10 {
            assert_near(
                rows[0][octave],
                number(&own["octaves_db"][octave]),
                0.051,
                "the reference's",
            );
        }
        for (row, shot) in [(1, "shots/deep/low.wav"), (2, "shots/high.wav"), (3, "shots/mid.wav")] {
            let swapped = compared(&["--swap", &format!("kick={shot}")]);
            let louder = number(&swapped["lufs"]) - number(&own["lufs"]);
            for octave in 0..10 {
                let apart = number(&swapped["octaves_db"][octave]) - number(&own["octaves_db"][octave]) - louder;
                assert_near(rows[row][octave], apart, 0.06, shot);
            }
        }
    }
}

#[test]
fn no_match_leaves_levels_alone() {
    let desk = desk();
    let told = told(&desk, &["--no-match", "--no-page"]);
    assert!(told["page"].is_null() && !desk.path("out/index.html").exists());
    assert!(told["matched_lufs"].is_null());
    let (alone, _) = desk.render_file("loop.toml", &["--swap", "kick=shots/high.wav"]);
    assert!(alone.channels == desk.read("out/high.wav").channels);
}

#[test]
fn they_are_ranked_by_the_figure_that_is_asked_for() {
    let desk = desk();
    let by_brightness = told(&desk, &[]);
    assert_eq!(names(&by_brightness), ["low", "mid", "high"]);
    let tried = &by_brightness["tried"];
    for (line, hz) in [(0, 80.0), (1, 700.0), (2, 4000.0)] {
        // Its stroke, a step at full height, lifts it by some 20 Hz.
        assert_near(
            number(&tried[line]["brightness_hz"]),
            hz,
            25.0 + 0.02 * hz,
            "the pitch of a tone",
        );
    }
    // A pluck falls 60 dB in its time.
    assert_near(number(&tried[0]["length_ms"]), 400.0, 8.0, "length");
    assert_eq!(names(&told(&desk, &["--by", "length"])), ["high", "mid", "low"]);
    let by_level = told(&desk, &["--by", "level"]);
    assert_eq!(names(&by_level), ["low", "high", "mid"]);
    // 0.5 against 0.3, as both are the loudest thing in their mixes but for the click of the hat at 0.5.
    let level = |line: usize| number(&by_level["tried"][line]["level_db"]);
    assert!(level(0) > level(1) && level(1) > level(2), "{by_level}");
    assert_eq!(names(&told(&desk, &["--by", "path"])), ["low", "high", "mid"]);
    let page = tryout(&desk, &["--by", "length"]).out;
    assert!(page.contains("from short to long"), "{page}");
    assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
}

#[test]
fn all_lie_in_turn_in_one_wav_with_a_cue_each() {
    let desk = desk();
    let told = told(&desk, &[]);
    let whole = desk.read("out/all-in-turn.wav");
    let cues = whole.chunk(b"cue ").expect("cues");
    assert_eq!(long(cues), 4);
    let mut begins = 0;
    for (number, name) in ["reference", "low", "mid", "high"].into_iter().enumerate() {
        let one = desk.read(&format!("out/{name}.wav"));
        let point = &cues[4 + 24 * number..];
        assert_eq!(
            (long(point), &point[8..12], long(&point[20..])),
            (number as u32 + 1, &b"data"[..], begins as u32)
        );
        let told = match number.checked_sub(1) {
            None => &told["reference"],
            Some(at) => &told["tried"][at],
        };
        assert_near(
            crate::support::number(&told["begins"]),
            begins as f64 / 48_000.0,
            1e-9,
            name,
        );
        // But for the last 5 ms, in which the next takes over.
        let until = one.frames() - 240;
        assert!(whole.left()[begins..begins + until] == one.left()[..until], "{name}");
        begins += one.frames();
    }
    assert_eq!(whole.frames(), begins);
    let labels: Vec<_> = whole
        .chunks
        .iter()
        .filter(|(name, body)| name == b"LIST" && body.starts_with(b"adtl"))
        .collect();
    let labels = String::from_utf8_lossy(&labels[0].1).into_owned();
    for name in ["reference", "low", "mid", "high"] {
        assert!(labels.contains(&format!("{name}\0")), "{labels:?}");
    }
    assert!(whole.chunk(b"smpl").is_none(), "what lies in turn does not go round");
    // No step between two of them is larger than those within them, hits aside.
    let join = desk.read("out/reference.wav").frames() + desk.read("out/low.wav").frames();
    let mid = desk.read("out/mid.wav");
    let step = (whole.left()[join - 1] - mid.left()[mid.frames() - 1]).abs();
    assert!(step < 1e-3, "{step}");
}

#[test]
fn what_cannot_be_read_is_named_and_passed_over() {
    let desk = desk();
    desk.write("shots/a broken one.wav", "RIFF but no more");
    let answer = tryout(&desk, &[]);
    answer.assert_done();
    assert!(answer.err.contains("a broken one.wav is skipped"), "{}", answer.err);
    let told = told(&desk, &[]);
    assert_eq!(told["passed_over"][0]["one_shot"], "shots/a broken one.wav");
    assert_eq!(names(&told).len(), 3);
    desk.write("bad/one.wav", "nothing");
    let answer = desk.run(&["tryout", "loop.toml", "kick", "bad"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("bad/one.wav"), "{}", answer.err);
    assert!(!desk.path("renders").exists());
}

#[test]
fn alike_names_are_told_apart_and_files_may_be_named() {
    let desk = desk();
    desk.one_shot("shots/deep/High.wav", &[click()]);
    let told = told(&desk, &["--by", "path"]);
    assert_eq!(names(&told), ["deep-High", "low", "high", "mid"]);
    let files = desk.run(&["tryout", "loop.toml", "kick", "shots/high.wav", "shots/deep"]);
    files.assert_done();
    assert_eq!(
        desk.names("renders/loop-tryout-kick"),
        [
            "High-2.wav",
            "all-in-turn.wav",
            "high.wav",
            "index.html",
            "low.wav",
            "reference.wav"
        ],
        "relative to what was named, these are alike"
    );
}

#[test]
fn refusals_say_what_to_do() {
    let desk = desk();
    desk.write("empty/readme.txt", "nothing");
    for number in 0..65 {
        desk.one_shot(&format!("many/{}/shot{number}.wav", ["a", "b"][number % 2]), &[click()]);
    }
    desk.write(
        "muted.toml",
        std::fs::read_to_string(desk.path("loop.toml")).unwrap() + "[[part]]\nname = \"kick\"\nmute = true\n",
    );
    let refused = |arguments: &[&str], words: &[&str]| {
        let answer = desk.run(&[&["tryout"], arguments].concat());
        assert_eq!(answer.code, Some(1), "{arguments:?}");
        let told = answer.err.split_whitespace().collect::<Vec<_>>().join(" ");
        for word in words {
            assert!(told.contains(word), "{word} in {told}");
        }
    };
    refused(
        &["loop.toml", "kik", "shots"],
        &["nothing plays a piece `kik`", "did you mean `kick`?"],
    );
    refused(&["loop.toml", "zzz", "shots"], &["there are kick, hat-closed"]);
    refused(&["muted.toml", "kick", "shots"], &["`kick` is not audible"]);
    refused(&["loop.toml", "kick", "empty"], &["there is nothing to try in empty"]);
    refused(&["loop.toml", "kick", "gone"], &["there is no folder `gone`"]);
    refused(
        &["loop.toml", "kick", "many"],
        &["65 one-shots", "64 are tried at a time", "many/a (33)"],
    );
    refused(
        &["loop.toml", "kick", "shots", "-o", "shots"],
        &["shots/high.wav would be overwritten"],
    );
    assert!(
        !desk.path("renders").exists(),
        "nothing is written where anything is refused"
    );
    assert_eq!(desk.run(&["tryout", "loop.toml", "kick"]).code, Some(2));
}

#[test]
fn the_usual_options_hold_and_forms_are_tried_too() {
    let desk = desk();
    let out = |desk: &Desk, name: &str| desk.read(&format!("out/{name}.wav"));
    let options = [
        "--bars",
        "1",
        "--rate",
        "44100",
        "--repeat",
        "2",
        "--set",
        "loop.tempo=60",
        "--only",
        "kick",
        "--no-match",
    ];
    told(&desk, &options);
    let (alone, _) = desk.render_file(
        "loop.toml",
        &[&options[..10], &["--swap", "kick=shots/high.wav"]].concat(),
    );
    assert_eq!(
        (out(&desk, "high").rate, out(&desk, "high").frames()),
        (44_100, 2 * 4 * 44_100)
    );
    assert!(alone.channels == out(&desk, "high").channels);
    // A piece that the kit lacks may be tried.
    let text = std::fs::read_to_string(desk.path("loop.toml")).unwrap();
    desk.write("more.toml", text.replace("kick x-x-", "door x-x-"));
    desk.run(&["tryout", "more.toml", "door", "shots", "-o", "doors"])
        .assert_done();
    assert_eq!(desk.names("doors").len(), 5);
    desk.write(
        "show.toml",
        "[form]\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\ntimes = 2\n",
    );
    let answer = desk.run(&["tryout", "show.toml", "kick", "shots", "-o", "shows", "--json"]);
    answer.assert_done();
    let told: Value = serde_json::from_str(&answer.out).unwrap();
    assert!(number(&told["tried"][0]["level_db"]) < 3.0, "{told}");
    assert_eq!(
        Path::new(told["in_turn"].as_str().unwrap()),
        Path::new("shows/all-in-turn.wav")
    );
    // Silence has no brightness and comes last.
    desk.one_shot("shots/still.wav", &[vec![0.0; 500]]);
    let still = self::told(&desk, &[]);
    assert_eq!(names(&still)[3], "still");
    assert!(still["tried"][3]["brightness_hz"].is_null());
}
