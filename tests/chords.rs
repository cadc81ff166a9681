//! `pressroll chords`: the chords of a key, the name of a chord.

use crate::support::Desk;

#[test]
fn a_key_has_its_chords_with_tones_and_tensions() {
    let desk = Desk::new();
    // Tensions that sit well on the chords of a minor key [practice].
    for arguments in [&["chords", "G minor"][..], &["chords", "G", "minor"]] {
        let answer = desk.run(arguments);
        assert_eq!(answer.code, Some(0), "{}", answer.err);
        let rows: Vec<Vec<&str>> = answer
            .out
            .lines()
            .map(|line| line.split_whitespace().collect())
            .collect();
        let row = |symbol: &str| {
            rows.iter()
                .find(|row| row.get(1) == Some(&symbol))
                .expect(symbol)
                .join(" ")
        };
        assert_eq!(rows[0].join(" "), "G minor: G A Bb C D Eb F");
        assert_eq!(row("Adim"), "ii° Adim A C Eb");
        assert!(row("Gm7").starts_with("i7 Gm7 G Bb D F 9 A, 11 C"));
        assert!(row("D7").starts_with("V7 D7 D F# A C b9 Eb, b13 Bb"));
    }
}

#[test]
fn a_chord_is_named_from_its_notes() {
    let answer = Desk::new().run(&["chords", "--name", "C Eb G Bb"]);
    let names: Vec<&str> = answer
        .out
        .lines()
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert_eq!(
        (answer.code, names[1]),
        (Some(0), "Cm7"),
        "{}{}",
        answer.out,
        answer.err
    );
}

#[test]
fn what_is_no_key_or_note_says_so() {
    let desk = Desk::new();
    for (arguments, told) in [
        (&["chords", "G minr"][..], "did you mean `G minor`?"),
        (&["chords", "--name", "C Hb G"], "`H` is no note"),
        (&["chords", "--name", ""], "there are no notes to name"),
    ] {
        let answer = desk.run(arguments);
        assert_eq!(answer.code, Some(1), "{arguments:?}");
        assert!(answer.err.contains(told), "{arguments:?}: {}", answer.err);
        assert!(answer.out.is_empty());
    }
    assert_eq!(desk.run(&["chords"]).code, Some(2));
}
