//! A recording may lie in two files, its left side and its right: `kit.toml` joins them, and they are one recording everywhere.

use std::fs;

use crate::support::{Desk, RATE, noise, pluck, wav};
use serde_json::Value;

const LOOP: &str = "[loop]\ntitle = \"Ebb\"\nkit = \"KIT\"\ntempo = 120\nbars = 1\n[tab]\n\"all\" = \"\"\"\nkick x-x-\nrim 39-9\n\"\"\"\n\
                    [[part]]\nname = \"kick\"\nroom = -12\n[[part]]\nname = \"rim\"\n\
                    [[part]]\nname = \"keys\"\nnotes = \"C4 E4 G4 B4\"\nrelease = 20\n";

const TWO: &str = "[[piece]]\nname = \"kick\"\nfiles = [{ left = \"k l.wav\", right = \"k r.wav\" }]\n\
                   [[piece]]\nname = \"rim\"\nlayers = [{ upto = 60, files = { left = \"rim l.wav\", right = \"rim r.wav\" } }, { files = [\"hard.wav\"] }]\n\
                   [[piece]]\nname = \"keys\"\nzones = [{ root = \"C4\", file = { left = \"a l.wav\", right = \"a r.wav\" } }, { root = \"A4\", file = \"b.wav\" }]\n";

const ONE: &str = "[[piece]]\nname = \"kick\"\nfiles = [\"k l.wav\"]\n\
                   [[piece]]\nname = \"rim\"\nlayers = [{ upto = 60, files = \"rim l.wav\" }, { files = [\"hard.wav\"] }]\n\
                   [[piece]]\nname = \"keys\"\nzones = [{ root = \"C4\", file = \"a l.wav\" }, { root = \"A4\", file = \"b.wav\" }]\n";

/// A hit with a lead of silence, so that care has to look at both sides of it.
fn hit(seed: u32, lead: usize, frames: usize) -> Vec<f32> {
    let noise = noise(frames, seed).into_iter().enumerate();
    let fall = |(n, x): (usize, i64)| (x as f64 / f64::from(1 << 16) * (-(n as f64) / 900.0).exp()) as f32;
    [vec![0.0; lead], noise.map(fall).collect()].concat()
}

/// Writes the sides of a recording as two files, and as one beside them in another folder.
fn put(desk: &Desk, name: &str, mut sides: [Vec<f32>; 2]) {
    for (side, letter) in sides.iter().zip(["l", "r"]) {
        desk.write(
            &format!("two/{name} {letter}.wav"),
            wav::float(RATE, std::slice::from_ref(side)),
        );
    }
    let frames = sides[0].len().max(sides[1].len());
    sides.iter_mut().for_each(|side| side.resize(frames, 0.0));
    desk.write(&format!("one/{name} l.wav"), wav::float(RATE, &sides));
}

fn desk() -> Desk {
    let desk = Desk::new();
    // The left of one pair begins earlier, the right of another is shorter.
    put(&desk, "k", [hit(1, 300, 9_000), hit(2, 500, 9_000)]);
    put(&desk, "rim", [hit(3, 0, 5_000), hit(4, 0, 3_000)]);
    put(&desk, "a", [pluck(261.63, 0.8, 0.4), pluck(261.9, 0.7, 0.3)]);
    for folder in ["one", "two"] {
        desk.one_shot(&format!("{folder}/hard.wav"), &[hit(5, 0, 4_000)]);
        desk.one_shot(&format!("{folder}/b.wav"), &[pluck(440.0, 0.6, 0.4)]);
    }
    desk.write("one/kit.toml", ONE);
    desk.write("two/kit.toml", TWO);
    for folder in ["one", "two"] {
        desk.write(&format!("{folder}.toml"), LOOP.replace("KIT", folder));
    }
    desk
}

#[test]
fn two_files_render_the_bytes_of_the_stereo_file_made_of_them() {
    let desk = desk();
    let bytes = |name: &str| {
        let file = format!("{name}.wav");
        desk.run(&["render", &format!("{name}.toml"), "-o", &file, "--stems"])
            .assert_done();
        let stem = |part: &str| fs::read(desk.path(&format!("{name}-stems/{part}.wav"))).unwrap();
        [
            fs::read(desk.path(&file)).unwrap(),
            stem("kick"),
            stem("rim"),
            stem("keys"),
        ]
    };
    let (one, two) = (bytes("one"), bytes("two"));
    assert!(one.iter().all(|bytes| bytes.len() > 10_000));
    assert!(one == two);
    // What is written down of it is read as the same.
    desk.run(&["kit", "two", "--write", "--force"]).assert_done();
    let text = fs::read_to_string(desk.path("two/kit.toml")).unwrap();
    for written in [
        "  { left = \"k l.wav\", right = \"k r.wav\" },",
        "    { left = \"rim l.wav\", right = \"rim r.wav\" },",
        "  { root = \"C4\", file = { left = \"a l.wav\", right = \"a r.wav\" } },",
    ] {
        assert!(text.contains(written), "{written} in\n{text}");
    }
    assert!(bytes("two") == one, "{text}");
}

#[test]
fn the_right_side_is_no_piece_of_its_own_and_is_told_beside_the_left() {
    let desk = desk();
    let answer = desk.run(&["kit", "two", "--json"]);
    answer.assert_done();
    let told: Value = serde_json::from_str(&answer.out).unwrap();
    let pieces = told["pieces"].as_array().unwrap();
    let names: Vec<&str> = pieces.iter().filter_map(|piece| piece["name"].as_str()).collect();
    assert_eq!(names, ["kick", "rim", "keys"]);
    let kick = &pieces[0]["files"][0];
    assert_eq!(
        (&kick["file"], &kick["right"]),
        (&Value::from("k l.wav"), &Value::from("k r.wav"))
    );
    assert_eq!(kick["channels"], 2);
    assert!(pieces[1]["files"][1].get("right").is_none(), "{}", pieces[1]);
}

#[test]
fn the_right_side_is_credited_kept_and_read_anew() {
    let desk = desk();
    desk.run(&["render", "two.toml", "-o", "a.wav", "--credits"])
        .assert_done();
    let credits = fs::read_to_string(desk.path("a.credits.txt")).unwrap();
    for file in ["k l.wav", "k r.wav", "rim r.wav", "a r.wav", "hard.wav"] {
        assert!(credits.lines().any(|line| line.trim() == file), "{file} in\n{credits}");
    }
    let right = fs::read(desk.path("two/k r.wav")).unwrap();
    let refused = desk.run(&["render", "two.toml", "-o", "two/k r.wav", "--force"]);
    assert_eq!(refused.code, Some(1));
    assert!(refused.err.contains("made of"), "{}", refused.err);
    assert!(fs::read(desk.path("two/k r.wav")).unwrap() == right);
    // A render after the right side alone has changed is another one, on one render cache too.
    let names = || {
        let kit = pressroll::internals::kit::Kit::open(&[desk.path("two")], &[]).unwrap();
        format!("{:?}", kit.names(&[(0, true)], RATE))
    };
    let before = names();
    assert_eq!(names(), before);
    desk.write("two/k r.wav", wav::float(RATE, &[hit(9, 0, 8_000)]));
    assert_ne!(names(), before);
}

#[test]
fn what_can_be_no_two_sides_is_refused_with_its_place() {
    let desk = desk();
    let stereo = wav::float(RATE, &[hit(6, 0, 900), hit(7, 0, 900)]);
    desk.write("two/stereo.wav", stereo);
    desk.write("two/slow.wav", wav::float(22_050, &[hit(6, 0, 900)]));
    let said = |kit: &str| {
        desk.write("two/kit.toml", kit);
        let answer = desk.run(&["check", "two.toml"]);
        assert_eq!(answer.code, Some(1), "{}", answer.out);
        answer.err
    };
    let kick = |files: &str| TWO.replace("{ left = \"k l.wav\", right = \"k r.wav\" }", files);
    for (files, place, words) in [
        (
            "{ left = \"k l.wav\", right = \"kr.wav\" }",
            "kit.toml:3:",
            "did you mean \"k r.wav\"?",
        ),
        (
            "{ left = \"k l.wav\", right = \"k l.wav\" }",
            "kit.toml:3:",
            "both the left and the right side",
        ),
        ("{ left = \"k l.wav\" }", "kit.toml:3:", "lacks `right`"),
        (
            "{ left = \"k l.wav\", rigth = \"k r.wav\" }",
            "kit.toml:3:",
            "did you mean `right`?",
        ),
        ("\"a l.wav\"", "kit.toml:9:", "alone above"),
        (
            "{ left = \"a l.wav\", right = \"k r.wav\" }",
            "kit.toml:9:",
            "with `k r.wav` as its right side above",
        ),
        (
            "{ left = \"k l.wav\", right = \"stereo.wav\" }",
            "stereo.wav",
            "is stereo",
        ),
        ("{ left = \"slow.wav\", right = \"k r.wav\" }", "slow.wav", "22050 Hz"),
    ] {
        let said = said(&kick(files));
        assert!(said.contains(place) && said.contains(words), "{files}:\n{said}");
    }
}
