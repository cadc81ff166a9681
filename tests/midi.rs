//! The promise that Standard MIDI Files are read right or refused with a sentence, and that what is written reads back
//! the same.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use num_rational::Ratio;
use pressroll::internals::midi::*;
use proptest::prelude::*;
use serde_json::{Value, json};

fn chunk(name: &[u8; 4], body: &[u8]) -> Vec<u8> {
    [name.as_slice(), &(body.len() as u32).to_be_bytes(), body].concat()
}

fn head(format: u16, tracks: u16, division: u16) -> Vec<u8> {
    chunk(b"MThd", &[format, tracks, division].map(u16::to_be_bytes).concat())
}

fn note(start: u64, length: u64, key: u8, velocity: u8) -> MidiNote {
    MidiNote {
        start,
        length,
        key,
        velocity,
    }
}

fn written(song: &MidiSong) -> Vec<u8> {
    let mut bytes = Vec::new();
    write(song, &mut bytes).unwrap();
    bytes
}

fn part(name: &str, percussion: bool, notes: Vec<MidiNote>) -> MidiPart {
    MidiPart {
        name: name.to_string(),
        percussion,
        notes,
        ..MidiPart::default()
    }
}

/// Where a small song's notes are, as [start, length, key, velocity].
fn plain(bytes: &[u8]) -> Vec<[u64; 4]> {
    let performance = from_bytes(bytes).unwrap();
    let notes = performance.notes();
    notes
        .map(|(_, n)| [n.start, n.length, n.key.into(), n.velocity.into()])
        .collect()
}

// What others wrote.

fn fraction(text: &Value) -> Ratio<i128> {
    text.as_str().unwrap().parse().unwrap()
}

/// A performance as tests/reference/midi.py tells one.
pub fn told(performance: &Performance) -> Value {
    let time = |ticks| performance.clock.time(ticks).to_string();
    let mut notes: Vec<_> = performance.notes().collect();
    notes.sort_by_key(|(track, n)| (*track, n.channel, n.key, n.velocity, n.start));
    let note =
        |(track, n): &(usize, &Note)| json!([track, n.channel, n.key, n.velocity, time(n.start), time(n.length)]);
    let metre = |m: &Metre| json!([time(m.at), m.counts, m.unit]);
    json!({
        "counts": if performance.clock.counts == Counts::Quarters { "quarters" } else { "seconds" },
        "names": performance.tracks.iter().map(|track| track.name.as_str()).collect::<Vec<_>>(),
        "notes": notes.iter().map(note).collect::<Vec<_>>(),
        "tempos": performance.tempos.iter().map(|t| json!([time(t.at), t.micros])).collect::<Vec<_>>(),
        "metres": performance.metres.iter().map(metre).collect::<Vec<_>>(),
    })
}

#[test]
fn files_of_mido_pretty_midi_and_music21_are_read_note_for_note() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/midi");
    let mut count = 0;
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|extension| extension != "mid") {
            continue;
        }
        let performance = read(&path).unwrap();
        let expected: Value = serde_json::from_slice(&fs::read(path.with_extension("json")).unwrap()).unwrap();
        assert_eq!(told(&performance), expected, "{}", path.display());
        assert_eq!(performance.notices, [], "{}", path.display());
        let first = &expected["notes"][0];
        assert!(fraction(&first[5]) > Ratio::from_integer(0));
        count += 1;
    }
    assert_eq!(count, 6);
}

// What is written, byte by byte.

#[test]
fn the_first_track_holds_title_tempo_and_metre_and_ends() {
    let song = MidiSong {
        title: "Pier".to_string(),
        tempos: vec![Tempo::new(0, 120.0)],
        metres: vec![Metre {
            at: 0,
            counts: 6,
            unit: 8,
        }],
        parts: vec![part("snare", true, vec![note(960, 500, 38, 96)])],
        length: 2880,
        ..MidiSong::default()
    };
    // Standard MIDI Files 1.0: FF 51 03 07 A1 20 is 120 a minute, FF 58 04 06 03 24 08 is 6/8. The tempo is recomputed by `tests/reference/constants.py`.
    let conductor = [
        b"\x00\xFF\x03\x04Pier".as_slice(),
        b"\x00\xFF\x51\x03\x07\xA1\x20",
        b"\x00\xFF\x58\x04\x06\x03\x24\x08",
        b"\x96\x40\xFF\x2F\x00",
    ];
    // Channel 10 is 9 counted from 0; the stroke lasts 120 ticks, the track 2880.
    let snare = [
        b"\x00\xFF\x03\x05snare".as_slice(),
        b"\x87\x40\x99\x26\x60",
        b"\x78\x89\x26\x40",
        b"\x8E\x08\xFF\x2F\x00",
    ];
    let expected = [
        head(1, 2, 960),
        chunk(b"MTrk", &conductor.concat()),
        chunk(b"MTrk", &snare.concat()),
    ];
    assert_eq!(written(&song), expected.concat());
}

#[test]
fn lengths_are_variable_length_quantities() {
    // Standard MIDI Files 1.0, the table of examples; the last is recomputed by `tests/reference/constants.py`.
    let table: [(u64, &[u8]); 8] = [
        (0x40, &[0x40]),
        (0x7F, &[0x7F]),
        (0x80, &[0x81, 0x00]),
        (0x2000, &[0xC0, 0x00]),
        (0x3FFF, &[0xFF, 0x7F]),
        (0x4000, &[0x81, 0x80, 0x00]),
        (0x1F_FFFF, &[0xFF, 0xFF, 0x7F]),
        (0x0FFF_FFFF, &[0xFF, 0xFF, 0xFF, 0x7F]),
    ];
    for (ticks, bytes) in table {
        let song = MidiSong {
            parts: vec![part("", false, vec![note(ticks, 1, 60, 96)])],
            ..MidiSong::default()
        };
        let file = written(&song);
        let on = [bytes, &[0x90, 60, 96]].concat();
        assert!(file.windows(on.len()).any(|some| some == on), "{ticks:X}");
        assert_eq!(plain(&file), [[ticks, 1, 60, 96]]);
    }
    let too_far = MidiSong {
        parts: vec![part("", false, vec![note(0x1000_0000, 1, 60, 96)])],
        ..MidiSong::default()
    };
    assert!(write(&too_far, &mut Vec::new()).is_err());
}

#[test]
fn at_one_tick_notes_end_before_others_start() {
    let notes = vec![
        note(96, 96, 64, 90),
        note(0, 96, 60, 90),
        note(96, 96, 60, 90),
        note(0, 96, 67, 90),
    ];
    let song = MidiSong {
        parts: vec![part("", false, notes)],
        ..MidiSong::default()
    };
    let events =
        b"\0\x90\x3C\x5A\0\x43\x5A\x60\x80\x3C\x40\0\x43\x40\0\x90\x3C\x5A\0\x40\x5A\x60\x80\x3C\x40\0\x40\x40";
    let file = written(&song);
    assert!(file.windows(events.len()).any(|some| some == events), "{file:02X?}");
}

#[test]
fn what_a_file_cannot_hold_is_refused() {
    let with_note = |note| MidiSong {
        parts: vec![part("", false, vec![note])],
        ..MidiSong::default()
    };
    let with_metre = |counts, unit| MidiSong {
        metres: vec![Metre { at: 0, counts, unit }],
        ..MidiSong::default()
    };
    let slow = MidiSong {
        tempos: vec![Tempo { at: 0, micros: 1 << 24 }],
        ..MidiSong::default()
    };
    let songs = [
        (
            with_note(note(0, 1, 128, 96)),
            "a MIDI file can't hold a note of key 128 and velocity 96",
        ),
        (
            with_note(note(0, 1, 60, 0)),
            "a MIDI file can't hold a note of key 60 and velocity 0",
        ),
        (
            with_note(note(u64::MAX, 9, 60, 1)),
            "a MIDI file can't hold 18446744073709551615 ticks without an event",
        ),
        (with_metre(5, 6), "a MIDI file can't hold a metre of 5/6"),
        (with_metre(300, 4), "a MIDI file can't hold a metre of 300/4"),
        (
            slow,
            "a MIDI file can't hold a tempo of 16777216 microseconds a quarter note",
        ),
    ];
    for (song, sentence) in songs {
        assert_eq!(write(&song, &mut Vec::new()).unwrap_err().to_string(), sentence);
    }
}

// What is written reads back.

fn a_part() -> impl Strategy<Value = MidiPart> {
    // Coarse starts and few keys among the rest, so that keys are often struck while they sound.
    let start = prop_oneof![(0u64..20).prop_map(|step| step * 960), 0u64..20_000];
    let key = prop_oneof![58u8..64, 0u8..=127];
    let written = (start, 1u64..4000, key, 1u8..=127);
    (any::<bool>(), prop::collection::vec(written, 0..60)).prop_map(|(percussion, notes)| {
        let notes = notes
            .into_iter()
            .map(|(start, length, key, velocity)| note(start, length, key, velocity));
        part("quay", percussion, notes.collect())
    })
}

/// What a keyboard makes of a part's notes: the law of `write`, spelled out note by note.
fn as_played(part: &MidiPart) -> Vec<[u64; 4]> {
    let notes = &part.notes;
    let mut played = Vec::new();
    for (index, n) in notes.iter().enumerate() {
        if notes[index + 1..]
            .iter()
            .any(|other| (other.start, other.key) == (n.start, n.key))
        {
            continue;
        }
        let again = notes.iter().filter(|other| other.key == n.key && other.start > n.start);
        let most = again.map(|other| other.start - n.start).min().unwrap_or(u64::MAX);
        let most = if part.percussion {
            most.min(PERCUSSION_TICKS)
        } else {
            most
        };
        played.push([n.start, n.length.min(most), n.key.into(), n.velocity.into()]);
    }
    played.sort();
    played
}

proptest! {
    #[test]
    fn what_is_written_is_read_back(
        parts in prop::collection::vec(a_part(), 0..20),
        tempos in prop::collection::vec((0u64..20_000, 1u32..=0xFF_FFFF), 0..5),
        metres in prop::collection::vec((0u64..20_000, 1u32..=255, 0u32..=7), 0..5),
        length in 0u64..40_000,
    ) {
        let mut tempos: Vec<Tempo> = tempos.into_iter().map(|(at, micros)| Tempo { at, micros }).collect();
        let metre = |(at, counts, power): (u64, u32, u32)| Metre {
            at,
            counts,
            unit: 1 << power,
        };
        let mut metres: Vec<Metre> = metres.into_iter().map(metre).collect();
        let song = MidiSong {
            title: "Harbour".to_string(),
            tempos: tempos.clone(),
            metres: metres.clone(),
            parts,
            length,
            ..MidiSong::default()
        };
        let performance = from_bytes(&written(&song)).unwrap();
        tempos.sort_by_key(|tempo| tempo.at);
        metres.sort_by_key(|metre| metre.at);
        prop_assert_eq!(&performance.tempos, &tempos);
        prop_assert_eq!(&performance.metres, &metres);
        prop_assert_eq!(&performance.notices, &[]);
        prop_assert_eq!(performance.clock.time(960), Ratio::from_integer(1));
        prop_assert_eq!(performance.tracks.len(), song.parts.len() + 1);
        prop_assert!(performance.end() >= length);
        for (part, track) in song.parts.iter().zip(&performance.tracks[1..]) {
            let read = track.notes.iter();
            let mut notes: Vec<_> = read.map(|n| [n.start, n.length, n.key.into(), n.velocity.into()]).collect();
            notes.sort();
            prop_assert_eq!(notes, as_played(part));
            prop_assert!(track.notes.iter().all(|n| (n.channel == PERCUSSION_CHANNEL) == part.percussion));
        }
    }
}

/// A song of some parts, with changes of tempo and metre.
fn night_ferry() -> MidiSong {
    let strokes = |key, every: u64| {
        (0..16 / every)
            .map(|n| note(n * every * 240, 0, key, 60 + n as u8))
            .collect()
    };
    let bass = (0..9).map(|n| note(n * 320, 320, 31 + n as u8 % 3, 90)).collect();
    MidiSong {
        title: "Night ferry".to_string(),
        tempos: vec![Tempo::new(0, 92.0), Tempo::new(1920, 80.5)],
        metres: [(0, 4, 4), (1920, 6, 8)]
            .map(|(at, counts, unit)| Metre { at, counts, unit })
            .to_vec(),
        parts: vec![
            part("kick", true, strokes(36, 4)),
            part("hat-closed", true, strokes(42, 1)),
            MidiPart {
                program: Some(33),
                ..part("bass", false, bass)
            },
        ],
        keys: [(0, -2, true), (1920, 3, false)]
            .map(|(at, sharps, minor)| KeySignature { at, sharps, minor })
            .to_vec(),
        chords: vec![(0, "Gm9".to_string()), (1920, "E7#9/G#".to_string())],
        sections: vec![(0, "Überfahrt".to_string())],
        pieces: Some(vec![(36, "kick".to_string())]),
        length: 4800,
    }
}

/// Leaves files for the libraries to read: `tests/reference/midi.py check target/tmp/midi`.
#[test]
fn files_are_left_for_others_to_read() {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("midi");
    fs::create_dir_all(&folder).unwrap();
    let many = MidiSong {
        parts: (0..17)
            .map(|n| part(&format!("voice {n}"), false, vec![note(n * 60, 90, 40 + n as u8, 100)]))
            .collect(),
        length: 3840,
        ..night_ferry()
    };
    for (name, song) in [("night-ferry", night_ferry()), ("seventeen-voices", many)] {
        let path = folder.join(name).with_extension("mid");
        write(&song, &mut File::create(&path).unwrap()).unwrap();
        let performance = read(&path).unwrap();
        let notes: usize = song.parts.iter().map(|part| part.notes.len()).sum();
        assert_eq!(performance.notes().count(), notes);
        let mut told = told(&performance);
        // Places in quarter notes; keys as mido spells them, programs as they are counted from 0.
        told["signs"] = json!([
            ["0", "text", "channel 10 plays pieces, the other channels play pitches"],
            ["0", "text", "note 36 plays kick"],
            ["0", "marker", "Überfahrt"],
            ["0", "key", "Gm"],
            ["0", "text", "Gm9"],
            ["2", "key", "A"],
            ["2", "text", "E7#9/G#"],
        ]);
        told["programs"] = json!(song.parts.iter().filter_map(|part| part.program).collect::<Vec<_>>());
        fs::write(path.with_extension("json"), told.to_string()).unwrap();
    }
}
