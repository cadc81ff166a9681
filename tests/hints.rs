//! `check` tells what may not be meant, each thing at its word, and no more than a page can hold.

use crate::support::{Desk, click};

fn desk() -> Desk {
    let desk = Desk::new();
    for piece in ["kick", "snare"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk
}

fn told(desk: &Desk, text: &str, code: i32) -> String {
    desk.write("loop.toml", text);
    let answer = desk.run(&["check", "loop.toml"]);
    assert_eq!(answer.code, Some(code), "{}", answer.err);
    answer.err
}

const HEAD: &str = "[loop]\ntempo = 120\nbars = 4\n";

#[test]
fn each_thing_is_told_at_its_word() {
    let desk = desk();
    let says = |rest: &str, what: &str, line: &str| {
        let err = told(&desk, &format!("{HEAD}{rest}"), 0);
        assert!(err.contains(what) && err.contains(line), "{err}");
        assert_eq!(err.matches("warning").count(), 1, "{err}");
    };
    says(
        "[tab]\nall = 'kick x'\n[[part]]\nname = 'snare'\n",
        "`snare` never plays",
        "loop.toml:7:9",
    );
    says(
        "[tab]\nall = 'kick x---'\n[[part]]\nname = 'too'\npiece = 'kick'\nhits = 'x-x-'\n",
        "`kick` and `too` both strike `kick` at one place in bar 1, and 3 times more",
        "loop.toml:7:9",
    );
    // Thirty-two strokes a bar of 2 s are 62.5 ms apart.
    says(
        "[tab]\nall = 'kick xxxx xxxx xxxx xxxx xxxx xxxx xxxx xxxx'\n",
        "`kick` has strokes 62 ms apart in bar 1",
        "loop.toml:5:8",
    );
    let lacking = told(&desk, &format!("{HEAD}[tab]\nall = 'kik x'\n"), 1);
    assert!(
        lacking.contains("the kit has no piece `kik`") && lacking.contains("did you mean `kick`?"),
        "{lacking}"
    );
}

/// Asserts that nothing is to be said of a loop.
#[track_caller]
fn silent(desk: &Desk, text: &str) {
    let err = told(desk, text, 0);
    assert_eq!(err, "", "{text}");
}

#[test]
fn parts_come_and_go_and_only_a_gap_between_two_ranges_is_told() {
    let desk = desk();
    let head = "[loop]\ntempo = 120\nbars = 8\n[tab]\n";
    silent(
        &desk,
        &format!("{head}'every 4 bars' = 'kick x'\n'2,5-6' = 'snare x'\n"),
    );
    silent(&desk, &format!("{head}'1-2,5-8' = 'kick x'\n"));
    silent(
        &desk,
        &format!("{head}'1-4' = 'kick x'\n'5-7' = 'kick xx'\n'3' = 'snare x'\n'6' = 'snare x'\n"),
    );
    let gap = told(&desk, &format!("{head}'1-3' = 'kick x'\n'6-8' = 'kick xx'\n"), 0);
    assert!(
        gap.contains("`kick` is silent in bars 4-5, between the ranges of its lines") && gap.contains("loop.toml:5:10"),
        "{gap}"
    );
    let notes = "[[part]]\nname = 'lead'\npiece = 'stand-in'\nnotes = { '1-2' = 'C4', '4-8' = 'D4' }\n";
    let gap = told(&desk, &format!("{head}all = 'kick x'\n{notes}"), 0);
    assert!(gap.contains("`lead` is silent in bar 3, between"), "{gap}");
}

/// A loop of one block of tablature.
fn block(metre: &str, lines: &str) -> String {
    format!("[loop]\ntempo = 60\nbars = 4\nmetre = '{metre}'\n[tab]\nall = '''\n{lines}\n'''\n")
}

#[test]
fn bars_that_do_not_add_up_are_told_with_what_they_differ_from() {
    let desk = desk();
    let says = |text: &str, what: &[&str]| {
        let err = told(&desk, text, 0);
        let line = err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(what.iter().all(|what| line.contains(what)), "{err}");
        assert_eq!(err.matches("warning").count(), 1, "{err}");
    };
    says(
        &block("4/4", "kick x--- x--- x--- x---\nsnare x--- x--- x--- x--- x---"),
        &[
            "`snare` has 5 groups in a bar of 4/4, 1 more than `kick`",
            "loop.toml:8:7",
            "4 in all",
        ],
    );
    says(
        &block("4/4", "kick x--- x--- x---\nsnare ---x x--- ---x"),
        &["`kick` and `snare` have 3 groups in a bar of 4/4", "loop.toml:7:6"],
    );
    says(
        &block("4/4", "kick x---x---x---x---\nsnare ----x-------x--"),
        &[
            "`snare` has 15 marks in a bar of 4/4, 1 fewer than `kick`",
            "16 share its beats evenly",
        ],
    );
    says(
        &format!("{HEAD}[tab]\n'1-4' = 'kick x | xx | x'\n"),
        &["`kick` has a pattern of 3 bars for 4 bars: the last time it breaks off after 1 bar"],
    );
    says(
        &format!("{HEAD}[tab]\n'1-2' = 'kick x | xx | x'\n"),
        &["`kick` has a pattern of 3 bars for 2 bars: its last bar never plays"],
    );
    says(
        &format!("{HEAD}[chords]\n'1-4' = 'Gm7 C7 F'\n[tab]\nall = 'kick x'\n"),
        &[
            "`[chords]` has 3 chords in a bar of 4/4, 1.33 beats each",
            "`Gm7 / C7 F`",
        ],
    );
    let bar = "C2 - C2 - C2 - C2 - C2 - C2 - C2 - C2";
    says(
        &format!("{HEAD}[[part]]\nname = 'bass'\npiece = 'stand-in'\nnotes = '{bar} - | {bar}'\n"),
        &["`bass` has 15 words in a bar of 4/4, 1 fewer than another of its bars"],
    );
}

#[test]
fn what_adds_up_is_nothing_to_look_at() {
    let desk = desk();
    for (metre, marks) in [
        ("4/4", "kick x--x--x--x--\nsnare ----x-------x---"),
        ("4/4", "kick x-x- x-x-\nsnare -x -- -x -- -x -- -x --"),
        ("4/4", "kick x--- --x{xxx} {xxxxx} ----\nsnare {-x-x-}"),
        ("4/4", "kick 5 in 13\nsnare x"),
        ("6/8", "kick x-- x--\nsnare --x --x --x --x"),
        ("6/8", "kick x- -- -- x- -- --\nsnare -----x"),
        ("12/8", "kick x-- x-- x-- x--\nsnare ---x-----x--"),
        ("7/8", "kick x-x-x--\nsnare -- x- -- x- -- x- --"),
        ("5/4", "kick x--- ---- x--- ---- ----\nsnare -x-x-"),
        ("3/4", "kick x- -- --\nsnare -xx"),
    ] {
        silent(&desk, &block(metre, marks));
    }
    for (metre, marks) in [
        ("6/8", "kick x--- x--- x---"),
        ("6/8", "kick x-x-x"),
        ("7/8", "kick x-x-x-x-"),
        ("7/8", "kick x--- x---"),
        ("5/4", "kick x--- x--- x--- x---"),
        ("5/4", "kick x---x---x---x---"),
        ("3/4", "kick x--- x---"),
    ] {
        let err = told(&desk, &block(metre, marks), 0);
        assert_eq!(err.matches("warning").count(), 1, "{metre} {marks}: {err}");
    }
    // A pattern whose broken end a later line replaces is whole.
    let five = "[loop]\ntempo = 120\nbars = 5\n[tab]\nall = 'kick x | -x'\n'5' = 'kick xx'\n";
    silent(&desk, five);
}
