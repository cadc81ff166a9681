//! Slides, scoops, falls, bends, vibrato, dead notes and legato: as they sound, on the chart as musicians write them, in MIDI as
//! bends on a channel a voice, and read back as the same notes.

use std::f64::consts::{PI, TAU};

use crate::support::{Desk, RATE};
use midly::{MetaMessage, MidiMessage, Smf, TrackEventKind};
use pressroll::internals::midi::{self, Note};

/// A loop of a bar a second: a quarter is 250 ms and 960 ticks.
fn song(plays: &str) -> String {
    format!("[loop]\ntempo = 240\nbars = 2\n[[part]]\nname = \"lead\"\npiece = \"stand-in\"\n{plays}\n")
}

/// The bytes of `render --midi`, and what its summary says.
fn rendered(text: &str) -> (Vec<u8>, serde_json::Value) {
    let desk = Desk::new();
    let (_, told) = desk.render_with(text, &["--midi"]);
    (std::fs::read(desk.path("out.mid")).expect("a file"), told)
}

/// Ticks, channels and messages of a track.
fn messages(bytes: &[u8], track: usize) -> Vec<(u32, u8, MidiMessage)> {
    let smf = Smf::parse(bytes).expect("a Standard MIDI File");
    let mut at = 0;
    let read = smf.tracks[track].iter().filter_map(|event| {
        at += event.delta.as_int();
        match event.kind {
            TrackEventKind::Midi { channel, message } => Some((at, channel.as_int(), message)),
            _ => None,
        }
    });
    read.collect()
}

/// The value of a registered parameter on a channel.
fn parameter(messages: &[(u32, u8, MidiMessage)], channel: u8, number: u8) -> Option<u8> {
    let told: Vec<(u8, u8)> = messages
        .iter()
        .filter(|(_, own, _)| *own == channel)
        .filter_map(|(_, _, message)| match message {
            MidiMessage::Controller { controller, value } => Some((controller.as_int(), value.as_int())),
            _ => None,
        })
        .collect();
    let place = told.windows(3).find(|told| told[..2] == [(101, 0), (100, number)])?;
    Some(place[2].1)
}

/// Semitones of each bend, with its tick and its channel.
fn bends(messages: &[(u32, u8, MidiMessage)]) -> Vec<(u32, u8, f64)> {
    let bend = |(at, channel, message): &(u32, u8, MidiMessage)| match message {
        MidiMessage::PitchBend { bend } => {
            let reach = parameter(messages, *channel, 0).expect("RPN 0 before a bend");
            let share = (f64::from(bend.0.as_int()) - 8192.0) / 8192.0;
            Some((*at, *channel, share * f64::from(reach)))
        }
        _ => None,
    };
    messages.iter().filter_map(bend).collect()
}

#[test]
fn a_slide_is_a_bend_on_a_channel_of_the_upper_zone() {
    let (bytes, told) = rendered(&song("notes = { \"1\" = \"C4 G4:slide=100ms - -\" }"));
    assert_eq!(told["midi"]["unbent_notes"], 0);
    let all = messages(&bytes, 1);
    // MPE (M1-100-UM): RPN 6 on channel 16 says how many members the upper zone has; they go down from channel 15.
    assert_eq!(parameter(&all, 15, 6), Some(1));
    assert_eq!(parameter(&all, 14, 0), Some(7));
    let bends = bends(&all);
    assert_eq!((bends[0].0, bends[0].1), (960, 14));
    assert!((bends[0].2 + 7.0).abs() < 0.001 && bends.last().expect("bends").2.abs() < 0.006);
    // Half of the way after half of the time: 50 ms are 192 ticks.
    let half = bends.iter().rev().find(|(at, ..)| *at <= 960 + 192).expect("a bend");
    assert!((half.2 + 3.5).abs() < 0.5, "{half:?}");
    // A bend stands before the note that it bends.
    let started = all
        .iter()
        .position(|(_, channel, message)| *channel == 14 && matches!(message, MidiMessage::NoteOn { .. }));
    let bent = all
        .iter()
        .position(|(_, _, message)| matches!(message, MidiMessage::PitchBend { .. }));
    assert!(bent < started && bent.is_some());
}

#[test]
fn a_loop_without_bends_has_no_zone() {
    let (bytes, _) = rendered(&song("notes = \"C4 (G4):dead E4:legato -\""));
    let all = messages(&bytes, 1);
    // Its instrument, then its notes: nothing that would make a zone of channels or bend one.
    let plain = |message: &MidiMessage| {
        use MidiMessage::{NoteOff, NoteOn, ProgramChange};
        matches!(message, NoteOn { .. } | NoteOff { .. } | ProgramChange { .. })
    };
    assert!(all.iter().all(|(_, channel, message)| *channel == 0 && plain(message)));
    let smf = Smf::parse(&bytes).expect("a Standard MIDI File");
    let prefix = |kind: &TrackEventKind| matches!(kind, TrackEventKind::Meta(MetaMessage::MidiChannel(_)));
    assert!(smf.tracks[1].iter().all(|event| !prefix(&event.kind)));
}

#[test]
fn voices_that_sound_together_have_a_channel_each_and_what_finds_none_is_reported() {
    let (bytes, told) = rendered(&song("notes = { \"1\" = \"C4+E4+G4+B4+D5+F5+A5:bend=+2\" }"));
    let mut channels: Vec<u8> = bends(&messages(&bytes, 1))
        .iter()
        .map(|(_, channel, _)| *channel)
        .collect();
    channels.sort_unstable();
    channels.dedup();
    assert_eq!(channels, [10, 11, 12, 13, 14]);
    assert_eq!(told["midi"]["unbent_notes"], 2);
    assert_eq!(midi::from_bytes(&bytes).expect("a performance").notes().count(), 7);
}

/// What a keyboard plays, whatever bends it: start, length, key, velocity and channel.
fn notes(bytes: &[u8]) -> Vec<Note> {
    let performance = midi::from_bytes(bytes).expect("a performance");
    let mut notes: Vec<Note> = performance.notes().map(|(_, note)| *note).collect();
    notes.sort_by_key(|note| (note.start, note.key));
    notes
}

#[test]
fn what_is_bent_reads_back_as_the_same_notes() {
    let bent = "notes = \"C4:vibrato G4:slide:fall=3 - Bb4:scoop=2 | F4:bend=+2 - - {C5:fall B4 G4}\"";
    let plain = "notes = \"C4 G4 - Bb4 | F4 - - {C5 B4 G4}\"";
    let parts = |plays: &str| {
        song(&format!(
            "{plays}\n[[part]]\nname = \"low\"\npiece = \"stand-in\"\nnotes = \"C3 - - -\""
        ))
    };
    assert_eq!(notes(&rendered(&parts(bent)).0), notes(&rendered(&parts(plain)).0));
    // And so does a part that plays the file.
    let desk = Desk::new();
    desk.render_with(&song(bent), &["--midi"]);
    std::fs::copy(desk.path("out.mid"), desk.path("take.mid")).expect("a copy");
    desk.render_with(&song("midi = \"take.mid\"\nchannel = 1"), &["--midi"]);
    assert_eq!(
        notes(&std::fs::read(desk.path("out.mid")).expect("a file")),
        notes(&rendered(&song(plain)).0)
    );
}

#[test]
fn the_chart_has_the_signs_of_lead_sheets() {
    let desk = Desk::new();
    desk.write(
        "loop.toml",
        song("notes = \"C4 G4:slide C4:slide:fall B3/Bb4:scoop:7 | F4:bend=+2 C4:dead C5:legato:vibrato -\""),
    );
    let answer = desk.run(&["chart", "loop.toml"]);
    answer.assert_done();
    for sign in ["↗G4 ", "↘C4↘", "∪B3/Bb4:7", "F4∩", "×C4", "‿C5~"] {
        assert!(answer.out.contains(sign), "{sign}: {}", answer.out);
    }
    desk.write(
        "loop.toml",
        format!(
            "chords = \"C\"\n{}",
            song("degrees = \"1 5:slide=80ms:7 (1):dead 8:bend=+2,90ms\"")
        ),
    );
    let answer = desk.run(&["chart", "loop.toml", "--write", "-"]);
    answer.assert_done();
    assert!(
        answer.out.contains("\"C2 G2:7:slide=80ms (C2):dead C3:bend=+2,90ms\""),
        "{}",
        answer.out
    );
    answer.assert_done();
}

/// C4 and G4 in Hz, equal temperament at A4 = 440 Hz.
const C4: f64 = 261.625_565;
const G4: f64 = 391.995_436;

/// A desk with so many seconds of a pure C4, behind a burst of noise at its onset.
fn horn(seconds: u32, burst: f32) -> Desk {
    let mut state = 1_u32;
    let wave = (0..seconds * RATE).map(|n| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let noise = (state >> 8) as f32 / 8_388_608.0 - 1.0;
        let strike = if n < RATE / 25 { burst * noise } else { 0.0 };
        strike + 0.25 * (TAU * C4 * f64::from(n) / f64::from(RATE)).sin() as f32
    });
    let desk = Desk::new();
    desk.one_shot("horn_C4.wav", &[wave.collect()]);
    desk
}

/// A bar of four seconds of a horn.
fn slow(plays: &str) -> String {
    format!("[loop]\ntempo = 60\nbars = 1\n[[part]]\nname = \"horn\"\n{plays}\n")
}

/// The frequency of a wave at a time, near one that is expected: how the phase of its product with that one turns from 0.5 ms before to
/// 0.5 ms after, under a Hann window of 20 ms.
fn frequency(wave: &[f32], seconds: f64, near: f64) -> f64 {
    let rate = f64::from(RATE);
    let phase = |middle: usize| {
        let (mut re, mut im) = (0.0, 0.0);
        for (n, x) in wave[middle - 480..middle + 480].iter().enumerate() {
            let from_middle = n as f64 - 480.0;
            let window = 0.5 + 0.5 * (TAU * from_middle / 960.0).cos();
            let (s, c) = (TAU * near * from_middle / rate).sin_cos();
            re += window * f64::from(*x) * c;
            im -= window * f64::from(*x) * s;
        }
        im.atan2(re)
    };
    let middle = (seconds * rate).round() as usize;
    let expected = TAU * near * 48.0 / rate;
    let turn = phase(middle + 24) - phase(middle - 24) - expected;
    near * (1.0 + (turn - TAU * (turn / TAU).round()) / expected)
}

/// The level of a wave over some seconds, dB.
fn level(wave: &[f32], from: f64, to: f64) -> f64 {
    let part = &wave[(from * f64::from(RATE)) as usize..(to * f64::from(RATE)) as usize];
    10.0 * (part.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / part.len() as f64).log10()
}

#[test]
fn a_slide_sounds_as_it_is_written_within_2_cents() {
    let wav = horn(4, 0.0).render(&slow("notes = \"C4 - G4:slide=600ms =\""));
    for step in 0..90 {
        let after = 0.02 + 0.01 * f64::from(step);
        // Half a cosine from a fifth below, over 600 ms.
        let cents = if after < 0.6 {
            -350.0 * (1.0 + (PI * after / 0.6).cos())
        } else {
            0.0
        };
        let written = G4 * (cents / 1200.0).exp2();
        let off = 1200.0 * (frequency(wav.left(), 2.0 + after, written) / written).log2();
        assert!(off.abs() < 2.0, "{off} cents, {after} s after its onset");
    }
}

#[test]
fn a_bent_loop_is_the_same_on_any_number_of_threads() {
    let plays = "notes = \"C4:vibrato {G4:slide A4:legato} E4:bend=+2 D4:scoop:fall\"";
    let desk = horn(4, 0.5);
    desk.write("loop.toml", slow(plays));
    let render = |threads: &str| {
        let variables = [("RAYON_NUM_THREADS", threads)];
        let asked = ["render", "loop.toml", "-o", "out.wav", "--force"];
        desk.run_in(&desk.path("."), &variables, &asked).assert_done();
        std::fs::read(desk.path("out.wav")).expect("a render")
    };
    let one = render("1");
    assert!(one == render("3") && one == render("2"));
}

#[test]
fn a_legato_note_has_no_attack_and_no_gap_before_it() {
    let desk = horn(4, 0.7);
    let struck = desk.render(&slow("notes = \"C4 G4 - -\""));
    let joined = desk.render(&slow("notes = \"C4 G4:legato - -\""));
    let steady = level(joined.left(), 0.5, 0.9);
    let at_onset = |wave: &[f32]| level(wave, 1.0, 1.03) - steady;
    assert!(at_onset(struck.left()) > 5.0, "{}", at_onset(struck.left()));
    for ms in (960..1_060).step_by(5) {
        let seconds = f64::from(ms) / 1000.0;
        let off = level(joined.left(), seconds, seconds + 0.01) - steady;
        assert!((-6.0..3.0).contains(&off), "{off} dB at {seconds} s");
    }
    let off = 1200.0 * (frequency(joined.left(), 1.5, G4) / G4).log2();
    assert!(off.abs() < 2.0);
    // The note before is gone, whose release of 80 ms would still sound.
    let near_c4 = |wave: &[f32]| {
        let (s, c) = wave[49_200..51_600]
            .iter()
            .enumerate()
            .fold((0.0, 0.0), |(a, b), (n, x)| {
                let window = 0.5 - 0.5 * (TAU * n as f64 / 2_400.0).cos();
                let (s, c) = (TAU * C4 * n as f64 / f64::from(RATE)).sin_cos();
                (a + window * s * f64::from(*x), b + window * c * f64::from(*x))
            });
        s.hypot(c)
    };
    assert!(near_c4(joined.left()) < 0.1 * near_c4(struck.left()));
}

/// A wave that begins so many seconds later in its circle.
fn turned(wave: &[f32], seconds: f64) -> Vec<f32> {
    let mut turned = wave.to_vec();
    turned.rotate_left((seconds * f64::from(RATE)) as usize);
    turned
}

/// How far the loudest difference of two waves lies below full scale, dB.
fn apart(one: &[f32], other: &[f32]) -> f64 {
    assert_eq!(one.len(), other.len());
    let apart = |most: f32, (a, b): (&f32, &f32)| most.max((a - b).abs());
    20.0 * f64::from(one.iter().zip(other).fold(1e-9, apart)).log10()
}

#[test]
fn a_loop_that_repeats_is_legato_over_its_seam() {
    let desk = horn(4, 0.7);
    // The same circle, begun a step later.
    for mark in [":legato", ":legato:slide=200ms"] {
        let middle = desk.render(&slow(&format!("notes = \"E4 C4 G4{mark} F4\"")));
        let seam = desk.render(&slow(&format!("notes = \"G4{mark} F4 E4 C4\"")));
        let off = apart(&turned(middle.left(), 2.0), seam.left());
        assert!(off < -120.0, "{mark}: {off} dB");
    }
    // A cut is a circle of its own.
    let bars = |ask: &[&str]| {
        let text = slow("notes = \"E4 C4 F4 D4 | G4:legato F4 E4 C4\"").replace("bars = 1", "bars = 2");
        desk.render_with(&text, ask).0
    };
    let cut = bars(&["--bars", "2"]);
    assert!(apart(cut.left(), desk.render(&slow("notes = \"G4:legato F4 E4 C4\"")).left()) < -120.0);
}

#[test]
fn a_loop_that_does_not_repeat_begins_plainly() {
    let desk = horn(4, 0.7);
    for ending in ["let ring", "damp"] {
        let render = |mark: &str| {
            let text = slow(&format!("notes = \"G4{mark} F4 E4 C4\""));
            desk.render_with(&text, &["--ending", ending]).0
        };
        assert!(render(":legato").left() == render("").left(), "{ending}");
    }
}

#[test]
fn a_section_goes_on_from_its_round_before() {
    let desk = horn(4, 0.7);
    desk.write("loop.toml", slow("notes = \"G4:legato F4 E4 C4\""));
    let form = "[form]\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\ntimes = 2\n";
    desk.write("form.toml", form);
    let (twice, _) = desk.render_file("form.toml", &[]);
    let text = slow("notes = \"G4 F4 E4 C4 | G4:legato F4 E4 C4\"").replace("bars = 1", "bars = 2");
    let (written_out, _) = desk.render_with(&text, &["--ending", "let ring"]);
    let off = apart(twice.left(), written_out.left());
    assert!(off < -120.0, "{off} dB");
}

#[test]
fn a_dead_note_is_short_and_dull() {
    let desk = horn(4, 0.7);
    let open = desk.render(&slow("release = 2000\nnotes = \"C4 - - -\""));
    let dead = desk.render(&slow("release = 2000\nnotes = \"C4:dead - - -\""));
    let falls = level(dead.left(), 0.06, 0.07) - level(dead.left(), 0.0, 0.01);
    assert!(falls < -30.0, "{falls} dB");
    assert!(level(dead.left(), 0.1, 0.2) < -100.0);
    // What differs from sample to sample is treble.
    let treble = |wave: &[f32]| {
        let rough: Vec<f32> = wave.windows(2).map(|pair| pair[1] - pair[0]).collect();
        level(&rough, 0.001, 0.01) - level(wave, 0.001, 0.01)
    };
    assert!(treble(dead.left()) < treble(open.left()) - 3.0);
}
