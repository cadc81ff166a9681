//! What `kit.toml` says of pitches: roots between two notes, zones that are tuned, layers of zones, and that what
//! `kit --write` writes of them plays as before.

use std::fs;

use crate::support::{Desk, assert_near, click, pluck, wav};

const LOOP: &str = "[loop]\ntitle = \"Ebb\"\nkit = \"shots\"\ntempo = 120\nbars = 1\n";

/// Equal temperament, A4 = 440 Hz (ISO 16).
fn hz(key: f64) -> f64 {
    440.0 * ((key - 69.0) / 12.0).exp2()
}

fn render(desk: &Desk, text: &str) -> Vec<u8> {
    desk.write("loop.toml", format!("{LOOP}{text}"));
    desk.run(&["render", "loop.toml", "-o", "out.wav", "--force"])
        .assert_done();
    fs::read(desk.path("out.wav")).unwrap()
}

#[test]
fn a_root_with_cents_is_played_in_tune_however_it_is_written() {
    let desk = Desk::new();
    desk.one_shot("shots/bell.wav", &[pluck(hz(69.17), 1.5, 0.5)]);
    let played = |kit: &str| {
        desk.write("shots/kit.toml", format!("[[piece]]\nname = \"bell\"\n{kit}\n"));
        render(&desk, "[[part]]\nname = \"bell\"\nnotes = \"C5\"\n")
    };
    let one = played("files = \"bell.wav\"\nroot = \"A4 +17c\"");
    let sound = wav::Wav::parse(&one);
    let mut bytes = wav::float(sound.rate, &[sound.left().to_vec()]);
    let decoded = pressroll::internals::kit::decode_from(std::io::Cursor::new(&mut bytes)).unwrap();
    let heard = pressroll::internals::kit::listen(&decoded.audio).expect("a pitch");
    assert_near(heard.key, 72.0, 0.03, "C5");
    for same in [
        "files = \"bell.wav\"\nroot = 69.17",
        "zones = [{ file = \"bell.wav\", root = \"A4+17c\" }]",
        "zones = [{ file = \"bell.wav\", root = \"A4 +27c\", tune = 0.1 }]",
        "zones = [{ file = \"bell.wav\", root = \"A4\", tune = -0.17 }]",
        "layers = [{ upto = 40, zones = [{ file = \"bell.wav\", root = 69.17 }] }, { zones = [{ file = \"bell.wav\", root = 69.17 }] }]",
    ] {
        assert!(played(same) == one, "{same}");
    }
    assert!(played("files = \"bell.wav\"\nroot = \"A4\"") != one);
}

#[test]
fn what_is_heard_is_written_and_plays_the_same_bytes() {
    let desk = Desk::new();
    // A folder whose names lie an octave off, whose tuning is its own, in two layers; and one that names say nothing of.
    for (note, key) in [("C2", 48.0), ("E2", 52.0), ("A2", 57.0), ("C3", 60.0)] {
        for (dynamic, size) in [("soft", 0.2), ("hard", 0.6)] {
            let key = key + if dynamic == "soft" { 0.13 } else { 0.21 };
            desk.one_shot(
                &format!("shots/keys_{note}_{dynamic}.wav"),
                &[pluck(hz(key), 1.0, size)],
            );
        }
    }
    desk.one_shot("shots/foghorn.wav", &[pluck(hz(57.42), 1.0, 0.5)]);
    desk.one_shot("shots/kick.wav", &[click()]);
    let text = "[[part]]\nname = \"keys\"\nnotes = \"C3 (F3) A3+C4^ (E3)\"\n[[part]]\nname = \"foghorn\"\nnotes = \"A3 - C4 -\"\n\
                [[part]]\nname = \"kick\"\nhits = \"x-x-\"\n";
    let before = render(&desk, text);
    desk.run(&["kit", "shots", "--write"]).assert_done();
    let written = fs::read_to_string(desk.path("shots/kit.toml")).unwrap();
    assert!(render(&desk, text) == before, "{written}");
    assert!(
        written.contains("zones = [") && !written.contains("still decide"),
        "{written}"
    );
    let foghorn = written
        .split("[[piece]]")
        .find(|piece| piece.contains("\"foghorn\""))
        .unwrap();
    let kick = written
        .split("[[piece]]")
        .find(|piece| piece.contains("\"kick\""))
        .unwrap();
    assert!(foghorn.contains("\nroot = ") && !kick.contains("root"), "{written}");
    // And once more, from what was written.
    desk.run(&["kit", "shots", "--write", "--force"]).assert_done();
    assert_eq!(fs::read_to_string(desk.path("shots/kit.toml")).unwrap(), written);
    assert!(render(&desk, text) == before);
}

#[test]
fn what_is_no_root_and_no_zone_is_pointed_at() {
    let desk = Desk::new();
    desk.one_shot("shots/bell.wav", &[click()]);
    desk.write("loop.toml", format!("{LOOP}[tab]\n\"all\" = \"bell x---\"\n"));
    for (kit, place, words) in [
        (
            "files = \"bell.wav\"\nroot = \"A4 17c\"",
            "kit.toml:4:12",
            "did you mean `A4 +17c`?",
        ),
        (
            "files = \"bell.wav\"\nroot = \"A4 +170c\"",
            "kit.toml:4:12",
            "did you mean `B4 -30c`?",
        ),
        (
            "files = \"bell.wav\"\nroot = \"H4 +17c\"",
            "kit.toml:4:9",
            "did you mean `B4`?",
        ),
        ("files = \"bell.wav\"\nroot = 127.5", "kit.toml:4:8", "127.5"),
        (
            "zones = [{ file = \"bell.wav\", root = 3, tune = 4 }]",
            "kit.toml:3:10",
            "beyond the keys of MIDI",
        ),
        (
            "root = 60\nlayers = [{ zones = [{ file = \"bell.wav\", root = 60 }] }]",
            "kit.toml:3:1",
            "take this one out",
        ),
        (
            "layers = [{ upto = 60, files = \"bell.wav\" }, { zones = [{ file = \"bell.wav\", root = 60 }] }]",
            "kit.toml:3:",
            "one before it",
        ),
        (
            "layers = [{ files = \"bell.wav\", zones = [{ file = \"bell.wav\", root = 60 }] }]",
            "kit.toml:3:",
            "both `files` and `zones`",
        ),
        ("layers = [{ upto = 127 }]", "kit.toml:3:", "lacks `files`"),
    ] {
        desk.write("shots/kit.toml", format!("[[piece]]\nname = \"bell\"\n{kit}\n"));
        let answer = desk.run(&["check", "loop.toml"]);
        assert_eq!(answer.code, Some(1), "{kit}\n{}", answer.out);
        let said = answer.err;
        assert!(said.contains(place) && said.contains(words), "{kit}:\n{said}");
        assert_eq!(said.matches("error:").count(), 1, "{said}");
    }
}
