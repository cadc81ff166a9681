//! Pitched pieces: the pitch of a note, the zone that plays it, how it ends and how it is held, and the stand-in.

use std::f64::consts::TAU;

use crate::support::{Desk, RATE, tone, wav};

/// Hz of a MIDI key: equal temperament from A4 = 440 Hz (ISO 16).
fn hz(key: f64) -> f64 {
    440.0 * 2f64.powf((key - 69.0) / 12.0)
}

/// A tone of four partials, so that a lost or folded one would show.
fn rich(hz: f64, seconds: f64) -> Vec<f32> {
    let partials: Vec<Vec<f32>> = (1..=4)
        .map(|n| tone(f64::from(n) * hz, seconds, 0.2 / f64::from(n)))
        .collect();
    (0..partials[0].len())
        .map(|at| partials.iter().map(|tone| tone[at]).sum())
        .collect()
}

/// Cents by which the tone that is nearest to a frequency is off: the turn of its phase between two windows (Hann).
fn cents_off(sound: &[f32], hz: f64) -> f64 {
    let step = 8192;
    let window = 16384;
    let phase = |from: usize| {
        let (mut re, mut im) = (0.0, 0.0);
        for n in 0..window {
            let weight = 0.5 - 0.5 * (TAU * n as f64 / window as f64).cos();
            let angle = TAU * hz * (from + n) as f64 / f64::from(RATE);
            re += weight * f64::from(sound[from + n]) * angle.cos();
            im -= weight * f64::from(sound[from + n]) * angle.sin();
        }
        im.atan2(re)
    };
    let turned = (phase(4000 + step) - phase(4000) + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
    let off = turned / TAU * f64::from(RATE) / step as f64;
    1200.0 * ((hz + off) / hz).log2()
}

/// A bar of one second and a half a part, rung out to the bar's end.
fn song(part: &str) -> String {
    format!("[loop]\ntempo = 160\nbars = 1\nending = \"damp\"\n[master]\nceiling = \"off\"\n[[part]]\n{part}\n")
}

fn steepest(sound: &[f32]) -> f32 {
    sound
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).abs())
        .fold(0.0, f32::max)
}

fn level(sound: &[f32]) -> f64 {
    let energy: f64 = sound.iter().map(|x| f64::from(*x).powi(2)).sum();
    10.0 * (energy / sound.len() as f64).log10()
}

#[test]
fn rendered_notes_are_within_a_cent_from_e1_to_c7() {
    let desk = Desk::new();
    // MIDI 60, in a file that names its note.
    desk.one_shot("horn_C4.wav", &[rich(hz(60.0), 6.0)]);
    for (note, key) in [("E1", 28.0), ("A2", 45.0), ("C4", 60.0), ("F#5", 78.0), ("C7", 96.0)] {
        let sound = desk.render(&song(&format!("name = \"horn\"\nnotes = \"{note}\"")));
        let off = cents_off(sound.left(), hz(key));
        assert!(off.abs() < 1.0, "{note} is {off} cents off");
    }
}

#[test]
fn a_note_is_played_by_the_nearest_zone_and_no_root_is_told() {
    let desk = Desk::new();
    // Each zone has its own overtone by which to know it.
    let zone = |key: f64, overtone: f64| {
        let mut sound = tone(hz(key), 4.0, 0.3);
        let over = tone(hz(key) * overtone, 4.0, 0.1);
        sound.iter_mut().zip(over).for_each(|(sample, more)| *sample += more);
        sound
    };
    desk.one_shot("keys_C3.wav", &[zone(48.0, 2.0)]);
    desk.one_shot("keys_C4.wav", &[zone(60.0, 3.0)]);
    let strength = |sound: &[f32], hz: f64| {
        let sum = |turn: fn(f64) -> f64| -> f64 {
            let part = sound[4000..24000].iter().enumerate();
            part.map(|(n, x)| f64::from(*x) * turn(TAU * hz * n as f64 / f64::from(RATE)))
                .sum()
        };
        sum(f64::sin).hypot(sum(f64::cos)) / 10_000.0
    };
    for (note, key, octave) in [
        ("C3", 48.0, true),
        ("E3", 52.0, true),
        ("A3", 57.0, false),
        ("G4", 67.0, false),
    ] {
        let sound = desk.render(&song(&format!("name = \"keys\"\nnotes = \"{note}\"")));
        let (second, third) = (
            strength(sound.left(), 2.0 * hz(key)),
            strength(sound.left(), 3.0 * hz(key)),
        );
        assert_eq!(second > 4.0 * third, octave, "{note}: {second} and {third}");
        assert!(cents_off(sound.left(), hz(key)).abs() < 1.0, "{note}");
    }
}

#[test]
fn a_makers_octaves_are_settled_by_the_sound() {
    let desk = Desk::new();
    // This maker calls MIDI key 60 C3.
    desk.one_shot("flute_C3.wav", &[rich(hz(60.0), 4.0)]);
    desk.write("loop.toml", song("name = \"flute\"\nnotes = \"G4\""));
    let answer = desk.run(&["check", "loop.toml"]);
    answer.assert_done();
    assert!(answer.err.contains("sounds as C4"), "{}", answer.err);
    let sound = desk.render(&song("name = \"flute\"\nnotes = \"G4\""));
    assert!(cents_off(sound.left(), hz(67.0)).abs() < 1.0);
}

#[test]
fn what_no_name_tells_is_heard_and_what_kit_toml_says_holds() {
    let desk = Desk::new();
    desk.one_shot("whistle.wav", &[rich(hz(70.3), 4.0)]);
    let text = song("name = \"whistle\"\nnotes = \"G4\"");
    let off = cents_off(desk.render(&text).left(), hz(67.0));
    assert!(off.abs() < 5.0, "heard {off} cents off");
    desk.write("kit.toml", "[[piece]]\nname = \"whistle\"\nroot = 67\n");
    let off = cents_off(desk.render(&text).left(), hz(70.3));
    assert!(off.abs() < 1.0, "as recorded where its root is the note: {off}");
}

#[test]
fn noise_can_play_no_note_and_says_so() {
    let desk = Desk::new();
    let hiss: Vec<f32> = crate::support::noise(24_000, 9)
        .iter()
        .map(|n| *n as f32 / 65536.0)
        .collect();
    desk.one_shot("hiss.wav", &[hiss]);
    desk.write("loop.toml", song("name = \"hiss\"\nnotes = \"G4\""));
    let answer = desk.run(&["render", "loop.toml"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("`hiss` can't play notes"), "{}", answer.err);
}

#[test]
fn a_note_is_released_at_its_end_and_off_lets_it_ring() {
    let desk = Desk::new();
    desk.one_shot("horn_C4.wav", &[tone(hz(60.0), 6.0, 0.3)]);
    let part = |more: &str| song(&format!("name = \"horn\"\nnotes = \"C4 - - -\"\n{more}"));
    let at = |sound: &[f32], ms: usize| level(&sound[ms * 48..ms * 48 + 480]);
    // A bar is 1.5 s, so the note is released after 375 ms.
    let plain = desk.render(&part(""));
    let full = at(plain.left(), 300);
    assert!((at(plain.left(), 365) - full).abs() < 0.1);
    assert!(at(plain.left(), 465) < -90.0, "80 ms later it is silent");
    // The fade's gain is the square of the time that is left: -12 dB half way.
    assert!((at(plain.left(), 410) - full + 12.0).abs() < 1.5);
    let slow = desk.render(&part("release = 400"));
    assert!((at(slow.left(), 570) - full + 12.0).abs() < 1.0);
    let half = desk.render(&part("length = 50"));
    assert!(at(half.left(), 290) < -90.0, "half as long");
    let rings = desk.render(&part("length = \"off\""));
    assert!((at(rings.left(), 1400) - full).abs() < 0.3);
}

/// A WAV with a `smpl` chunk of one loop, its unity note and the loop's first and last frame.
fn looped(channels: &[Vec<f32>], note: u32, first: u32, last: u32) -> Vec<u8> {
    let mut bytes = wav::float(RATE, channels);
    let mut chunk = Vec::new();
    for word in [0, 0, 20_833, note, 0, 0, 0, 1, 0, 0, 0, first, last, 0, 0] {
        chunk.extend_from_slice(&u32::to_le_bytes(word));
    }
    bytes.extend_from_slice(b"smpl");
    bytes.extend_from_slice(&(chunk.len() as u32).to_le_bytes());
    bytes.extend_from_slice(&chunk);
    let size = (bytes.len() - 8) as u32;
    bytes[4..8].copy_from_slice(&size.to_le_bytes());
    bytes
}

#[test]
fn loop_points_hold_a_note_without_a_click_and_in_tune() {
    let desk = Desk::new();
    // 480 Hz: a hundred frames a period. The recording lasts 100 ms, the note ten times as long.
    let short = tone(480.0, 0.1, 0.3);
    // The right side is a quarter of a period later, so the two come to their loop's end at other phases.
    let later: Vec<f32> = tone(480.0, 0.1 + 25.0 / 48_000.0, 0.3)[25..].to_vec();
    for (side, channels) in [("mono", vec![short.clone()]), ("stereo", vec![short, later])] {
        // A mono recording is 3 dB down on each side, a stereo one is as it is.
        let side_gain = if channels.len() == 1 { 0.5f64.sqrt() } else { 1.0 };
        for (first, last, name) in [(2000, 3999, "fits"), (2000, 3951, "half a period off")] {
            desk.write("reed.wav", looped(&channels, 71, first, last));
            for (note, key) in [("B4", 71.0), ("E3", 52.0), ("D6", 86.0)] {
                let sound = desk.render(&song(&format!("name = \"reed\"\nnotes = \"{note}\"\nrelease = 50")));
                let wanted = 480.0 * 2f64.powf((key - 71.0) / 12.0);
                // The steepest slope of the tone itself, at velocity 96: (96/127)² of its recorded level.
                let own = 0.3 * side_gain * (96.0f64 / 127.0).powi(2) * TAU * wanted / f64::from(RATE);
                for heard in sound.channels.iter().map(|heard| &heard[..66_000]) {
                    assert!(
                        (level(&heard[60_000..]) - level(&heard[..2000])).abs() < 3.0,
                        "{side}, {name}: {note} is held"
                    );
                    let most = f64::from(steepest(&heard[500..]));
                    // 6 dB over it would be a click.
                    assert!(
                        most < 2.0 * own,
                        "{side}, {name}: {note} steps by {most}, its own slope is {own}"
                    );
                    if name == "fits" {
                        let off = cents_off(heard, wanted);
                        assert!(off.abs() < 1.0, "{side}: {note} is {off} cents off");
                    }
                }
            }
        }
    }
}

#[test]
fn a_written_root_that_sounds_otherwise_is_told_of_and_holds() {
    let desk = Desk::new();
    // Long enough for its note also where a root of D4 would have it end sooner.
    desk.one_shot("flute.wav", &[rich(hz(60.0), 4.0)]);
    desk.write("loop.toml", song("name = \"flute\"\nnotes = \"G4\""));
    for (root, told) in [
        ("C3", Some("has the root C3 in kit.toml, and sounds as C4")),
        ("D4", Some("has the root D4 in kit.toml, and sounds as C4")),
        ("C4", None),
    ] {
        desk.write("kit.toml", format!("[[piece]]\nname = \"flute\"\nroot = \"{root}\"\n"));
        let answer = desk.run(&["check", "loop.toml"]);
        answer.assert_done();
        match told {
            Some(told) => assert!(answer.err.contains(told), "{root}: {}", answer.err),
            None => assert!(answer.err.is_empty(), "{}", answer.err),
        }
    }
}

#[test]
fn the_stand_in_plays_without_any_kit() {
    let desk = Desk::new();
    let text = song("name = \"harmony\"\npiece = \"stand-in\"\nnotes = \"A3\"");
    let sound = desk.render(&text);
    assert!(cents_off(sound.left(), hz(57.0)).abs() < 1.0);
    assert!(level(&sound.left()[..12_000]) > -40.0);
    assert!(
        level(&sound.left()[48_000..60_000]) < level(&sound.left()[..12_000]) - 6.0,
        "it dies away"
    );
    assert_eq!(sound.channels, desk.render(&text).channels);
}

#[test]
fn the_stand_in_plays_beside_a_kit_of_drums() {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[crate::support::click()]);
    let text = song("name = \"kick\"\nhits = \"x---\"\n[[part]]\nname = \"stand-in\"\nnotes = \"C4+E4+G4\"");
    let (_, told) = desk.render_with(&text, &[]);
    assert_eq!(told["hits"], 4);
}
