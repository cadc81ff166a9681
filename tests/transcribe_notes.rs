//! `transcribe --as notes` writes down a melody: here melodies that pressroll rendered itself, whose notes are known.

use serde_json::Value;

use crate::support::{Desk, list, number};

/// A call over two bars: steps, leaps, a note that is struck again.
const BARS: &str = r#"
"1" = "G4 A4 B4 D5"
"2" = "G4 = G4 E4 - F#4 G4 ="
"#;

/// The loop that plays it, `out` semitones out of tune.
fn call(piece: &str, tempo: &str, out: &str) -> String {
    format!(
        "[loop]\nkit = \"demo/harbour-studio\"\ntempo = {tempo}\nbars = 2\nending = \"let ring\"\n\
         [[part]]\nname = \"call\"\npiece = \"{piece}\"\ntune = {out}\nlength = 95\n[part.notes]{BARS}"
    )
}

fn rendered(text: &str) -> Desk {
    let desk = Desk::new();
    desk.run(&["start", "demo"]).assert_done();
    desk.write("call.toml", text);
    desk.run(&["render", "call.toml", "-o", "call.wav"]).assert_done();
    desk
}

fn told(desk: &Desk, options: &[&str]) -> Value {
    let answer = desk.run(&[&["transcribe", "call.wav", "--as", "notes", "--json"], options].concat());
    answer.assert_done();
    serde_json::from_str(&answer.out).expect("JSON")
}

fn keys(told: &Value) -> Vec<f64> {
    list(told, "notes").iter().map(|note| number(&note["midi"])).collect()
}

#[test]
fn notes_are_heard_with_time_pitch_key_and_tuning() {
    for piece in ["vibraphone", "stand-in"] {
        let desk = rendered(&call(piece, "100", "0.3"));
        let told = told(&desk, &[]);
        assert_eq!(
            keys(&told),
            [67.0, 69.0, 71.0, 74.0, 67.0, 67.0, 64.0, 66.0, 67.0],
            "{piece}"
        );
        let beats = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 5.5, 6.5, 7.0];
        for (note, beat) in list(&told, "notes").iter().zip(beats) {
            let late = number(&note["seconds"]) - 0.6 * beat;
            assert!(late.abs() < 0.03, "{piece}, beat {beat}: {late} s");
            assert!(
                (number(&note["cents"]) - 30.0).abs() < 8.0,
                "{piece}: {}",
                note["cents"]
            );
            assert!(number(&note["confidence"]) > 0.8, "{piece}: {}", note["confidence"]);
        }
        assert!(
            (number(&told["tuning_cents"]) - 30.0).abs() < 5.0,
            "{piece}: {}",
            told["tuning_cents"]
        );
        assert_eq!(told["key"], "G major", "{piece}");
    }
}

#[test]
fn lines_play_the_melody_again() {
    let desk = rendered(&call("vibraphone", "100", "0"));
    let options = ["transcribe", "call.wav", "--as", "notes", "--tempo", "100"];
    let printed = desk.run(&options);
    printed.assert_done();
    for line in [
        "\"1\" = \"G4 A4 B4 D5\"",
        "[part.notes]",
        "piece = \"stand-in\"",
        "9 notes, G major",
    ] {
        assert!(printed.out.contains(line), "no {line} in\n{}", printed.out);
    }
    desk.run(
        &[
            &options[..],
            &["-o", "again.toml", "--midi", "again.mid", "--piece", "vibraphone"],
            &["--kit", "demo/harbour-studio"],
        ]
        .concat(),
    )
    .assert_done();
    desk.run(&["render", "again.toml", "-o", "call.wav"]).assert_done();
    assert_eq!(
        keys(&told(&desk, &[])),
        [67.0, 69.0, 71.0, 74.0, 67.0, 67.0, 64.0, 66.0, 67.0]
    );
    // The MIDI file is a performance that a part can play.
    desk.write(
        "played.toml",
        "[loop]\nkit = \"demo/harbour-studio\"\ntempo = 100\nbars = 2\nending = \"let ring\"\n\
         [[part]]\nname = \"vibes\"\nmidi = \"again.mid\"\npiece = \"vibraphone\"\nchannel = 1\n",
    );
    desk.run(&["render", "played.toml", "-o", "call.wav"]).assert_done();
    assert_eq!(
        keys(&told(&desk, &[])),
        [67.0, 69.0, 71.0, 74.0, 67.0, 67.0, 64.0, 66.0, 67.0]
    );
}

#[test]
fn degrees_go_with_the_chords_of_a_loop() {
    let desk = rendered(&call("vibraphone", "100", "0"));
    desk.write(
        "chords.toml",
        "[loop]\nkit = \"demo/harbour-studio\"\ntempo = 100\nbars = 2\nkey = \"G major\"\n[chords]\n\"1\" = \"G\"\n\"2\" = \"Em7\"\n",
    );
    let answer = desk.run(&["transcribe", "call.wav", "--as", "notes", "--against", "chords.toml"]);
    answer.assert_done();
    assert!(
        answer.out.contains("[part.degrees]\n\"1\" = \"1 2 3 5\"\n"),
        "{}",
        answer.out
    );
    // On the minor chord a sixth below, the same notes are its third, its root and its second.
    let lines = answer.out.split_once("[[part]]").expect("a part").1;
    let chords = std::fs::read_to_string(desk.path("chords.toml")).expect("the loop");
    desk.write(
        "sung.toml",
        format!("{chords}ending = 1\n[[part]]{lines}").replace("ending = 1\n", ""),
    );
    desk.run(&["render", "sung.toml", "--set", "loop.ending=let ring", "-o", "call.wav"])
        .assert_done();
    assert_eq!(
        keys(&told(&desk, &[])),
        [67.0, 69.0, 71.0, 74.0, 67.0, 67.0, 64.0, 66.0, 67.0]
    );
}

#[test]
fn notes_are_set_to_a_key_only_where_that_is_asked() {
    let desk = rendered(&call("vibraphone", "100", "0"));
    assert_eq!(keys(&told(&desk, &["--key", "C major"]))[7], 66.0);
    let set = told(&desk, &["--key", "C major", "--in-key"]);
    assert!([65.0, 67.0].contains(&keys(&set)[7]), "{}", keys(&set)[7]);
    assert_eq!(set["key"], "C major");
}

#[test]
fn what_is_no_melody_is_refused_or_told_as_doubtful() {
    let desk = Desk::new();
    desk.run(&["start", "demo"]).assert_done();
    let chords = "[loop]\nkit = \"demo/harbour-studio\"\ntempo = 100\nbars = 2\n[[part]]\nname = \"call\"\npiece = \"vibraphone\"\n\
                  notes = \"C4+E4+G4 = F4+A4+C5 = D4+G4+B4 = C4+E4+A4 =\"\n";
    let drums = "[loop]\nkit = \"demo/harbour-studio\"\ntempo = 100\nbars = 2\n[tab]\n\"all\" = \"\"\"\n\
                 kick        X--- --x- x--- ----\nsnare       ---- X--- ---- X---\nhat-closed  x-x- x-x- x-x- x-x-\n\"\"\"\n";
    for text in [chords, drums] {
        desk.write("call.toml", text);
        desk.run(&["render", "call.toml", "-o", "call.wav"]).assert_done();
        let answer = desk.run(&["transcribe", "call.wav", "--as", "notes", "--json"]);
        if answer.code == Some(1) {
            assert!(
                answer.err.contains("there is no melody in this recording"),
                "{}",
                answer.err
            );
            assert!(answer.out.is_empty());
            continue;
        }
        answer.assert_done();
        assert!(answer.err.contains("doubtful"), "{}", answer.err);
        let told: Value = serde_json::from_str(&answer.out).expect("JSON");
        assert!(
            list(&told, "notes")
                .iter()
                .all(|note| number(&note["confidence"]) <= 0.5)
        );
    }
    let asked = desk.run(&["transcribe", "call.wav", "--key", "C major"]);
    assert!(asked.err.contains("--key says how notes are written"), "{}", asked.err);
}

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let desk = rendered(&call("vibraphone", "100", "0"));
    let by = |threads: &str| {
        let arguments = ["transcribe", "call.wav", "--as", "notes", "--json"];
        let answer = desk.run_in(&desk.path("."), &[("RAYON_NUM_THREADS", threads)], &arguments);
        answer.assert_done();
        answer.out
    };
    assert_eq!(by("1"), by("7"));
}
