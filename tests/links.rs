//! What lies in a kit's folder that is no file of it: links are followed as long as they stay within the folder, nothing is played
//! twice, and `kit` says what was left out.

use std::fs;
use std::os::unix::fs::symlink;
use std::os::unix::net::UnixListener;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::support::{Desk, pluck, tab};

fn shot(desk: &Desk, name: &str, hz: f64) {
    desk.one_shot(name, &[pluck(hz, 0.2, 0.5)]);
}

fn link(desk: &Desk, target: &str, name: &str) {
    let path = desk.path(name);
    fs::create_dir_all(path.parent().expect("a folder above")).expect("folders are made");
    symlink(target, path).expect("a link");
}

fn pipe(path: &Path) {
    let made = Command::new("mkfifo").arg(path).status();
    assert!(made.expect("mkfifo runs").success());
}

/// What `kit --json` says of a folder.
fn told(desk: &Desk, folder: &str) -> Value {
    let answer = desk.run(&["kit", folder, "--json"]);
    answer.assert_done();
    serde_json::from_str(&answer.out).unwrap_or_else(|error| panic!("{error} in {}", answer.out))
}

/// The files of all pieces, in their order.
fn files(told: &Value) -> Vec<&str> {
    let pieces = told["pieces"].as_array().expect("a list").iter();
    let files = pieces.flat_map(|piece| piece["files"].as_array().expect("a list"));
    files.map(|file| file["file"].as_str().expect("a name")).collect()
}

/// A page in one line.
fn in_a_line(page: &str) -> String {
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_link_is_followed_within_the_folder_and_not_out_of_it() {
    let desk = Desk::new();
    for (at, name) in [
        "kit/kick.wav",
        "kit/.store/9f3a.wav",
        "far/snare.wav",
        "far/deep/clap.wav",
    ]
    .iter()
    .enumerate()
    {
        shot(&desk, name, 80.0 * (at + 1) as f64);
    }
    link(&desk, ".store/9f3a.wav", "kit/rim.wav");
    link(&desk, "../far/snare.wav", "kit/snare.wav");
    link(&desk, "../far", "kit/more");
    link(&desk, "..", "kit/up");
    desk.write("far/words.txt", "No sound.");
    link(&desk, "../far/words.txt", "kit/words.txt");
    let told = told(&desk, "kit");
    assert_eq!(files(&told), ["kick.wav", "rim.wav"]);
    let problems = told["problems"].as_array().expect("a list");
    assert_eq!(
        problems,
        &[
            "3 links out of the folder (more, snare.wav and up) are left out; copy into the folder what lies outside of it, or name it in kit.toml"
        ]
    );
    // Written into kit.toml it is meant.
    desk.write("kit/kit.toml", "[[piece]]\nname = \"snare\"\nfiles = [\"snare.wav\"]\n");
    let told = self::told(&desk, "kit");
    assert!(files(&told).contains(&"snare.wav"), "{told}");
}

#[test]
fn the_folder_itself_may_be_a_link() {
    let desk = Desk::new();
    shot(&desk, "far/kick.wav", 80.0);
    shot(&desk, "far/Snares/snare.wav", 200.0);
    link(&desk, "far", "near");
    assert_eq!(files(&told(&desk, "near")), ["kick.wav", "Snares/snare.wav"]);
}

#[test]
fn no_folder_is_looked_through_twice_and_its_own_name_counts() {
    let desk = Desk::new();
    shot(&desk, "kit/snares/snare.wav", 200.0);
    shot(&desk, "kit/.store/kicks/kick.wav", 80.0);
    // Alphabetically before, behind, in a circle, and two that lead to one hidden folder.
    link(&desk, "snares", "kit/a");
    link(&desk, "snares", "kit/z");
    link(&desk, "..", "kit/snares/again");
    link(&desk, ".store", "kit/c");
    link(&desk, ".store/kicks", "kit/b");
    let told = told(&desk, "kit");
    assert_eq!(files(&told), ["b/kick.wav", "snares/snare.wav"]);
    assert_eq!(told["problems"], serde_json::json!([]));
}

#[test]
fn what_is_left_out_is_told_once_by_kit_and_by_no_render() {
    let desk = Desk::new();
    shot(&desk, "kit/kick.wav", 80.0);
    for name in 1..=7 {
        link(&desk, "gone.wav", &format!("kit/broken {name}.wav"));
    }
    link(&desk, "circle.wav", "kit/circle.wav");
    pipe(&desk.path("kit/pipe.wav"));
    link(&desk, "pipe.wav", "kit/to pipe.wav");
    link(&desk, "/dev/zero", "kit/zero.wav");
    let _socket = UnixListener::bind(desk.path("kit/socket")).expect("a socket");
    let page = desk.run(&["kit", "kit"]);
    page.assert_done();
    let sentence = "8 links to nowhere (broken 1.wav, broken 2.wav, broken 3.wav, broken 4.wav, broken 5.wav and 3 more), \
                    1 device (zero.wav), 2 pipes (pipe.wav and to pipe.wav) and 1 socket (socket) are left out";
    assert_eq!(in_a_line(&page.out).matches(sentence).count(), 1, "{}", page.out);
    desk.write(
        "loop.toml",
        tab("120", 1, "kick x---").replace("[loop]\n", "[loop]\nkit = \"kit\"\n"),
    );
    for command in ["render", "check"] {
        let answer = desk.run(&[command, "loop.toml"]);
        answer.assert_done();
        assert!(!(answer.out + &answer.err).contains("left out"), "{command}");
    }
}

#[test]
fn a_folder_of_nothing_but_such_things_says_so() {
    let desk = Desk::new();
    shot(&desk, "far/kick.wav", 80.0);
    link(&desk, "../far/kick.wav", "kit/kick.wav");
    let answer = desk.run(&["kit", "kit"]);
    assert_eq!(answer.code, Some(1));
    let said = in_a_line(&answer.err);
    assert!(
        said.contains("1 link out of the folder (kick.wav) is left out"),
        "{said}"
    );
}

#[test]
fn the_disks_order_changes_nothing() {
    type Step = fn(&Desk);
    let steps: [Step; 6] = [
        |desk| shot(desk, "kit/Snare 2.wav", 200.0),
        |desk| shot(desk, "kit/Snare 02.wav", 220.0),
        |desk| shot(desk, "kit/.store/kick.wav", 80.0),
        |desk| link(desk, ".store", "kit/one"),
        |desk| link(desk, ".store", "kit/two"),
        |desk| link(desk, "gone", "kit/nowhere"),
    ];
    let made = |order: &mut dyn Iterator<Item = &Step>| {
        let desk = Desk::new();
        order.for_each(|step| step(&desk));
        told(&desk, "kit")
    };
    assert_eq!(made(&mut steps.iter()), made(&mut steps.iter().rev()));
}
