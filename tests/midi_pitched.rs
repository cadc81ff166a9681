//! A performance on a pitched piece: keys are pitches, lengths hold, and it goes out as it came in.

use std::f64::consts::TAU;

use crate::support::{Answer, Desk, RATE, assert_near, click, list, number, reference, tone};
use pressroll::internals::midi;

/// What a file of `tests/reference/midi` was asked to hold on a channel: start and length in quarter notes, key, velocity.
fn asked(name: &str, channel: f64) -> Vec<(f64, f64, i32, f64)> {
    let told = reference(&format!("midi/{name}"));
    let quarters = |value: &serde_json::Value| {
        let text = value.as_str().expect("a fraction");
        let (up, low) = text.split_once('/').unwrap_or((text, "1"));
        up.parse::<f64>().expect("a number") / low.parse::<f64>().expect("a number")
    };
    let notes = list(&told, "notes").iter().filter_map(|note| note.as_array());
    let notes = notes.filter(|note| number(&note[1]) == channel);
    notes
        .map(|note| {
            (
                quarters(&note[4]),
                quarters(&note[5]),
                number(&note[2]) as i32,
                number(&note[3]),
            )
        })
        .collect()
}

fn desk(take: &str) -> Desk {
    let desk = Desk::new();
    let file = format!("{}/tests/reference/midi/{take}.mid", env!("CARGO_MANIFEST_DIR"));
    std::fs::copy(file, desk.path("take.mid")).expect("a reference file");
    desk.one_shot("keys_C4.wav", &[tone(261.6256, 3.0, 0.3)]);
    desk.one_shot("bass_E1.wav", &[tone(41.2034, 3.0, 0.3)]);
    desk.one_shot("snare.wav", &[click()]);
    desk
}

fn song(tempo: u32, bars: u32, part: &str) -> String {
    format!(
        "[loop]\ntempo = {tempo}\nbars = {bars}\nending = \"damp\"\n[master]\nceiling = \"off\"\n[[part]]\nname = \"melody\"\nmidi = \"take.mid\"\nchannel = 1\n{part}\n"
    )
}

fn check(desk: &Desk, text: &str) -> Answer {
    desk.write("loop.toml", text);
    desk.run(&["check", "loop.toml"])
}

/// Cents by which the tone nearest to a frequency is off, from a place in frames on: the turn of its phase between two
/// windows (Hann).
fn cents_off(sound: &[f32], from: usize, hz: f64) -> f64 {
    let (step, window) = (4096, 8192);
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
    let turned = (phase(from + step) - phase(from) + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
    1200.0 * (1.0 + turned / TAU * f64::from(RATE) / step as f64 / hz).log2()
}

fn level(sound: &[f32]) -> f64 {
    let energy: f64 = sound.iter().map(|x| f64::from(*x).powi(2)).sum();
    10.0 * (energy / sound.len() as f64 + 1e-20).log10()
}

#[test]
fn keys_sound_at_their_pitches_for_as_long_as_they_are_held() {
    for (take, piece) in [
        ("music21-score", "stand-in"),
        ("music21-score", "keys"),
        ("pretty-midi-instruments", "keys"),
    ] {
        let desk = desk(take);
        // A quarter note is two seconds and a half.
        let sound = desk.render(&song(24, 2, &format!("piece = \"{piece}\"")));
        let notes = asked(take, 0.0);
        assert!(notes.len() >= 6);
        let frames = |quarters: f64| (quarters * 2.5 * f64::from(RATE)) as usize;
        for (start, length, key, _) in notes {
            // ISO 16: A4 = 440 Hz. What the note before leaves fades within 80 ms.
            let hz = 440.0 * ((f64::from(key) - 69.0) / 12.0).exp2();
            let off = cents_off(sound.left(), frames(start) + 4500, hz);
            assert_near(off, 0.0, 2.0, format!("{take} on {piece}: key {key}"));
            let end = frames(start + length);
            let next = asked(take, 0.0)
                .iter()
                .any(|(other, ..)| *other > start && *other < start + length + 0.05);
            if !next {
                let (held, gone) = (
                    level(&sound.left()[end - 2400..end]),
                    level(&sound.left()[end + 4800..end + 6000]),
                );
                assert!(gone < held - 50.0, "{take}: key {key} ends: {held} {gone}");
            }
        }
    }
}

#[test]
fn length_swing_and_tightening_leave_notes_their_lengths() {
    let desk = desk("pretty-midi-instruments");
    let lengths = |part: &str| {
        desk.render_with(&song(120, 2, part), &["--midi"]);
        let performance = midi::read(desk.path("out.mid")).expect("a Standard MIDI File");
        performance.notes().map(|(_, note)| note.length).collect::<Vec<_>>()
    };
    // 2/11 of a quarter of 960 ticks.
    assert!(
        lengths("piece = \"keys\"")
            .iter()
            .all(|length| length.abs_diff(175) <= 2)
    );
    assert!(
        lengths("piece = \"keys\"\nlength = 50")
            .iter()
            .all(|length| length.abs_diff(87) <= 2)
    );
    assert!(
        lengths("piece = \"keys\"\ntighten = 100")
            .iter()
            .all(|length| length.abs_diff(175) <= 2)
    );
}

#[test]
fn out_and_in_again_on_the_same_channel_is_the_same_to_a_tick() {
    let desk = desk("mido-one-track");
    let text = song(120, 1, "piece = \"keys\"").replace("channel = 1", "channel = 4")
        + "[[part]]\nname = \"other\"\npiece = \"keys\"\nnotes = \"C4\"\n";
    let read = |text: &str| {
        desk.render_with(text, &["--midi"]);
        let performance = midi::read(desk.path("out.mid")).expect("a Standard MIDI File");
        let track = performance
            .tracks
            .iter()
            .find(|track| track.name == "melody")
            .expect("the track");
        track.notes.clone()
    };
    let first = read(&text);
    assert!(
        !first.is_empty() && first.iter().all(|note| note.channel == 3),
        "{first:?}"
    );
    let asked = asked("mido-one-track", 3.0);
    assert_eq!(first.len(), asked.len());
    for (note, (start, length, key, velocity)) in first.iter().zip(asked) {
        assert!((note.start as f64 - start * 960.0).abs() <= 1.0 && (note.length as f64 - length * 960.0).abs() <= 1.0);
        assert_eq!((i32::from(note.key), f64::from(note.velocity)), (key, velocity));
    }
    std::fs::copy(desk.path("out.mid"), desk.path("take.mid")).expect("a copy");
    assert_eq!(read(&text), first);
}

#[test]
fn what_lies_too_far_is_left_out_and_named() {
    let desk = desk("pretty-midi-instruments");
    std::fs::copy(desk.path("take.mid"), desk.path("high.mid")).expect("a copy");
    // E1 is key 28, four octaves over it 76: all ten fit. A key an octave up is made of another root.
    check(&desk, &song(120, 2, "piece = \"bass\"")).assert_done();
    desk.write(
        "kit.toml",
        "[[piece]]\nname = \"bass\"\nfiles = [\"bass_E1.wav\"]\nroot = \"F0\"\n",
    );
    let answer = check(&desk, &song(120, 2, "piece = \"bass\""));
    answer.assert_done();
    let told = "`bass` was recorded more than four octaves from F#4, G4, G#4, A4 of take.mid: 4 notes left out";
    assert!(answer.err.contains(told), "{}", answer.err);
    let (_, json) = desk.render_with(&song(120, 2, "piece = \"bass\""), &[]);
    assert_eq!(json["hits"], 6);
}

#[test]
fn percussion_stays_percussion() {
    // The snare has no root, and a key of the map means it: on any channel it takes its keys alone.
    let desk = desk("pretty-midi-instruments");
    let text = song(120, 2, "piece = \"snare\"").replace("channel = 1", "");
    let (_, json) = desk.render_with(&text, &[]);
    assert_eq!(json["hits"], 1);
    // Nor does a root change that, as long as a map means the piece.
    desk.write(
        "kit.toml",
        "[[piece]]\nname = \"snare\"\nfiles = [\"snare.wav\"]\nroot = \"C3\"\n",
    );
    let (_, json) = desk.render_with(&text, &[]);
    assert_eq!(json["hits"], 1);
}

#[test]
fn it_is_charted_and_written_as_notes() {
    let desk = desk("music21-score");
    desk.write(
        "loop.toml",
        song(120, 2, "piece = \"stand-in\"\nlength = 90").replace("bars = 2", "bars = 2\nkey = \"Ab major\""),
    );
    let page = desk.run(&["chart", "loop.toml"]);
    page.assert_done();
    assert!(page.out.contains("melody C4 D4┊{E4 Gb4 = =}┊Ab4┊==="), "{}", page.out);
    let answer = desk.run(&["chart", "loop.toml", "--write"]);
    answer.assert_done();
    let written = std::fs::read_to_string(desk.path("loop-hits.toml")).expect("the page");
    // Velocities are those of the nearest marks: 5 is 12 dB under the hardest, 127 · 10^(-12/40) = 64.
    // Trip-lets and sixteenths in one bar: 48 words, a count of trip-lets twelve of them.
    assert!(
        written.contains("[part.notes]\n\"1\" = \"C4:5 = = = D4:5 = = = = = = = E4:5 = = Gb4:5 = "),
        "{written}"
    );
    let text = format!("[loop]\ntempo = 120\nbars = 2\nending = \"damp\"\n[master]\nceiling = \"off\"\n{written}");
    let (_, json) = desk.render_with(&text, &["--midi"]);
    assert_eq!(json["hits"], 6, "{written}");
    let performance = midi::read(desk.path("out.mid")).expect("a Standard MIDI File");
    let keys: Vec<u8> = performance.notes().map(|(_, note)| note.key).collect();
    assert_eq!(keys, [60, 62, 64, 66, 68, 70]);
    let hard =
        |performance: &midi::Performance| -> Vec<u8> { performance.notes().map(|(_, note)| note.velocity).collect() };
    let played = midi::read(desk.path("take.mid")).expect("a Standard MIDI File");
    for (written, played) in hard(&performance).into_iter().zip(hard(&played)) {
        // Marks are 3 dB apart by 40·log10(v/127) dB, and the nearest is half of that away at the most.
        let apart = 40.0 * (f64::from(written) / f64::from(played)).log10();
        assert!(apart.abs() <= 1.5, "{written} for {played}");
    }
}
