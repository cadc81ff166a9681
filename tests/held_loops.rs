//! `kit.toml` says what of a recording repeats while a note is held, with a crossfade that leaves no seam; `kit --write --sustain`
//! finds such loops.

use std::f64::consts::TAU;
use std::fs;

use crate::support::meter::{db, rms, sine};
use crate::support::{Desk, RATE, pluck, tone, wav};

/// A period of 200 frames.
const HZ: f64 = RATE as f64 / 200.0;

/// A loop file that holds one note at the pitch at which the recording was made, for so many beats of half a second.
fn held(piece: &str) -> String {
    format!(
        "[loop]\ntitle = \"Ebb\"\nkit = \"shots\"\ntempo = 120\nbars = 3\nending = \"damp\"\n[[part]]\nname = \"{piece}\"\n\
         notes = \"C4 = = = | = = = = | = = = =\"\nrelease = 20\n"
    )
}

fn render(desk: &Desk, kit: &str) -> Vec<u8> {
    desk.write("shots/kit.toml", format!("[[piece]]\nname = \"horn\"\n{kit}\n"));
    desk.write("loop.toml", held("horn"));
    desk.run(&["render", "loop.toml", "-o", "out.wav", "--force", "--depth", "float"])
        .assert_done();
    fs::read(desk.path("out.wav")).unwrap()
}

#[test]
fn a_tone_is_held_without_a_seam() {
    let desk = Desk::new();
    desk.one_shot("shots/horn.wav", &[tone(HZ, 1.0, 0.5)]);
    let bytes = render(
        &desk,
        "files = \"horn.wav\"\nroot = 60\nsustain = [12000, 36000]\ncrossfade = 50",
    );
    let sound = wav::Wav::parse(&bytes);
    // Six seconds of a recording of one, and nothing in them but the tone.
    let (_, rest) = sine(&sound.left()[4_800..280_000], HZ, f64::from(RATE));
    assert!(rest < -80.0, "{rest} dB");
    // However the same loop is written.
    for same in [
        "files = [\"horn.wav\"]\nroot = 60\nsustain = [\"0.25 s\", \"750ms\"]\ncrossfade = 50",
        "zones = [{ file = \"horn.wav\", root = 60, sustain = [12000, \"750 ms\"], crossfade = 50 }]",
        "layers = [{ zones = [{ file = \"horn.wav\", root = 60, sustain = [12000, 36000], crossfade = 50 }] }]",
        "root = 60\nsustain = [12000, 36000]\ncrossfade = 50",
    ] {
        assert!(render(&desk, same) == bytes, "{same}");
    }
    // A recording that repeats needs no end.
    let told = || desk.run(&["kit", "shots", "--json"]).out;
    assert!(!told().contains("breaks off"), "{}", told());
    assert!(render(&desk, "files = \"horn.wav\"\nroot = 60") != bytes);
    assert!(told().contains("breaks off"), "{}", told());
}

#[test]
fn what_kit_toml_says_holds_before_the_loop_of_the_file() {
    let desk = Desk::new();
    let plain = wav::float(RATE, &[tone(HZ, 1.0, 0.5)]);
    let kit = "files = \"horn.wav\"\nroot = 60\nsustain = [12000, 30000]";
    desk.write("shots/horn.wav", &plain);
    let wanted = render(&desk, kit);
    // A loop of 63 frames buzzes.
    let fields = [0, 0, 20_833, 60, 0, 0, 0, 1, 0, 0, 0, 20_000, 20_062, 0, 0u32];
    let mut looped = [&plain[..], b"smpl", &60u32.to_le_bytes()].concat();
    fields.iter().for_each(|field| looped.extend(field.to_le_bytes()));
    let size = (looped.len() as u32 - 8).to_le_bytes();
    looped[4..8].copy_from_slice(&size);
    desk.write("shots/horn.wav", &looped);
    assert!(render(&desk, kit) == wanted);
    assert!(render(&desk, "files = \"horn.wav\"\nroot = 60") != wanted);
}

#[test]
fn a_loop_that_is_none_is_pointed_at() {
    let desk = Desk::new();
    desk.one_shot("shots/horn.wav", &[tone(HZ, 0.5, 0.5)]);
    desk.one_shot("shots/low.wav", &[tone(HZ / 2.0, 0.5, 0.5)]);
    for (kit, place, words) in [
        (
            "files = \"horn.wav\"\nsustain = [12000, 24001]",
            "kit.toml:4:11",
            "24000 frames",
        ),
        (
            "files = \"horn.wav\"\nsustain = [\"0.3 s\", 12000]",
            "kit.toml:4:11",
            "nothing to repeat",
        ),
        (
            "files = \"horn.wav\"\nsustain = [300, 200]",
            "kit.toml:4:11",
            "start before it ends",
        ),
        (
            "files = \"horn.wav\"\nsustain = [300]\ncrossfade = 20",
            "kit.toml:4:11",
            "a start and an end",
        ),
        (
            "files = \"horn.wav\"\nsustain = [\"0.3\", \"0.4 s\"]",
            "kit.toml:4:11",
            "a start and an end",
        ),
        (
            "files = \"horn.wav\"\nsustain = [480, 12000]\ncrossfade = 20",
            "kit.toml:4:11",
            "10.0 ms",
        ),
        (
            "files = \"horn.wav\"\ncrossfade = 20",
            "kit.toml:4:1",
            "without `sustain`",
        ),
        (
            "files = [\"horn.wav\", \"low.wav\"]\nsustain = [480, 12000]",
            "kit.toml:4:11",
            "several recordings",
        ),
        (
            "zones = [{ file = \"horn.wav\", root = 60, sustain = [480, 12000] }, { file = \"horn.wav\", root = 62, sustain = [480, 1200] }]",
            "kit.toml:3:",
            "another `sustain` above",
        ),
    ] {
        desk.write("shots/kit.toml", format!("[[piece]]\nname = \"horn\"\n{kit}\n"));
        desk.write("loop.toml", held("horn"));
        for command in [&["check", "loop.toml"][..], &["render", "loop.toml", "-o", "a.wav"]] {
            let answer = desk.run(command);
            assert_eq!(answer.code, Some(1), "{kit}\n{}", answer.out);
            assert!(
                answer.err.contains(place) && answer.err.contains(words),
                "{kit}:\n{}",
                answer.err
            );
            assert_eq!(answer.err.matches("error:").count(), 1, "{}", answer.err);
        }
    }
}

#[test]
fn loops_are_found_written_and_played() {
    let desk = Desk::new();
    // Blown with a vibrato of 5.5 Hz and a third of a semitone, for 1.6 s; plucked; struck.
    let mut phase = 0.0;
    let blown = |n: usize| {
        let time = n as f64 / f64::from(RATE);
        phase += TAU * 261.63 * (0.33 * (TAU * 5.5 * time).sin() / 12.0).exp2() / f64::from(RATE);
        let breath = (time / 0.06).min(1.0) * ((1.6 - time) / 0.05).min(1.0);
        (0.3 * breath * (phase.sin() + 0.4 * (2.0 * phase).sin())) as f32
    };
    desk.one_shot("shots/horn.wav", &[(0..RATE as usize * 8 / 5).map(blown).collect()]);
    desk.one_shot("shots/harp.wav", &[pluck(261.63, 1.6, 0.5)]);
    desk.one_shot("shots/kick.wav", &[pluck(60.0, 0.3, 0.8)]);
    desk.write("loop.toml", held("horn"));
    let check = desk.run(&["check", "loop.toml"]);
    assert!(
        check.err.contains("longer than their recordings"),
        "{}{}",
        check.out,
        check.err
    );
    let wrong = desk.run(&["kit", "shots", "--sustain"]);
    assert_eq!(wrong.code, Some(2), "{}", wrong.err);
    let answer = desk.run(&["kit", "shots", "--write", "--sustain"]);
    answer.assert_done();
    assert!(
        answer.out.contains("found loop points in 1 of 2 recordings"),
        "{}",
        answer.out
    );
    let written = fs::read_to_string(desk.path("shots/kit.toml")).unwrap();
    let horn = written
        .split("[[piece]]")
        .find(|piece| piece.contains("\"horn\""))
        .unwrap();
    assert!(
        horn.contains("\nsustain = [") && horn.contains("\ncrossfade = 50"),
        "{written}"
    );
    assert_eq!(written.matches("sustain").count(), 1, "{written}");
    let check = desk.run(&["check", "loop.toml"]);
    assert!(
        !check.err.contains("longer than their recordings"),
        "{}{}",
        check.out,
        check.err
    );
    // It sounds to the end of its six seconds, as loud as at its beginning, and is written as the same again.
    desk.run(&["render", "loop.toml", "-o", "out.wav"]).assert_done();
    let sound = desk.read("out.wav");
    let level = |second: f64| {
        let at = (second * f64::from(RATE)) as usize;
        db(rms(&sound.left()[at..at + RATE as usize / 2]))
    };
    assert!(
        (level(0.5) - level(5.2)).abs() < 0.5,
        "{} and {} dB",
        level(0.5),
        level(5.2)
    );
    desk.run(&["kit", "shots", "--write", "--force"]).assert_done();
    assert_eq!(fs::read_to_string(desk.path("shots/kit.toml")).unwrap(), written);
}
