//! `chart --write` of what follows the chords: pasted as notes, it plays the same.

use crate::support::Desk;
use pressroll::internals::midi::{self, Note};

const HEAD: &str = "chords = \"Gm9 | Cm7 / / F13 | Bbmaj7 | D7/F#\"\n[loop]\ntempo = 92\nbars = 4\nkey = \"G minor\"\n[feel]\nswing = 58\n[accents]\n\"2\" = \"X--X\"\n";

fn part(plays: &str, more: &str) -> String {
    format!("{HEAD}[[part]]\nname = \"keys\"\npiece = \"stand-in\"\n{more}\n{plays}\n")
}

fn notes(desk: &Desk, text: &str) -> Vec<Note> {
    desk.render_with(text, &["--midi"]);
    let performance = midi::read(desk.path("out.mid")).expect("a Standard MIDI File");
    let mut notes: Vec<Note> = performance.notes().map(|(_, note)| *note).collect();
    notes.sort_by_key(|note| (note.start, note.key));
    notes
}

/// What `chart --write` prints of a part, and the notes that it plays in place of what it was made of.
fn pasted(desk: &Desk, plays: &str, more: &str) -> (String, Vec<Note>) {
    desk.write("loop.toml", part(plays, more));
    let answer = desk.run(&["chart", "loop.toml", "--write", "-"]);
    answer.assert_done();
    let (_, lines) = answer.out.split_once("[part.notes]\n").expect("notes");
    let text = part("", more) + "[part.notes]\n" + lines;
    (answer.out.clone(), notes(desk, &text))
}

#[track_caller]
fn assert_same(plays: &str, more: &str) -> String {
    let desk = Desk::new();
    let first = notes(&desk, &part(plays, more));
    assert!(first.len() > 3);
    let (page, again) = pasted(&desk, plays, more);
    assert_eq!(first, again, "{page}");
    page
}

#[test]
fn degrees_and_comping_come_back_as_the_same_notes() {
    let page = assert_same("degrees = \"= - 5 - 8^ = (b3) <1\"", "register = \"G1\"");
    // Spelled by the chords, held over the barline, the pushed notes where they are.
    assert!(page.contains("\"1\" = \"= - D2 - G2^ = (Bb1) C2\""), "{page}");
    assert!(page.contains("the place of its `degrees`"), "{page}");
    assert_same("comp = \"x=-X --g= | ==<= x-x-\"", "voicing = \"drop 2\"\nlength = 80");
    assert_same("comp = \"x=-X --g=\"", "length = \"off\"\nvelocity = \"80-100\"");
    assert_same("comp = \"{xxx} x=== ---- {xXx}\"", "");
    let page = assert_same(
        "comp = \"x=== ==== x=== x-x-\"",
        "arpeggio = { step = \"1/16\", order = \"random\" }",
    );
    assert!(page.contains("Broken chords are written out"), "{page}");
}

#[test]
fn what_lies_off_the_grid_is_counted_aloud() {
    let page = assert_same("degrees = [\"1 1 -10ms\", \"2& 5\", \"3 =\", \"4a b3 g +12.5ms\"]", "");
    assert!(
        page.contains("[\"1 G2 -10ms\", \"2& D3\", \"3 =\", \"4a (Bb2) +12.5ms\"]"),
        "{page}"
    );
    assert!(!page.contains("off the grid"), "{page}");
    // Triplets, short notes, holds over barlines and round the seam, bars that lie on the grid.
    assert_same(
        "[part.degrees]\n1 = [\"1t 1 -8ms\", \"1l 3\", \"2 5:7\", \"2e -\", \"4 8 +3ms\"]\n\
         2 = [\"1 =\", \"2 =\", \"2& =\", \"3& 3 -4ms\", \"4 -\"]\n3 = \"= - 5 -\"\n4 = [\"1 1 +20ms\", \"4 3\"]",
        "",
    );
    assert_same("degrees = \"= 1 - 5 | 3 - {1 3 5} 8\"", "behind = 12");
    assert_same("comp = [\"1 x\", \"2& X -8ms\", \"3 =\", \"4a g\"]", "length = 80");
    // What has no syllable stays on a line, and the page says so.
    let (page, _) = pasted(
        &Desk::new(),
        "comp = [\"1 x -10ms\"]",
        "arpeggio = { step = \"1/32\", order = \"up\" }",
    );
    assert!(page.contains("# In bars with notes that no syllable names"), "{page}");
}

#[test]
fn what_notes_cannot_say_is_told_in_comments() {
    let desk = Desk::new();
    let (page, again) = pasted(&desk, "comp = \"x-5- d-<k\"", "strum = { ms = 30 }");
    for told in [
        "# keys, note by note:",
        "no longer follow [chords]",
        "Strummed chords are struck at once",
        "Pushed chords stand",
        "Muted scratches",
        "Velocities are those of the nearest",
    ] {
        assert!(page.contains(told), "{told}: {page}");
    }
    let first = notes(&desk, &part("comp = \"x-5- d-<k\"", "strum = { ms = 30 }"));
    let pitches = |notes: &[Note]| {
        let mut keys: Vec<u8> = notes.iter().map(|note| note.key).collect();
        keys.sort();
        keys
    };
    assert_eq!(pitches(&first), pitches(&again));
    // 30 ms are 44 ticks at 92; they are in one bar each.
    assert!(
        again
            .iter()
            .zip(&first)
            .all(|(again, first)| again.start.abs_diff(first.start) <= 45)
    );
}

#[test]
fn what_is_there_already_is_not_written_again() {
    let desk = Desk::new();
    desk.write("loop.toml", part("notes = \"G3\"", ""));
    let answer = desk.run(&["chart", "loop.toml", "--write"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("has `comp` or `degrees`"), "{}", answer.err);
}
