//! `pressroll chords`: the chords of a key, the name of a chord.

use serde_json::{Value, json};

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

/// The lines of a page, each in words.
fn words(page: &str) -> Vec<String> {
    let line = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
    page.lines().map(line).collect()
}

#[test]
fn a_symbol_has_its_tones_tensions_scale_and_voicings() {
    // The altered scale and its left-hand voicing: M. Levine, "The Jazz Piano Book" [memory].
    let answer = Desk::new().run(&["chords", "--symbol", "C7alt"]);
    assert_eq!(answer.code, Some(0), "{}", answer.err);
    let page = words(&answer.out);
    for line in [
        "tones 1 C, 3 E, b5 Gb, #5 G#, b7 Bb, b9 Db, #9 D#",
        "may be left out b5 Gb, b9 Db",
        "tensions b9 Db, #9 D#",
        "scale altered: C Db D# E Gb G# Bb",
        "rootless E3 G#3 Bb3 D#4 3 #5 b7 #9",
    ] {
        assert!(page.contains(&line.to_string()), "{line}: {}", answer.out);
    }
    let kinds = [
        "close", "open", "drop 2", "drop 3", "drop 2&4", "spread", "rootless", "shell",
    ];
    for kind in kinds {
        assert!(page.iter().any(|line| line.starts_with(&format!("{kind} "))), "{kind}");
    }
    let suspended = Desk::new().run(&["chords", "--symbol", "C2"]);
    assert!(
        words(&suspended.out).contains(&"tones 1 C, 2 D, 5 G".to_string()),
        "{}",
        suspended.out
    );
}

#[test]
fn a_progression_has_degrees_and_voicings_that_lead() {
    let told = |arguments: &[&str]| {
        let answer = Desk::new().run(&[&["chords", "--symbol"], arguments].concat());
        assert_eq!(answer.code, Some(0), "{}", answer.err);
        words(&answer.out)
    };
    // Two, five and one for the left hand: M. Levine, "The Jazz Piano Book" [memory].
    let page = told(&["Dm9 | G13 | Cmaj9", "--in", "C major"]);
    assert_eq!(
        page[2..],
        [
            "chord close near C4 degrees scale",
            "ii9 Dm9 F3 A3 C4 E4 b3 5 b7 9 Dorian",
            "V13 G13 F3 A3 B3 E4 b7 9 3 13 Mixolydian",
            "Imaj9 Cmaj9 E3 G3 B3 D4 3 5 7 9 major",
        ]
    );
    let spread = told(&[
        "Dm9 / / G13 | N.C. | Cmaj9 | %",
        "--voicing",
        "spread",
        "--register",
        "D4",
    ]);
    assert_eq!(spread.len(), 4);
    assert_eq!(spread[0], "chord spread near D4 degrees scale");
    assert!(spread[2].starts_with("G13 F3 B3 E4 A4 b7 3 13 9"), "{spread:?}");
}

#[test]
fn programs_get_what_people_read() {
    let told = |arguments: &[&str]| -> Value {
        let answer = Desk::new().run(&[&["chords", "--json"], arguments].concat());
        answer.assert_done();
        assert_eq!(answer.out.trim_end().lines().count(), 1, "{}", answer.out);
        serde_json::from_str(&answer.out).expect("JSON")
    };
    let fields = |value: &Value| {
        value
            .as_object()
            .expect("an object")
            .keys()
            .cloned()
            .collect::<Vec<String>>()
    };
    let key = told(&["G", "minor"]);
    assert_eq!(fields(&key), ["key", "sevenths", "triads"]);
    assert_eq!(
        key["key"],
        json!({ "name": "G minor", "notes": ["G", "A", "Bb", "C", "D", "Eb", "F"] })
    );
    let dim = &key["triads"][1];
    assert_eq!(
        (&dim["degree"], &dim["symbol"], &dim["borrowed"]),
        (&json!("ii°"), &json!("Adim"), &json!(false))
    );
    let dominant = key["sevenths"].as_array().expect("a list").last().expect("a chord");
    assert_eq!(
        (&dominant["symbol"], &dominant["borrowed"]),
        (&json!("D7"), &json!(true))
    );
    assert_eq!(
        dominant["tensions"][0],
        json!({ "degree": "b9", "note": "Eb", "optional": true })
    );
    let names = told(&["--name", "C Eb Bb"]);
    assert_eq!(names["names"][0]["symbol"], "Cm7");
    assert_eq!(names["names"][0]["incomplete"], true);
    assert_eq!(
        names["names"][0]["tones"][2],
        json!({ "degree": "5", "note": "G", "optional": true })
    );
    // The altered scale and its left-hand voicing: M. Levine, "The Jazz Piano Book" [memory].
    let alone = told(&["--symbol", "C7alt", "--register", "C4"]);
    assert_eq!((&alone["key"], &alone["register"]), (&Value::Null, &json!("C4")));
    let chord = &alone["chords"][0];
    assert_eq!(
        fields(chord),
        ["degree", "scale", "symbol", "tensions", "tones", "voicings"]
    );
    assert_eq!(
        chord["scale"],
        json!({ "name": "altered", "notes": ["C", "Db", "D#", "E", "Gb", "G#", "Bb"] })
    );
    assert_eq!(
        chord["voicings"][6],
        json!({ "voicing": "rootless", "notes": ["E3", "G#3", "Bb3", "D#4"], "degrees": ["3", "#5", "b7", "#9"] })
    );
    let led = told(&[
        "--symbol",
        "Dm9 | G13 | Cmaj9",
        "--in",
        "C major",
        "--voicing",
        "spread",
    ]);
    let degrees: Vec<&Value> = led["chords"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|chord| &chord["degree"])
        .collect();
    assert_eq!(degrees, ["ii9", "V13", "Imaj9"]);
    for chord in led["chords"].as_array().expect("a list") {
        assert_eq!(chord["voicings"].as_array().map(Vec::len), Some(1));
        assert_eq!(chord["voicings"][0]["voicing"], "spread");
    }
}

#[test]
fn what_is_no_key_or_note_says_so() {
    let desk = Desk::new();
    for (arguments, told) in [
        (&["chords", "G minr"][..], "did you mean `G minor`?"),
        (&["chords", "--name", "C Hb G"], "`H` is no note"),
        (&["chords", "--name", ""], "there are no notes to name"),
        (&["chords", "--name", "C Hb G", "--json"], "`H` is no note"),
        (&["chords", "--symbol", "Dm9 | Bb^9"], "did you mean `Bbmaj9`?"),
        (&["chords", "--symbol", " | "], "there are no chords in `--symbol`"),
        (
            &["chords", "--symbol", "C7", "--in", "C majr"],
            "did you mean `C major`?",
        ),
        (
            &["chords", "--symbol", "C7", "--voicing", "drop2"],
            "did you mean `drop 2`?",
        ),
        (&["chords", "--symbol", "C7", "--register", "C"], "`C` has no octave"),
    ] {
        let answer = desk.run(arguments);
        assert_eq!(answer.code, Some(1), "{arguments:?}");
        assert!(answer.err.contains(told), "{arguments:?}: {}", answer.err);
        assert!(answer.out.is_empty());
    }
    assert_eq!(desk.run(&["chords"]).code, Some(2));
    assert_eq!(desk.run(&["chords", "G minor", "--in", "C major"]).code, Some(2));
}
