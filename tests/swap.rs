//! `--swap PIECE=FILE`, wherever a LOOP is taken: another one-shot for this once, in every section that plays the piece.

use crate::support::{Answer, Desk, click, tab, tone};

const SWAP: [&str; 2] = ["--swap", "kick=other/door.wav"];

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    desk.one_shot("hat-closed.wav", &[click()]);
    desk.one_shot("other/door.wav", &[tone(200.0, 0.02, 0.25)]);
    desk.one_shot("swapped/kick.wav", &[tone(200.0, 0.02, 0.25)]);
    desk.one_shot("swapped/hat-closed.wav", &[click()]);
    desk.write("loop.toml", tab("120", 1, "kick x-x-\nhat-closed xxxx"));
    desk.write(
        "show.toml",
        "[form]\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\n[[section]]\nname = \"b\"\nloop = \"loop.toml\"\nset = { \"kick.gain\" = -3 }\n",
    );
    desk
}

#[test]
fn loops_and_forms_play_the_other_one_shot() {
    let desk = desk();
    for file in ["loop.toml", "show.toml"] {
        let (swapped, _) = desk.render_file(file, &SWAP);
        let (whole_kit, _) = desk.render_file(file, &["--kit", "swapped"]);
        let (plain, _) = desk.render_file(file, &[]);
        assert!(swapped.channels == whole_kit.channels, "{file}");
        assert!(swapped.channels != plain.channels, "{file}");
    }
    // A piece that no kit has may be brought along, and the last of two swaps holds.
    desk.write("more.toml", tab("120", 1, "kick x-x-\ndoor --x-"));
    let brought = ["--swap", "door=kick.wav", "--swap", "door=other/door.wav"];
    let (_, told) = desk.render_file("more.toml", &brought);
    assert_eq!(told["hits"], 3);
}

#[test]
fn chart_check_and_play_take_it_too() {
    let desk = desk();
    for command in ["check", "chart"] {
        for file in ["loop.toml", "show.toml"] {
            desk.run(&[&[command, file], &SWAP[..]].concat()).assert_done();
            let wrong = desk.run(&[command, file, "--swap", "kik=other/door.wav"]);
            assert_eq!(wrong.code, Some(1));
            assert!(
                wrong.err.contains("did you mean `kick`?"),
                "{command} {file}: {}",
                wrong.err
            );
            let gone = desk.run(&[command, file, "--swap", "kick=other/gone.wav"]);
            assert_eq!(gone.code, Some(1));
            assert!(gone.err.contains("there is no file `other/gone.wav`"), "{}", gone.err);
        }
    }
}

#[cfg(unix)]
#[test]
fn what_is_played_is_what_is_swapped_in() {
    use std::os::unix::fs::PermissionsExt;
    let desk = desk();
    // A player that keeps what it is given, and fails, so that it is not called again.
    let player = desk.write("player", "#!/bin/sh\ncp \"$1\" heard.wav\nexit 1\n");
    std::fs::set_permissions(&player, std::fs::Permissions::from_mode(0o755)).unwrap();
    let heard = |options: &[&str]| -> (Answer, Vec<f32>) {
        let play = ["play", "loop.toml", "--depth", "float", "--player", "./player"];
        let answer = desk.run(&[&play, options].concat());
        (answer, desk.read("heard.wav").left()[..96_000].to_vec())
    };
    let (answer, swapped) = heard(&SWAP);
    assert!(answer.err.contains("could not play"), "{}", answer.err);
    let (_, plain) = heard(&[]);
    assert!(swapped != plain);
    assert!(swapped == desk.render_file("loop.toml", &SWAP).0.left());
}
