//! Notes, degrees and comping, from the loop file to what `check` says of them and to what sounds.

use std::f64::consts::TAU;

use crate::support::{Desk, RATE, assert_near, click, pluck, tone, wav};

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
    assert!(said.contains("no problems found\n"), "{said}");
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

/// A desk with one sustained tone of C4, MIDI 60 (ISO 16: 261.6256 Hz).
fn horn() -> Desk {
    let desk = Desk::new();
    desk.one_shot("horn_C4.wav", &[tone(hz(60.0), 6.0, 0.2)]);
    desk
}

fn hz(key: f64) -> f64 {
    440.0 * 2f64.powf((key - 69.0) / 12.0)
}

/// Bars of a second, four steps of a quarter each.
fn song(bars: u32, ending: &str, part: &str) -> String {
    format!(
        "[loop]\ntempo = 240\nbars = {bars}\nending = \"{ending}\"\n[master]\nceiling = \"off\"\n[[part]]\nname = \"horn\"\n\
         release = 20\n{part}\n"
    )
}

/// dB of the middle of a step, counted from 0.
fn level(sound: &[f32], step: usize) -> f64 {
    crate::support::meter::db(crate::support::meter::rms(
        &sound[step * 12_000 + 3000..step * 12_000 + 9000],
    ))
}

/// The amplitude of a tone in a stretch (Hann).
fn strength(sound: &[f32], hz: f64) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    for (n, sample) in sound.iter().enumerate() {
        let weight = 1.0 - (TAU * n as f64 / sound.len() as f64).cos();
        let angle = TAU * hz * n as f64 / f64::from(RATE);
        re += weight * f64::from(*sample) * angle.cos();
        im += weight * f64::from(*sample) * angle.sin();
    }
    2.0 * re.hypot(im) / sound.len() as f64
}

#[test]
fn a_hold_goes_over_the_barline() {
    let desk = horn();
    let (sound, told) = desk.render_with(&song(2, "damp", "notes = \"- - - C4 | = = - -\""), &[]);
    assert_eq!(told["hits"], 1);
    let full = level(sound.left(), 3);
    for (step, sounds) in [(2, false), (3, true), (4, true), (5, true), (6, false)] {
        let is = level(sound.left(), step);
        assert!(
            if sounds { (is - full).abs() < 0.05 } else { is < -90.0 },
            "step {step}: {is} dB"
        );
    }
    // The barline is no step: the tone's own slope is the steepest there.
    let own = f64::from(
        sound.left()[40_000..47_000]
            .windows(2)
            .map(|p| (p[1] - p[0]).abs())
            .fold(0.0, f32::max),
    );
    let over = f64::from(
        sound.left()[47_900..48_100]
            .windows(2)
            .map(|p| (p[1] - p[0]).abs())
            .fold(0.0, f32::max),
    );
    assert!(over < 1.01 * own, "{over} over the barline, {own} before it");
}

#[test]
fn a_hold_goes_round_the_loops_end() {
    let desk = horn();
    let notes = "notes = \"= - - C4\"";
    let (sound, told) = desk.render_with(&song(1, "repeat", notes), &[]);
    assert_eq!(told["hits"], 1);
    let left = sound.left();
    assert_near(
        level(left, 0),
        level(left, 3),
        0.05,
        "the first step sounds as the last",
    );
    assert!(level(left, 1) < -90.0);
    let own = left[38_000..47_000]
        .windows(2)
        .map(|p| (p[1] - p[0]).abs())
        .fold(0.0, f32::max);
    assert!(
        (left[0] - left[left.len() - 1]).abs() < 1.01 * own,
        "no step over the seam"
    );
    // Where it does not go round there is nothing to hold.
    let sound = desk.render(&song(1, "damp", notes));
    assert!(level(sound.left(), 0) < -90.0);
}

#[test]
fn plus_sounds_tones_together() {
    let desk = horn();
    let (sound, told) = desk.render_with(&song(1, "damp", "notes = \"C4+Eb4+G4\""), &[]);
    assert_eq!(told["hits"], 3);
    let heard = &sound.left()[2000..46_000];
    // Velocity 96 by 40·log10(v/127) dB, and 3 dB down on each side.
    let wanted = 0.2 * (96.0f64 / 127.0).powi(2) * 0.5f64.sqrt();
    for key in [60.0, 63.0, 67.0] {
        assert_near(strength(heard, hz(key)), wanted, 0.01 * wanted, key);
    }
    for key in [58.0, 62.0, 64.0, 70.0] {
        assert!(strength(heard, hz(key)) < 0.001 * wanted, "nothing at {key}");
    }
}

#[test]
fn accents_and_ghosts_sound_by_the_law() {
    let sound = horn().render(&song(1, "damp", "notes = \"C4 C4^ (C4) -\""));
    let plain = level(sound.left(), 0);
    // 40·log10(v/127) dB (DLS, General MIDI 2) at the velocities of tablature: 96, 118 and 40.
    let against = |velocity: f64| 40.0 * (velocity / 96.0).log10();
    assert_near(level(sound.left(), 1) - plain, against(118.0), 0.1, "an accent");
    assert_near(level(sound.left(), 2) - plain, against(40.0), 0.1, "a ghost");
}

#[test]
fn a_strum_strains_no_hand_and_tones_of_the_chord_may_rub() {
    // Cmaj9 without its root has the B that stands a semitone under the other part's C.
    let text = "chords = \"Cmaj9\"\n[loop]\ntempo = 92\nbars = 1\nkey = \"C major\"\n[[part]]\nname = \"keys\"\nvoicing = \"rootless\"\n\
                strum = 20\ncomp = \"d\"\n[[part]]\nname = \"lead\"\npiece = \"keys\"\nnotes = \"C4\"\n";
    let (code, said) = check(text);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("no problems found\n"), "{said}");
}

/// What `check` says of a part on a one-shot of its own, over two bars of Gm7 and Cm7 at 120, on one line.
fn said_of(recording: &[u8], part: &str) -> String {
    let desk = Desk::new();
    desk.write("clarinet_C4.wav", recording);
    let head = "chords = 'Gm7 | Cm7'\n[loop]\ntempo = 120\nbars = 2\n[[part]]\nname = 'clarinet'\n";
    desk.write("loop.toml", format!("{head}{part}\n"));
    let answer = desk.run(&["check", "loop.toml"]);
    assert_eq!(answer.code, Some(0), "{}", answer.err);
    (answer.err + &answer.out)
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn a_note_that_is_longer_than_its_recording_is_told() {
    let blown = wav::float(RATE, &[tone(261.6, 0.15, 0.5)]);
    let said = said_of(&blown, "notes = '- | C4'");
    assert!(
        said.contains("`clarinet` has notes longer than their recordings, from bar 2 on: one of 2.00 s"),
        "{said}"
    );
    assert!(said.contains("lasts 0.15 s") && said.contains("loop points"), "{said}");
    // An octave down it lasts twice as long.
    let fine = |recording: &[u8], part: &str| {
        let said = said_of(recording, part);
        assert!(said.ends_with("no problems found"), "{part}: {said}");
    };
    fine(&blown, "notes = '- - C3 - - - - -'");
    assert!(said_of(&blown, "notes = '- - C4 - - - - -'").contains("lasts 0.15 s"));
    // What dies away, is made to, or goes round while it is held, needs no more.
    fine(&wav::float(RATE, &[pluck(261.6, 0.15, 0.5)]), "notes = '- | C4'");
    fine(&blown, "notes = '- | C4'\nenvelope = { decay = 100 }");
    fine(&looped(&blown), "notes = '- | C4'");
}

/// A WAV with a `smpl` chunk that loops its frames from 1000 to 6999.
fn looped(bytes: &[u8]) -> Vec<u8> {
    let fields = [0, 0, 20_833, 60, 0, 0, 0, 1, 0, 0, 0, 1_000, 6_999, 0, 0u32];
    let mut out = [bytes, b"smpl", &60u32.to_le_bytes()].concat();
    fields.iter().for_each(|field| out.extend(field.to_le_bytes()));
    let size = (out.len() as u32 - 8).to_le_bytes();
    out[4..8].copy_from_slice(&size);
    out
}

#[test]
fn comping_that_is_held_over_a_change_is_told() {
    let of = |comp: &str| {
        said_of(
            &wav::float(RATE, &[click()]),
            &format!("piece = 'stand-in'\ncomp = {comp}"),
        )
    };
    let said = of("'--x= | ==--'");
    assert!(
        said.contains("`clarinet` holds a chord on over the change to Cm7 in bar 2") && said.contains("loop.toml:8:11"),
        "{said}"
    );
    let said = of("'==-- | --x='");
    assert!(said.contains("over the change to Gm7 in bar 1"), "{said}");
    for comp in ["'x=== | x==='", "'---< | ===-'", "'-xxx | x---'\nlength = 180"] {
        let said = of(comp);
        assert!(said.contains("no problems found"), "{comp}: {said}");
    }
}

#[test]
fn notes_that_are_too_low_are_told() {
    let recording = wav::float(RATE, &[pluck(261.6, 3.0, 0.5)]);
    let said = said_of(&recording, "notes = 'G0 D2 C1 E3'");
    assert!(
        said.contains("`clarinet` plays G0 in bar 1, 41 semitones below its lowest recording"),
        "{said}"
    );
    assert!(!said_of(&recording, "notes = 'G2 - D3 -'").contains("below"));
    let said = said_of(&recording, "piece = 'stand-in'\nnotes = 'G2 - C-1 -'");
    assert!(
        said.contains("`clarinet` plays C-1 in bar 1, a tone of 8.2 Hz: below 20 Hz nothing is audible"),
        "{said}"
    );
}
