//! Notes, degrees and comping, from the loop file to what `check` says of them.

mod support;

use support::{Desk, click};

fn check(text: &str) -> (Option<i32>, String) {
    let desk = Desk::new();
    for piece in ["bass_E1.wav", "keys_C4.wav"] {
        desk.one_shot(piece, &[click()]);
    }
    desk.write("loop.toml", text);
    let answer = desk.run(&["check", "loop.toml"]);
    (answer.code, answer.out + &answer.err)
}

const HEAD: &str =
    "chords = \"Gm7 | Cm7\"\n[loop]\ntempo = 92\nbars = 2\nkey = \"G minor\"\n[[part]]\nname = \"bass\"\n";

#[test]
fn a_line_from_the_lead_sheet_is_nothing_to_look_at() {
    let text = format!("{HEAD}degrees = \"1 - 5 -  8 - 5 <1\"\n[[part]]\nname = \"keys\"\ncomp = \"x--x --x-\"\n");
    let (code, said) = check(&text);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("nothing wrong\n"), "{said}");
}

#[test]
fn check_tells_of_notes_that_may_not_be_meant() {
    let text = format!("{HEAD}notes = \"A1 - - B1 | C2\"\n[[part]]\nname = \"keys\"\nnotes = \"Bb1 - - - | C4\"\n");
    let (code, said) = check(&text);
    assert_eq!(code, Some(0), "{said}");
    for told in [
        "`bass` plays B in bar 1, outside of G minor",
        "`keys` and `bass` are a semitone apart on a beat in bar 1",
        "`bass` begins bar 1 with a note that the chord has not",
    ] {
        assert!(said.contains(told), "{told}: {said}");
    }
    // Each points at its word: the notes of the bass, the first of the keys.
    for place in ["loop.toml:8:17", "loop.toml:11:10", "loop.toml:8:10"] {
        assert!(said.contains(place), "{place}: {said}");
    }
    // One tone of several, a degree, a pushed chord.
    for (plays, place) in [
        ("notes = \"G1 - D2+B2+G3^ -\"", "loop.toml:8:18"),
        ("degrees = \"1 - #4+5 -\"", "loop.toml:8:16"),
        ("register = \"G3\"\ncomp = \"---- --<-\"", "loop.toml:9:16"),
    ] {
        let chords = HEAD.replace("Gm7 | Cm7", "Gm7 | E7");
        let (_, said) = check(&format!("{chords}{plays}\n"));
        assert!(
            said.contains("outside of G minor") && said.contains(place),
            "{place}: {said}"
        );
    }
}

#[test]
fn a_bad_word_is_pointed_at_with_what_was_meant() {
    let (code, said) = check(&format!("{HEAD}notes = \"G1 Hb1\"\n"));
    assert_eq!(code, Some(1));
    assert!(
        said.contains("loop.toml:8:13") && said.contains("did you mean `Bb1`?"),
        "{said}"
    );
}
