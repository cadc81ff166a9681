//! The promise that a Standard MIDI File is read whatever its dialect, and that a damaged or hostile one is read so far
//! or refused with a sentence, in two seconds and 300 MB.

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::PathBuf;

use pressroll::internals::midi::*;
use proptest::prelude::*;

fn chunk(name: &[u8; 4], body: &[u8]) -> Vec<u8> {
    [name.as_slice(), &(body.len() as u32).to_be_bytes(), body].concat()
}

fn head(format: u16, tracks: u16, division: u16) -> Vec<u8> {
    chunk(b"MThd", &[format, tracks, division].map(u16::to_be_bytes).concat())
}

/// A file of one track at 96 ticks a quarter note.
fn file(events: &[u8]) -> Vec<u8> {
    [head(0, 1, 96), chunk(b"MTrk", events)].concat()
}

const END: [u8; 4] = [0, 0xFF, 0x2F, 0];

/// A file of three tracks that a library wrote, 362 bytes long.
const SOUND: &[u8] = include_bytes!("reference/midi/mido-two-tracks.mid");

/// Where a small song's notes are, as [start, length, key, velocity].
fn plain(bytes: &[u8]) -> Vec<[u64; 4]> {
    let performance = from_bytes(bytes).unwrap();
    let notes = performance.notes();
    notes
        .map(|(_, n)| [n.start, n.length, n.key.into(), n.velocity.into()])
        .collect()
}

proptest! {
    #[test]
    fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..300), division in any::<u16>()) {
        let _ = from_bytes(&bytes);
        let _ = from_bytes(&file(&bytes));
        let _ = from_bytes(&[head(1, 2, division), bytes].concat());
    }

    #[test]
    fn a_file_with_wrong_bytes_is_read_or_refused(wrong in prop::collection::vec((0usize..362, any::<u8>()), 1..6)) {
        let mut bytes = SOUND.to_vec();
        for (at, byte) in wrong {
            if let Some(place) = bytes.get_mut(at) {
                *place = byte;
            }
        }
        if let Ok(performance) = from_bytes(&bytes) {
            let sane = |n: &Note| n.key < 128 && (1..=127).contains(&n.velocity) && n.channel < 16;
            prop_assert!(performance.notes().all(|(_, n)| sane(n)));
        }
    }
}

#[test]
fn running_status_silent_note_ons_and_unknown_events_are_read() {
    let events = [
        b"\0\x90\x3C\x60\x30\x3C\0".as_slice(),
        // A running status across a meta event, which the standard forbids and some write.
        b"\0\xFF\x01\x02hi\0\x3E\x61\x30\x3E\0",
        b"\0\xF0\x03\x7E\x09\xF7\0\xF7\x01\xF8\0\xFF\x60\x01x\0\x90\x40\x62\x30\x80\x40\0",
        &END,
    ];
    assert_eq!(
        plain(&file(&events.concat())),
        [[0, 48, 60, 96], [48, 48, 62, 97], [96, 48, 64, 98]]
    );
}

#[test]
fn chunks_of_another_kind_longer_headers_and_rmid_wrappers_are_read() {
    let track = chunk(b"MTrk", b"\0\x90\x3C\x60\x30\x80\x3C\0\0\xFF\x2F\0");
    let longer = chunk(b"MThd", &[0, 0, 0, 1, 0, 96, 7, 7]);
    let bytes = [longer, chunk(b"XFIH", b"anything"), track].concat();
    assert_eq!(plain(&bytes), [[0, 48, 60, 96]]);
    assert_eq!(from_bytes(&bytes).unwrap().notices, []);
    let mut rmid = [b"RIFF\0\0\0\0RMIDdata".as_slice(), &(bytes.len() as u32).to_le_bytes()].concat();
    rmid.extend(&bytes);
    assert_eq!(plain(&rmid), [[0, 48, 60, 96]]);
}

#[test]
fn what_is_odd_is_told() {
    let hanging = from_bytes(&file(b"\0\x90\x3C\x60\x30\x3E\x60\x30\xFF\x2F\0")).unwrap();
    assert_eq!(hanging.notices, [Notice::Hanging { track: 1, notes: 2 }]);
    assert_eq!(hanging.tracks[0].notes[0].length, 96);
    let no_end = from_bytes(&file(b"\0\x90\x3C\x60\x30\x80\x3C\0")).unwrap();
    assert_eq!((no_end.notices.len(), no_end.end()), (0, 48));
    let senseless = from_bytes(&file(
        b"\0\xFF\x51\x03\0\0\0\0\xFF\x58\x04\0\x02\x18\x08\0\xFF\x58\x04\x04\xC8\x18\x08",
    ))
    .unwrap();
    assert_eq!(senseless.notices, [Notice::Senseless { marks: 3 }]);
}

#[test]
fn a_lying_length_is_not_believed() {
    let track = |key, told: u32| {
        let body = [&[0, 0x90, key, 96, 48, 0x80, key, 0][..], &END].concat();
        [b"MTrk".as_slice(), &told.to_be_bytes(), &body].concat()
    };
    for told in [0, 3, 13, 40, 0xFFFF_FFFF] {
        let bytes = [head(1, 2, 96), track(60, told), track(62, 12)].concat();
        assert_eq!(plain(&bytes), [[0, 48, 60, 96], [0, 48, 62, 96]], "{told}");
    }
    let rubbish = [
        head(1, 2, 96),
        track(60, 12),
        vec![0, 1, 2, 3, 0xFF],
        track(62, 12),
        vec![0; 20],
    ]
    .concat();
    let performance = from_bytes(&rubbish).unwrap();
    assert_eq!(performance.notes().count(), 2);
    assert_eq!(performance.notices, [Notice::Skipped { bytes: 25 }]);
}

#[test]
fn a_file_that_breaks_off_anywhere_is_read_so_far_or_refused() {
    let bytes = SOUND;
    let whole = plain(bytes).len();
    let mut before = 0;
    for cut in 0..bytes.len() {
        match from_bytes(&bytes[..cut]) {
            Ok(performance) => {
                let notes = performance.notes().count();
                assert!(notes >= before && notes <= whole, "{cut}");
                // The last byte is the length of the last end-of-track, 0: nothing is lost with it.
                assert!(!performance.notices.is_empty() || cut == bytes.len() - 1, "{cut}");
                before = notes;
            }
            Err(MidiError::Foreign | MidiError::CutShort | MidiError::NoTracks) => assert!(cut < 22, "{cut}"),
            Err(other) => panic!("{cut}: {other}"),
        }
    }
    assert_eq!(before, whole);
}

#[test]
fn what_cannot_be_read_is_refused_with_a_sentence() {
    let refused = |bytes: &[u8]| from_bytes(bytes).unwrap_err().to_string();
    assert_eq!(
        refused(b"RIFF"),
        "this is not a Standard MIDI File: it does not begin with `MThd`"
    );
    assert_eq!(
        refused(b"MThd\0\0\0\x06\0"),
        "the MIDI file breaks off within its header"
    );
    assert_eq!(refused(&head(0, 1, 96)), "the MIDI file has a header but no track");
    assert!(refused(&head(2, 1, 96)).contains("of format 2, a set of separate patterns; save the one"));
    assert!(refused(&head(7, 1, 96)).contains("of format 7; pressroll reads formats 0 and 1"));
    assert_eq!(
        refused(&head(0, 1, 0)),
        "the MIDI file says that a quarter note has 0 ticks"
    );
    for division in [0x8000, 0x80FF, 0xE800, 0xE401, 0xFF01] {
        assert!(refused(&head(0, 1, division)).contains(&format!("division {division:04X}")));
    }
    let sentence = "track 1 of the MIDI file holds bytes that are no MIDI event, from byte 26 of the file on";
    assert_eq!(refused(&file(b"\0\x90\x3C\x60\0\xF8\0\0\0\0\0\0")), sentence);
    let folder = read(env!("CARGO_TARGET_TMPDIR")).unwrap_err().to_string();
    assert_eq!(folder, "this is a folder, not a file");
}

// Size.

/// Nanoseconds that this thread has worked; how busy the machine is does not count.
fn worked() -> Option<u64> {
    let text = fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    text.split_whitespace().next()?.parse().ok()
}

/// The most memory that this process has had, in KiB.
fn most_memory() -> Option<u64> {
    let text = fs::read_to_string("/proc/self/status").ok()?;
    let line = text.lines().find(|line| line.starts_with("VmHWM"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// A file as long as may be, full of one group of bytes: of events in one track, or of chunks.
fn full(name: &str, group: &[u8]) -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("full-{name}.mid"));
    let chunks = group.starts_with(b"MTrk");
    let groups = ((16 << 20) - 22) / group.len();
    let mut out = BufWriter::new(File::create(&path).unwrap());
    out.write_all(&head(1, 1, 96)).unwrap();
    if !chunks {
        out.write_all(b"MTrk").unwrap();
        out.write_all(&((groups * group.len()) as u32).to_be_bytes()).unwrap();
    }
    for _ in 0..groups {
        out.write_all(group).unwrap();
    }
    out.flush().unwrap();
    path
}

#[test]
fn huge_files_are_read_or_refused_in_a_second_and_100_megabytes() {
    let name = [b"\0\xFF\x03\x83\xFF\xFF\x7F".as_slice(), &vec![b'a'; 0x7F_FFFF]].concat();
    let many = |what, most| Some(format!("the MIDI file holds more than {most} {what}"));
    let cases: [(&str, &[u8], Option<String>); 9] = [
        ("notes", b"\0\x90\x3C\x60", many("notes", 500_000)),
        ("programs", b"\0\xC0\x01\0\x01\0\x01\0\x01", many("events", 5_000_000)),
        (
            "tempos",
            b"\0\xFF\x51\x03\x07\xA1\x20",
            many("changes of tempo", 100_000),
        ),
        ("pedals", b"\0\xB0\x40\x7F\0\x40\0", None),
        (
            "hushes",
            b"\0\x90\x3C\x60\0\xB0\x7B\0\0\xB0\x40\x7F\0\xB0\x40\0",
            many("notes", 500_000),
        ),
        ("deltas", b"\xFF\xFF\xFF\x7F\xE0\0\x40", None),
        ("refused", b"\0\xFF\x59\0", None),
        ("long-names", &name, None),
        ("tracks", b"MTrk\0\0\0\x04\0\x90\x3C\x60", many("tracks", 65_535)),
    ];
    for (name, group, expected) in cases {
        let path = full(name, group);
        let before = worked();
        let result = read(&path);
        if let (Some(before), Some(after)) = (before, worked()) {
            let seconds = (after - before) as f64 / 1e9;
            println!("{name}: {seconds:.2} s, at most {} KiB", most_memory().unwrap_or(0));
            // A second is the aim and a quiet machine's figure is printed; ten times as much is a hang.
            assert!(seconds < 20.0, "{name} took {seconds} s");
        }
        assert_eq!(result.err().map(|error| error.to_string()), expected, "{name}");
        fs::remove_file(&path).unwrap();
    }
    let most = most_memory().unwrap_or(0);
    assert!(most < 100_000, "{most} KiB");
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("too-long.mid");
    File::create(&path).unwrap().set_len(1 << 40).unwrap();
    let refused = read(&path).unwrap_err().to_string();
    fs::remove_file(&path).unwrap();
    assert_eq!(refused, "this is 1024 GiB long; 16 MiB are the most");
}
