//! Wrong usage: exit 2, a word on standard error, nothing done.

use crate::support::{Desk, click, tab};

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    desk.write("loop.toml", tab("120", 1, "kick x---"));
    desk
}

#[test]
fn wrong_usage_exits_with_2() {
    let desk = desk();
    let before = desk.names("");
    let wrong: [&[&str]; 14] = [
        &[],
        &["rendr", "loop.toml"],
        &["render"],
        &["render", "loop.toml", "another.toml"],
        &["render", "loop.toml", "--no-such-option"],
        &["render", "loop.toml", "--depth", "12"],
        &["render", "loop.toml", "--rate", "fast"],
        &["render", "loop.toml", "--rate", "0"],
        &["render", "loop.toml", "--repeat", "0"],
        &["render", "loop.toml", "--ending", "explode"],
        &["render", "loop.toml", "--bars", "3-1"],
        &["render", "loop.toml", "--bars", "some"],
        &["render", "loop.toml", "--swap", "kick"],
        &["render", "loop.toml", "--seed", "eleven"],
    ];
    for arguments in wrong {
        let answer = desk.run(arguments);
        assert_eq!(answer.code, Some(2), "{arguments:?}\n{}{}", answer.out, answer.err);
        assert!(!answer.err.is_empty(), "{arguments:?} says nothing");
        assert!(answer.out.is_empty(), "{arguments:?} printed {}", answer.out);
    }
    assert_eq!(desk.names(""), before);
}

#[test]
fn help_and_version_are_no_mistake() {
    let desk = desk();
    for arguments in [
        &["--help"][..],
        &["--version"],
        &["render", "--help"],
        &["check", "--help"],
    ] {
        let answer = desk.run(arguments);
        assert_eq!(answer.code, Some(0), "{arguments:?}\n{}", answer.err);
        assert!(!answer.out.is_empty() && answer.err.is_empty(), "{arguments:?}");
    }
    assert!(desk.run(&["--version"]).out.contains(env!("CARGO_PKG_VERSION")));
}
