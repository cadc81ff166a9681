//! `check` suggests what an arranger would change in the harmony, one thing a place, and only where the loop wants to hear it.

use crate::support::Desk;

fn told(chords: &str, parts: &[(&str, &str)], hints: &str) -> Vec<String> {
    let desk = Desk::new();
    let head = format!("chords = '{chords}'\n[loop]\ntempo = 100\nbars = 2\n{hints}");
    let parts = parts
        .iter()
        .map(|(name, plays)| format!("[[part]]\nname = '{name}'\npiece = 'stand-in'\n{plays}\n"));
    desk.write("loop.toml", head + &parts.collect::<String>());
    let answer = desk.run(&["check", "loop.toml"]);
    assert_eq!(answer.code, Some(0), "{}", answer.err);
    let warnings = answer.err.lines().filter(|line| line.starts_with("warning"));
    warnings.map(str::to_string).collect()
}

#[track_caller]
fn suggests(chords: &str, parts: &[(&str, &str)], what: &str) {
    let hints = told(chords, parts, "");
    assert!(hints.len() == 1 && hints[0].contains(what), "{hints:?}");
    assert_eq!(told(chords, parts, "hints = false\n"), [""; 0]);
}

#[track_caller]
fn is_silent(chords: &str, parts: &[(&str, &str)]) {
    assert_eq!(told(chords, parts, ""), [""; 0]);
}

#[test]
fn a_fifth_too_low_between_bass_and_keys_is_told() {
    // Low interval limit of the fifth, Bb1: Pease and Pullig, "Modern Jazz Voicings" [memory].
    let bass = ("bass", "notes = 'E1 = = ='");
    let blurs = "`keys` and `bass` are so close and so low in bars 1-2 that they blur";
    suggests("E7", &[bass, ("keys", "notes = 'B1+G#3+D4 = = ='")], blurs);
    is_silent("E7", &[bass, ("keys", "notes = 'B2+G#3+D4 = = ='")]);
    let fifth = ("bass", "degrees = '1 5, 1 5,'\nregister = 'C2'");
    let doubled = "`keys` and `bass` both play the fifth below C3 in bars 1-2";
    suggests("C", &[fifth, ("keys", "notes = 'G3+E4 G2+E4 = ='")], doubled);
    is_silent("C", &[fifth, ("keys", "notes = 'G3+E4 G3+E4 = ='")]);
}

#[test]
fn a_melody_that_holds_a_minor_ninth_above_its_chord_is_told() {
    let fights = "`tune` holds F over Cmaj7 in bars 1-2, a minor ninth above its E";
    suggests("Cmaj7", &[("tune", "notes = 'F5 = = ='")], fights);
    is_silent("Cmaj7", &[("tune", "notes = 'F5 E5 - - - - - -'")]);
    is_silent("Cmaj7", &[("tune", "notes = 'D5 = F#5 ='")]);
    // The flat ninth of a dominant is meant.
    is_silent("C7", &[("tune", "notes = 'Db5 = = ='")]);
    is_silent("C7 (E3 F3 Bb3)", &[("tune", "notes = 'F5 = = ='")]);
}

#[test]
fn a_bass_that_leaves_out_the_root_is_told() {
    let bass = |degrees: &str| format!("degrees = '{degrees}'\nregister = 'E1'");
    let told = "`bass` never plays the root in bars 1-2";
    suggests("Dm7 | G7", &[("bass", &bass("3 - 5 -"))], told);
    is_silent("Dm7 | G7", &[("bass", &bass("3 - 1 -"))]);
    is_silent("Dm7 | G7", &[("bass", &bass("- - 5 -"))]);
    let bass = |notes: &'static str| [("bass", notes)];
    is_silent("Dm7/F | G7/B", &bass("notes = 'F1 - A1 - | B1 - D2 -'"));
    // A pedal point under the chords that follow.
    is_silent("C | F", &bass("notes = 'C2 - C2 -'"));
}
