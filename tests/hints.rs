//! `check` tells what may not be meant, each thing at its word, and no more than a page can hold.

mod support;

use support::{Desk, click};

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
        "[tab]\n'1-3' = 'kick x'\n",
        "`kick` is silent in bar 4, which none of its lines names",
        "loop.toml:5:10",
    );
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

#[test]
fn many_parts_that_come_and_go_are_told_together() {
    let desk = desk();
    let parts = |count: usize| -> String {
        let part =
            |n: usize| format!("[[part]]\nname = 'p{n}'\npiece = 'kick'\ntune = {n}\nhits = {{ '{n}' = 'x' }}\n");
        (1..=count).map(part).collect()
    };
    let few = told(&desk, &format!("{HEAD}{}", parts(3)), 0);
    assert_eq!(few.matches("which none of its lines names").count(), 3, "{few}");
    let many = told(&desk, &format!("{HEAD}{}", parts(4)), 0);
    assert_eq!(many.matches("warning").count(), 1, "{many}");
    assert!(
        many.contains("4 parts are silent in bars which none of their lines names"),
        "{many}"
    );
    assert!(
        many.contains("`p1` in bars 2-4") && many.contains("`p4` in bars 1-3"),
        "{many}"
    );
}
