//! Notes that can't be read: what is wrong, where, and what to write.

use proptest::prelude::*;

use super::notes::with;
use super::{draft, wrong};
use crate::loopfile::{Changes, KitDefaults};

#[test]
fn marks_of_another_way_are_refused_with_what_to_write() {
    for (part, told) in [
        (
            "notes = \"C4:f\"",
            "7:13 `f` does not say how hard a note is played; `f` is a mark of `hits`: a flam: one soft grace note before it; accented; here write its grace notes before a note, such as `B3/C4`",
        ),
        (
            "notes = \"C4:q\"",
            "7:13 `q` does not say how hard a note is played; write `x`, `X`, `g` or `3` to `9`, such as `C4:7`",
        ),
        (
            "notes = \"C4^:7\"",
            "7:10 `C4^:7` says twice how hard it is played; write C4^, (C4) or C4:7",
        ),
        (
            "notes = \"3 x-\"",
            "7:10 `3` is no note: names go from A to G; `3` is a degree of the chart's chord, which `degrees` takes; here write for instance `C4`",
        ),
        (
            "degrees = \"C4\"",
            "7:12 `C4` is no degree: degrees are numbers from 1 to 15, as in `1`, `b3` or `5,`; `C4` is a note, which `notes` takes; here write for instance `1`",
        ),
        (
            "comp = \"x-r-\"",
            "7:11 `r` is no mark; `r` is a mark of `hits`: two even strokes in this step: rrrr is a single-stroke roll; accented; here write `{xx}` for two strikes in one step",
        ),
        (
            "hits = \"x-u-\"",
            "7:11 `u` is no mark; `u` is a mark of `comp`: a stroke of the hand up, from the highest note down; here write `x`",
        ),
        (
            "notes = \"C4 {D4\"",
            "7:13 this brace is not closed before the bar ends; write `{C4 D4 Eb4}` to fit words into one step's time",
        ),
        (
            "notes = \"A3/A3/A3/A3/A3/C4\"",
            "7:10 `A3/A3/A3/A3/A3/C4` has more than 4 grace notes; write a run out between braces, such as {C4 Eb4 G4}",
        ),
        (
            "notes = \"B3/\"",
            "7:10 a tone is missing in `B3/`; write its tones with a + between them, such as C4+Eb4+G4",
        ),
        (
            "notes = [\"2& G1 g -8\"]",
            "7:19 `-8` is no shift; write it in milliseconds, as in `+12ms` or `-8ms`, or in percent of a count: `+3.5%`",
        ),
        (
            "notes = [\"2&\"]",
            "7:11 the note is missing; write a count, its syllable and a note, as in `1 C2`, `2& G1` or `4a Bb1 g -8ms`",
        ),
        (
            "notes = [\"1 -\", \"2 =\"]",
            "7:20 `=` has nothing to hold: a rest stands before it; write `-` to go on resting",
        ),
    ] {
        assert_eq!(wrong(&with(part)).first().map(String::as_str), Some(told), "{part}");
    }
}

#[test]
fn what_is_wrong_is_pointed_at() {
    for (part, told) in [
        ("notes = \"G1 Bb G1\"", "7:13 `Bb` has no octave; did you mean `Bb4`?"),
        (
            "notes = \"C4+Hb4\"",
            "7:13 `H` is no note: names go from A to G; did you mean `Bb4`?",
        ),
        (
            "notes = \"C4+\"",
            "7:10 a tone is missing in `C4+`; write its tones with a + between them, such as C4+Eb4+G4",
        ),
        (
            "notes = \"(G1\"",
            "7:10 a parenthesis of `(G1` has no partner; a ghost note is written (G1)",
        ),
        (
            "notes = \"(G1)^\"",
            "7:10 `(G1)^` is a ghost note and an accent at once; write (G1) or G1^",
        ),
        (
            "notes = \"<G1\"",
            "7:10 `<` is for degrees: a note is itself, whatever the chord; write G1",
        ),
        (
            "notes = \"G1 - =\"",
            "7:15 `=` has nothing to hold: a rest stands before it; write `-` to go on resting",
        ),
        (
            "notes = \"\"",
            "7:10 there is nothing to play here; write `-` for a bar of nothing",
        ),
        (
            "notes = [\"G1\"]",
            "7:11 `G1` begins without a count; write a count, its syllable and a note, as in `1 C2`, `2& G1` or `4a Bb1 g -8ms`",
        ),
        (
            "notes = 1",
            "7:9 `notes` is a line of notes such as \"G1 = - Bb1\", a list that counts aloud, or a table of these by bars, not 1",
        ),
        ("notes = [1]", "7:10 what is counted is a text such as \"2& G1\", not 1"),
        (
            "hits = \"x\"\nnotes = \"G1\"",
            "8:1 `bass` has `notes`, and `hits` already; a part plays one of them; write a second part for the other",
        ),
        (
            "notes = \"G1\"\ndouble = [{ interval = \"third belw\" }]",
            "8:25 `third belw` is no interval; did you mean \"third below\"?",
        ),
        (
            "notes = \"G1\"\ndouble = [{ interval = 50 }]",
            "8:24 `interval` is 50, but goes from -48 to 48 semitones",
        ),
        (
            "hits = \"x\"\ndouble = [{ interval = \"third below\" }]",
            "8:25 `bass` has hits, and hits have no `third below`; write semitones, such as -12",
        ),
        (
            "notes = \"G1\"\nchange = { \"3\" = { length = 50 } }",
            "8:13 bar 3 is past the end of the loop, which has 2 bars",
        ),
        (
            "notes = \"G1\"\nchange = { \"2\" = { gain = 50 } }",
            "8:20 `[[part]]` or `[part.change]` has no key `gain`; `gain` belongs in `double`, `vary`, a strip, `eq`",
        ),
    ] {
        assert_eq!(wrong(&with(part)), [told], "{part}");
    }
    let keyless = with("notes = \"G1\"\ndouble = [{ interval = \"third below\" }]").replace("key = \"G minor\"\n", "");
    assert_eq!(
        wrong(&keyless),
        [
            "7:25 `third below` goes along in a key, and the loop has none; write semitones, such as -12, or give `[loop]` a `key` such as \"G minor\""
        ]
    );
    assert_eq!(
        wrong(&with("notes = \"G1\"").replace("G minor", "G minr")),
        [
            "4:10 `minr` is no mode: major, minor, harmonic minor, melodic minor, dorian, phrygian, lydian, mixolydian, aeolian, locrian; did you mean `G minor`?"
        ]
    );
}

/// Plays a part on a chord, where it can be read.
fn play(part: &str) {
    let text = format!("chords = \"Cm7\"\n{part}");
    if let Ok(draft) = draft(&text, &Changes::default()) {
        draft.resolve(&KitDefaults::new());
    }
}

proptest! {
    #[test]
    fn any_line_and_any_list_is_read_without_panic(
        line in "[A-Gabx0-9#<>(){}^:/+=, |-]{0,40}",
        word in "(C4|b3|5)(:(slide|scoop|fall|bend|dead|legato|vibrato|g|7|q)(=[0-9+.,/msA-C-]{0,9})?){0,3}",
    ) {
        for way in ["notes", "degrees", "comp"] {
            play(&with(&format!("{way} = \"{line}\"")));
            play(&with(&format!("{way} = \"{word} {line}\"")));
            play(&with(&format!("{way} = [\"{line}\", \"2& {word}\", \"{word} {line}\"]")));
        }
    }
}
