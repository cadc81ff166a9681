//! What stands where a file should: devices, pipes, sockets, folders and giants are refused at once, in words, wherever a
//! path is read.

use std::fs::File;
use std::os::unix::fs::symlink;
use std::os::unix::net::UnixListener;
use std::process::Command;
use std::time::Duration;

use crate::support::{Desk, click, tab};

/// Everything that is no file of bearable length: its name on the desk and what is said of it.
const STRANGE: [(&str, &str); 6] = [
    ("device.wav", "is a device"),
    ("pipe.wav", "is a pipe"),
    ("socket.wav", "is a socket"),
    ("folder.wav", "is a folder"),
    ("giant.wav", "are the most"),
    ("link.wav", "is a pipe"),
];

fn desk() -> (Desk, UnixListener) {
    let desk = Desk::new();
    desk.one_shot("kit/kick.wav", &[click()]);
    symlink("/dev/zero", desk.path("device.wav")).expect("a link");
    let made = Command::new("mkfifo").arg(desk.path("pipe.wav")).status();
    assert!(made.expect("mkfifo runs").success());
    let socket = UnixListener::bind(desk.path("socket.wav")).expect("a socket");
    std::fs::create_dir(desk.path("folder.wav")).expect("a folder");
    // Sparse: a byte over 2 GiB that take no room on the disk.
    let giant = File::create(desk.path("giant.wav")).expect("a file");
    giant.set_len((1 << 31) + 1).expect("a length");
    symlink("pipe.wav", desk.path("link.wav")).expect("a link");
    (desk, socket)
}

#[track_caller]
fn refused(desk: &Desk, arguments: &[&str], words: &[&str]) {
    let answer = desk.run(arguments);
    assert_eq!(answer.code, Some(1), "{arguments:?}\n{}{}", answer.out, answer.err);
    for word in words {
        assert!(
            answer.err.contains(word),
            "{arguments:?}: `{word}` is missing in:\n{}",
            answer.err
        );
    }
    assert!(!answer.err.contains("panicked"), "{}", answer.err);
    // At once is promised; the machine may be busy with other tests.
    assert!(answer.took < Duration::from_secs(5), "it took {:?}", answer.took);
}

#[test]
fn loop_files_are_files() {
    let (desk, _socket) = desk();
    for command in ["render", "check", "chart"] {
        refused(&desk, &[command, "/dev/zero"], &["/dev/zero", "is a device"]);
        for (name, words) in STRANGE {
            refused(&desk, &[command, name], &[name, words]);
        }
    }
}

#[test]
fn performances_are_files() {
    let (desk, _socket) = desk();
    for (name, words) in STRANGE {
        desk.write(
            "loop.toml",
            format!("[loop]\nkit = \"kit\"\ntempo = 60\nbars = 1\n[[part]]\nname = \"kick\"\npiece = \"kick\"\nmidi = \"{name}\"\n"),
        );
        refused(&desk, &["render", "loop.toml"], &["loop.toml:8", name, words]);
    }
}

#[test]
fn impulses_are_files() {
    let (desk, _socket) = desk();
    for (name, words) in STRANGE {
        let text =
            tab("60", 1, "kick x") + &format!("[room]\nimpulse = \"{name}\"\n[[part]]\nname = \"kick\"\nroom = -6\n");
        desk.write("loop.toml", text.replace("[loop]\n", "[loop]\nkit = \"kit\"\n"));
        refused(&desk, &["render", "loop.toml"], &["loop.toml:", name, words]);
    }
}

#[test]
fn swaps_are_files() {
    let (desk, _socket) = desk();
    desk.write(
        "loop.toml",
        tab("60", 1, "kick x").replace("[loop]\n", "[loop]\nkit = \"kit\"\n"),
    );
    for (name, words) in STRANGE {
        let swap = format!("kick={name}");
        refused(&desk, &["render", "loop.toml", "--swap", &swap], &[name, words]);
    }
}

#[test]
fn what_a_kit_names_are_files() {
    let (desk, _socket) = desk();
    desk.write(
        "loop.toml",
        tab("60", 1, "kick x").replace("[loop]\n", "[loop]\nkit = \"kit\"\n"),
    );
    for (name, words) in STRANGE {
        desk.write(
            "kit/kit.toml",
            format!("[[piece]]\nname = \"kick\"\nfiles = [\"../{name}\"]\n"),
        );
        refused(&desk, &["render", "loop.toml"], &["kit.toml:3", name, words]);
    }
    // A pipe in the place of kit.toml itself.
    std::fs::remove_file(desk.path("kit/kit.toml")).expect("it is there");
    symlink("../pipe.wav", desk.path("kit/kit.toml")).expect("a link");
    refused(&desk, &["render", "loop.toml"], &["kit.toml", "is a pipe"]);
}

#[test]
fn what_is_measured_is_a_file() {
    let (desk, _socket) = desk();
    for (name, words) in STRANGE {
        refused(&desk, &["measure", name], &[name, words]);
    }
}

#[test]
fn a_persons_own_files_may_lie_anywhere() {
    let desk = Desk::new();
    let kick = desk.one_shot("elsewhere/deep/kick.wav", &[click()]);
    desk.one_shot("kit/rim.wav", &[click()]);
    for path in ["../elsewhere/deep/kick.wav", &kick.to_string_lossy()] {
        desk.write(
            "kit/kit.toml",
            format!("[[piece]]\nname = \"boom\"\nfiles = [\"{path}\"]\n"),
        );
        desk.write(
            "loop.toml",
            tab("60", 1, "boom x").replace("[loop]\n", "[loop]\nkit = \"kit\"\n"),
        );
        desk.run(&["render", "loop.toml"]).assert_done();
    }
}
