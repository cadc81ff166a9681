//! `midi = "take.mid"`: a performance that a part plays in place of hits.

use std::time::Duration;

use crate::support::{Answer, Desk, click};
use pressroll::internals::midi::{self, MidiNote, MidiPart, MidiSong};

const PIECES: [&str; 6] = ["kick", "snare", "hat-closed", "hat-open", "shaker", "harbour-bell"];

fn desk() -> Desk {
    let desk = Desk::new();
    for piece in PIECES {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk
}

/// A loop at 120 with the lines of one part that plays take.mid.
fn song(bars: u32, part: &str) -> String {
    format!(
        "[loop]\ntempo = 120\nbars = {bars}\n[master]\nceiling = \"off\"\n[[part]]\nname = \"drums\"\nmidi = \"take.mid\"\n{part}\n"
    )
}

fn chunk(name: &[u8; 4], body: &[u8]) -> Vec<u8> {
    [name.as_slice(), &(body.len() as u32).to_be_bytes(), body].concat()
}

/// A file of a format, a division and tracks of events.
fn file(format: u16, division: u16, tracks: &[&[u8]]) -> Vec<u8> {
    let head = [format, tracks.len() as u16, division].map(u16::to_be_bytes).concat();
    let tracks = tracks
        .iter()
        .map(|events| chunk(b"MTrk", &[events, [0, 0xFF, 0x2F, 0].as_slice()].concat()));
    [chunk(b"MThd", &head)]
        .into_iter()
        .chain(tracks)
        .collect::<Vec<_>>()
        .concat()
}

/// Notes as [tick, key, velocity] on channel 10, 480 ticks a quarter.
fn take(notes: &[[u64; 3]]) -> Vec<u8> {
    on_channel(0x99, notes)
}

fn on_channel(status: u8, notes: &[[u64; 3]]) -> Vec<u8> {
    let (mut events, mut before) = (Vec::new(), 0);
    for &[at, key, velocity] in notes {
        let delta = at - before;
        events.extend([
            0x80 | (delta >> 14) as u8,
            0x80 | (delta >> 7) as u8,
            delta as u8 & 0x7F,
        ]);
        events.extend([status, key as u8, velocity as u8]);
        before = at;
    }
    file(0, 480, &[&events])
}

/// The frames of the clicks, each with its height.
fn clicks(desk: &Desk, text: &str, options: &[&str]) -> Vec<(usize, f32)> {
    let (audio, _) = desk.render_with(text, options);
    let sounds = audio.left().iter().enumerate().filter(|(_, sample)| **sample > 1e-5);
    sounds.map(|(frame, sample)| (frame, *sample)).collect()
}

fn frames(desk: &Desk, text: &str, options: &[&str]) -> Vec<usize> {
    clicks(desk, text, options)
        .into_iter()
        .map(|(frame, _)| frame)
        .collect()
}

#[track_caller]
fn assert_frames(heard: &[usize], seconds: &[f64]) {
    assert_eq!(heard.len(), seconds.len(), "{heard:?}, wanted {seconds:?}");
    for (heard, wanted) in heard.iter().zip(seconds) {
        let wanted = wanted * 48000.0;
        assert!((*heard as f64 - wanted).abs() <= 1.0, "frame {heard}, wanted {wanted}");
    }
}

fn check(desk: &Desk, text: &str) -> Answer {
    desk.write("loop.toml", text);
    desk.run(&["check", "loop.toml"])
}

#[test]
fn onsets_lie_where_they_were_played_to_a_sample() {
    let desk = desk();
    // Off the grid on purpose; 480 ticks are half a second at 120.
    desk.write(
        "take.mid",
        take(&[
            [0, 36, 100],
            [13, 42, 80],
            [487, 38, 110],
            [1337, 36, 64],
            [1919, 42, 127],
        ]),
    );
    let heard = clicks(&desk, &song(1, ""), &[]);
    let ticks = [0.0, 13.0, 487.0, 1337.0, 1919.0].map(|ticks| ticks / 960.0);
    assert_frames(&heard.iter().map(|click| click.0).collect::<Vec<_>>(), &ticks);
    // The law of velocity: 40 lg(64/127) dB.
    let fall = 20.0 * f64::from(heard[3].1 / heard[4].1).log10();
    crate::support::assert_near(fall, 40.0 * (64f64 / 127.0).log10(), 0.01, "velocity 64 against 127");
}

#[test]
fn formats_0_and_1_running_status_and_seconds() {
    let desk = desk();
    let at = [0.0, 0.5, 1.0];
    // One track; the status byte is told once, a silent note-on ends a note, and the tempo of 60 says nothing.
    let running = [
        0, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40, 0, 0x99, 36, 100, 96, 36, 0, 0, 38, 100, 96, 38, 0, 0, 36, 100,
    ];
    desk.write("take.mid", file(0, 96, &[&running]));
    assert_frames(&frames(&desk, &song(1, ""), &[]), &at);
    // Two tracks of percussion beside one of another channel.
    let tracks: [&[u8]; 3] = [
        &[0, 0x99, 36, 100, 0x81, 0x40, 0x99, 36, 100],
        &[96, 0x99, 38, 100],
        &[48, 0x90, 38, 100],
    ];
    desk.write("take.mid", file(1, 96, &tracks));
    assert_frames(&frames(&desk, &song(1, ""), &[]), &at);
    // 25 frames of 40 ticks: a tick is a millisecond, whatever the tempo.
    let film = [0, 0x99, 36, 100, 0x83, 0x74, 38, 100, 0x83, 0x74, 36, 100];
    desk.write("take.mid", file(1, 0xE728, &[&film]));
    assert_frames(&frames(&desk, &song(2, ""), &["--set", "loop.tempo=133"]), &at);
}

#[test]
fn one_performance_feeds_several_parts() {
    let desk = desk();
    desk.write(
        "take.mid",
        take(&[
            [0, 36, 100],
            [480, 40, 100],
            [600, 42, 90],
            [960, 36, 100],
            [1440, 38, 100],
        ]),
    );
    let text = song(1, "piece = \"snare\"") + "[[part]]\nname = \"feet\"\nmidi = \"take.mid\"\npiece = \"kick\"\n";
    // Both snare keys are the snare's, also in a kit that has two, unless a part plays the second.
    let snare = [0.5, 1.5];
    assert_frames(&frames(&desk, &text, &["--only", "drums"]), &snare);
    assert_frames(&frames(&desk, &text, &["--only", "feet"]), &[0.0, 1.0]);
    desk.one_shot("snare deep.wav", &[click()]);
    assert_frames(&frames(&desk, &text, &["--only", "drums"]), &snare);
    let text = text + "[[part]]\nname = \"other\"\nmidi = \"take.mid\"\npiece = \"snare-2\"\n";
    assert_frames(&frames(&desk, &text, &["--only", "drums"]), &[1.5]);
    assert_frames(&frames(&desk, &text, &["--only", "other"]), &[0.5]);
}

#[test]
fn keys_of_a_part_and_of_a_kit() {
    let desk = desk();
    desk.write("take.mid", take(&[[0, 20, 100], [480, 36, 100], [960, 21, 100]]));
    let played = |text: &str| {
        let told = desk.render_with(text, &["--midi"]).1;
        assert!(told["hits"].as_u64().unwrap() > 0);
        let performance = midi::read(desk.path("out.mid")).unwrap();
        performance
            .notes()
            .map(|(_, note)| (note.start / 960, note.key))
            .collect::<Vec<_>>()
    };
    let own = played(&song(
        1,
        "keys = { 20 = \"snare\", 21 = \"hat-open\", 36 = \"hat-closed\" }",
    ));
    assert_eq!(own, [(0, 38), (1, 42), (2, 46)]);
    desk.write("kit.toml", "[kit]\nkeys = { 20 = \"kick\", 21 = \"snare\" }\n");
    assert_eq!(played(&song(1, "")), [(0, 36), (1, 36), (2, 38)]);
    assert_eq!(
        played(&song(1, "keys = { 21 = \"hat-open\" }\npiece = \"hat-open\"")),
        [(2, 46)]
    );
    // What a part asks for by name must be there.
    let answer = check(&desk, &song(1, "keys = { 20 = \"snarre\" }"));
    assert_eq!(answer.code, Some(1));
    assert!(
        answer.err.contains("did you mean `snare`?") && answer.err.contains("20 = \"snarre\""),
        "{}",
        answer.err
    );
}

#[test]
fn another_channel() {
    let desk = desk();
    desk.write("take.mid", on_channel(0x92, &[[0, 36, 100], [480, 38, 100]]));
    assert_frames(&frames(&desk, &song(1, "channel = 3"), &[]), &[0.0, 0.5]);
    let answer = check(&desk, &song(1, ""));
    assert!(
        answer.err.contains("no notes on channel 10") && answer.err.contains("channel = 3"),
        "{}",
        answer.err
    );
    assert_eq!(check(&desk, &song(1, "channel = 17")).code, Some(1));
}

#[test]
fn tighten_pulls_to_the_nearest_sixteenth_as_the_loop_swings() {
    let desk = desk();
    // A sixteenth has 120 ticks of 1/960 s: 12 ticks late, 10 early, and 5 before the last barline.
    desk.write("take.mid", take(&[[132, 36, 100], [470, 38, 100], [1915, 42, 100]]));
    let ticks = |ticks: [f64; 3]| ticks.map(|ticks| ticks / 960.0);
    let heard = |tighten: &str, more: &[&str]| frames(&desk, &song(1, tighten), more);
    assert_frames(&heard("", &[]), &ticks([132.0, 470.0, 1915.0]));
    assert_frames(&heard("tighten = 50", &[]), &ticks([126.0, 475.0, 1917.5]));
    // What comes to lie on the loop's end sounds with its first beat.
    assert_frames(&heard("tighten = 100", &[]), &ticks([0.0, 120.0, 480.0]));
    // The loop's swing moves the grid, and leaves alone what is not pulled.
    let swing = ["--set", "feel.swing=60"];
    assert_frames(&heard("", &swing), &ticks([132.0, 470.0, 1915.0]));
    assert_frames(&heard("tighten = 100", &swing), &ticks([0.0, 144.0, 480.0]));
    // A part that swings by itself bends what it plays, as it bends hits.
    assert_frames(&heard("swing = 60", &[])[..1], &[(144.0 + 12.0 * 96.0 / 120.0) / 960.0]);
}

#[test]
fn what_comes_past_the_end_is_left_out_and_told_once() {
    let desk = desk();
    desk.write(
        "take.mid",
        take(&[[0, 36, 100], [1920, 36, 100], [2400, 38, 100], [4000, 36, 100]]),
    );
    let text = song(1, "piece = \"kick\"") + "[[part]]\nname = \"snare\"\nmidi = \"take.mid\"\npiece = \"snare\"\n";
    assert_frames(&frames(&desk, &text, &[]), &[0.0]);
    let answer = desk.run(&["render", "loop.toml", "-o", "out.wav"]);
    answer.assert_done();
    let told = "3 notes of take.mid come after the loop's last bar and are left out";
    assert_eq!(answer.err.matches(told).count(), 1, "{}", answer.err);
    assert!(answer.err.contains("in bar 3"), "{}", answer.err);
}

#[test]
fn a_shorter_performance_is_not_repeated_and_check_says_so() {
    let desk = desk();
    desk.write("take.mid", take(&[[0, 36, 100], [1440, 36, 100]]));
    assert_frames(&frames(&desk, &song(4, ""), &[]), &[0.0, 1.5]);
    let answer = check(&desk, &song(4, ""));
    assert_eq!(answer.code, Some(0));
    assert!(
        answer
            .err
            .contains("silent in bars 2-4, after its performance has ended"),
        "{}",
        answer.err
    );
}

#[test]
fn keys_without_a_piece_are_told_in_one_warning() {
    let desk = desk();
    desk.write(
        "take.mid",
        take(&[[0, 36, 100], [10, 49, 100], [20, 49, 90], [30, 12, 90], [40, 82, 90]]),
    );
    let answer = check(&desk, &song(1, ""));
    answer.assert_done();
    let told = "the kit has no piece for keys 12, 49 (crash) of take.mid: 3 notes left out";
    assert_eq!(answer.err.matches(told).count(), 1, "{}", answer.err);
    assert_eq!(answer.err.matches("left out").count(), 1, "{}", answer.err);
    // 82 is the shaker of General MIDI Level 2, which the kit has.
    assert_eq!(frames(&desk, &song(1, ""), &[]).len(), 2);
    let none = check(&desk, &song(1, "piece = \"harbour-bell\""));
    assert!(none.err.contains("no notes for `harbour-bell`"), "{}", none.err);
}

#[test]
fn what_is_wrong_points_at_the_word() {
    let desk = desk();
    desk.write("take.mid", take(&[[0, 36, 100]]));
    desk.write("text.mid", "not MIDI at all");
    let failing = |part: &str, told: &str, at: &str| {
        let answer = check(
            &desk,
            &format!("[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = \"kick\"\n{part}\n"),
        );
        assert_eq!(answer.code, Some(1), "{part}");
        assert!(
            answer.err.contains(told) && answer.err.contains(at),
            "{part}: {}",
            answer.err
        );
    };
    failing("midi = \"lost.mid\"", "there is no file `lost.mid`", "loop.toml:6:9");
    failing(
        "midi = \"text.mid\"",
        "text.mid: this is not a Standard MIDI File",
        "loop.toml:6:9",
    );
    failing("midi = \".\"", "a folder", "loop.toml:6:9");
    failing(
        "midi = \"take.mid\"\nhits = \"x\"",
        "hits and a performance besides",
        "loop.toml:6:1",
    );
    failing("hits = \"x\"\ntighten = 50", "`tighten` is of no use", "loop.toml:7:1");
    failing(
        "midi = \"take.mid\"\nkeys = { C1 = \"kick\" }",
        "no MIDI key",
        "loop.toml:7:10",
    );
    failing(
        "midi = \"take.mid\"\nkeys = { 36 = 7 }",
        "named in quotes",
        "loop.toml:7:15",
    );
}

#[test]
fn paths_are_relative_to_the_loop_file() {
    let desk = desk();
    desk.write("takes/one.mid", take(&[[0, 36, 100]]));
    desk.write(
        "loops/loop.toml",
        "[loop]\nkit = \"..\"\ntempo = 120\nbars = 1\n[[part]]\nname = \"d\"\nmidi = \"../takes/one.mid\"\n",
    );
    let (_, told) = desk.render_file("loops/loop.toml", &[]);
    assert_eq!(told["hits"], 1);
}

#[test]
fn out_and_in_again_is_the_same_to_a_tick() {
    let desk = desk();
    let lines = "kick X--- --x- -3x- x--x\nsnare ---- X--g -g-{xx} X---\nhat-closed x-xo x-xo {xxx} xxxo\nharbour-bell x--- ---- --x- ----";
    let feel = "[feel]\nswing = 57.3\n[[part]]\nname = \"snare\"\nbehind = 8\nvelocity = \"80-110\"\n";
    let text = format!(
        "[loop]\ntempo = 97.3\nbars = 3\nmetre = \"4/4\"\n{feel}[tab]\n\"all\" = \"\"\"\n{lines}\n\"\"\"\n[master]\nceiling = \"off\"\n"
    );
    let written = frames(&desk, &text, &["--midi"]);
    std::fs::copy(desk.path("out.mid"), desk.path("take.mid")).unwrap();
    let keys = "keys = { 27 = \"harbour-bell\" }";
    // Its swing is in what was played: the loop's own leaves it alone.
    let text = song(3, keys) + "[feel]\nswing = 57.3\n";
    let read = frames(&desk, &text, &["--set", "loop.tempo=97.3", "--midi"]);
    let tick = 60.0 / 97.3 / 960.0 * 48000.0;
    assert_eq!(read.len(), written.len());
    for (read, written) in read.iter().zip(&written) {
        assert!((*read as f64 - *written as f64).abs() <= tick, "{read} {written}");
    }
    let notes = |name: &str| {
        let performance = midi::read(desk.path(name)).unwrap();
        let mut notes: Vec<_> = performance
            .notes()
            .map(|(_, note)| (note.start, note.key, note.velocity))
            .collect();
        notes.sort();
        notes
    };
    assert_eq!(notes("out.mid"), notes("take.mid"));
}

#[test]
fn a_performance_written_as_hits_plays_the_same() {
    let desk = desk();
    let ticks = [0, 13, 480, 640, 800, 1337, 1915, 1920, 2400, 2412, 3000, 3830];
    let notes: Vec<[u64; 3]> = ticks
        .iter()
        .enumerate()
        .map(|(n, at)| [*at, [36, 38, 42][n % 3], 96])
        .collect();
    desk.write("take.mid", take(&notes));
    desk.write("loop.toml", song(2, "") + "[feel]\nswing = 60\nloose = { ms = 9 }\n");
    let first = frames(&desk, &std::fs::read_to_string(desk.path("loop.toml")).unwrap(), &[]);
    let answer = desk.run(&["chart", "loop.toml", "--write"]);
    answer.assert_done();
    let hits = std::fs::read_to_string(desk.path("loop-hits.toml")).unwrap();
    let text = format!(
        "[loop]\ntempo = 120\nbars = 2\n[master]\nceiling = \"off\"\n[feel]\nswing = 60\nloose = {{ ms = 9 }}\n{hits}"
    );
    let again = frames(&desk, &text, &[]);
    assert_eq!(first.len(), again.len(), "{hits}");
    for (first, again) in first.iter().zip(&again) {
        // Shifts are told to a tenth of a ms, 4.8 frames.
        assert!(first.abs_diff(*again) <= 4, "{first} {again}\n{hits}");
    }
    assert_eq!(
        desk.run(&["chart", "loop.toml", "--write"]).code,
        Some(1),
        "nothing is written over"
    );
    // The chart itself shows each hit on its nearest step, early ones too, a row a piece.
    let page = desk.run(&["chart", "loop.toml"]).out;
    let row = |name: &str| page.lines().any(|line| line.starts_with(&format!("{name} ")));
    assert!(
        row("kick") && row("snare") && row("hat-closed") && !row("drums"),
        "{page}"
    );
    desk.run(&["chart", "loop.toml", "--feel"]).assert_done();
}

#[test]
fn a_performance_is_never_written_over() {
    let desk = desk();
    let bytes = take(&[[0, 36, 100]]);
    desk.write("take.mid", &bytes);
    desk.write("loop.toml", song(1, ""));
    for out in [["-o", "take.wav"], ["-o", "take.mid"]] {
        let answer = desk.run(&[&["render", "loop.toml", "--midi"], out.as_slice()].concat());
        assert_eq!(answer.code, Some(1), "{}", answer.err);
        assert!(std::fs::read(desk.path("take.mid")).unwrap() == bytes);
        assert!(!desk.path("take.wav").exists());
    }
}

#[test]
fn hostile_files_end_in_one_sentence() {
    let desk = desk();
    desk.write("loop.toml", song(1, ""));
    let many = |count: u64| {
        let notes = (0..count)
            .map(|n| MidiNote {
                start: n,
                length: 1,
                key: 36,
                velocity: 90,
            })
            .collect();
        let part = MidiPart {
            name: "flood".into(),
            percussion: true,
            notes,
            ..MidiPart::default()
        };
        let mut bytes = Vec::new();
        midi::write(
            &MidiSong {
                parts: vec![part],
                ..MidiSong::default()
            },
            &mut bytes,
        )
        .unwrap();
        // A quarter note of 32,767 ticks: all of them lie within the bar.
        bytes[12..14].copy_from_slice(&[0x7F, 0xFF]);
        bytes
    };
    let cases: [(&str, Vec<u8>); 6] = [
        ("no quarter", file(0, 0, &[&[0, 0x99, 36, 100]])),
        ("format 2", file(2, 96, &[&[0, 0x99, 36, 100]])),
        ("no tracks", chunk(b"MThd", &[0, 1, 0, 9, 0, 96])),
        ("data without a status", file(0, 96, &[&[0, 36, 100, 0, 36, 100]])),
        ("cut in the header", b"MThd\0\0\0\x06\0".to_vec()),
        ("all ones", vec![0xFF; 100_000]),
    ];
    for (name, bytes) in cases {
        desk.write("take.mid", bytes);
        let answer = desk.run(&["render", "loop.toml", "-o", "out.wav"]);
        assert_eq!(answer.code, Some(1), "{name}: {}", answer.err);
        assert_eq!(answer.err.matches("error").count(), 1, "{name}: {}", answer.err);
        assert!(answer.err.contains("take.mid"), "{name}: {}", answer.err);
        assert!(answer.took < Duration::from_secs(20), "{name}: {:?}", answer.took);
    }
    // 131,068 notes within a bar can be played; the same file for eight parts is too much.
    desk.write("take.mid", many(131_068));
    let parts: String = (0..7)
        .map(|n| format!("[[part]]\nname = \"p{n}\"\nmidi = \"take.mid\"\n"))
        .collect();
    desk.write("loop.toml", song(1, "") + &parts);
    let answer = desk.run(&["render", "loop.toml", "-o", "out.wav"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("1000000 are the most"), "{}", answer.err);
    assert!(answer.took < Duration::from_secs(20), "{:?}", answer.took);
}
