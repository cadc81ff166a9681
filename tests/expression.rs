//! Slides, scoops, falls, bends, vibrato, dead notes and legato: on the chart as musicians write them, in MIDI as bends on a
//! channel a voice, and read back as the same notes.

use crate::support::Desk;
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
    let notes = |message: &MidiMessage| matches!(message, MidiMessage::NoteOn { .. } | MidiMessage::NoteOff { .. });
    assert!(all.iter().all(|(_, channel, message)| *channel == 0 && notes(message)));
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
