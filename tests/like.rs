//! `[feel] like`: a drummer's mean timing and touch of each sixteenth, laid on the loop.

use crate::support::{Desk, assert_near, click};
use pressroll::internals::midi::{self, Metre, MidiNote, MidiPart, MidiSong};

/// A bar in ticks, and a tick in seconds at 120.
const BAR: u64 = 3840;
const TICK: f64 = 0.5 / 960.0;

fn desk() -> Desk {
    let desk = Desk::new();
    for piece in ["kick", "snare", "hat-closed"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk
}

/// Writes drummer.mid of notes as [tick, key, velocity].
fn drummer(desk: &Desk, notes: &[(u64, u8, u8)]) {
    let note = |&(start, key, velocity): &(u64, u8, u8)| MidiNote {
        start,
        length: 60,
        key,
        velocity,
    };
    let song = MidiSong {
        metres: vec![Metre {
            at: 0,
            counts: 4,
            unit: 4,
        }],
        parts: vec![MidiPart {
            name: "drummer".into(),
            percussion: true,
            notes: notes.iter().map(note).collect(),
            ..MidiPart::default()
        }],
        ..MidiSong::default()
    };
    let mut bytes = Vec::new();
    midi::write(&song, &mut bytes).unwrap();
    desk.write("drummer.mid", bytes);
}

fn song(feel: &str, lines: &str) -> String {
    format!("[loop]\ntempo = 120\nbars = 1\n[feel]\n{feel}\n[tab]\n\"all\" = \"\"\"\n{lines}\n\"\"\"\n")
}

/// Ticks and velocities of a part as it is played, in a loop of one bar.
fn played(desk: &Desk, text: &str, part: &str) -> Vec<(f64, f64)> {
    let (_, told) = desk.render_with(text, &["--midi", "--set", "loop.ending=damp"]);
    assert!(told["hits"].as_u64() > Some(0));
    let performance = midi::read(desk.path("out.mid")).unwrap();
    let track = performance.tracks.iter().find(|track| track.name == part).unwrap();
    let notes = track.notes.iter();
    notes
        .map(|note| (note.start as f64, f64::from(note.velocity)))
        .collect()
}

#[track_caller]
fn assert_played(played: &[(f64, f64)], wanted: &[(f64, f64)]) {
    assert_eq!(played.len(), wanted.len(), "{played:?}");
    for (is, wanted) in played.iter().zip(wanted) {
        assert_near(is.0, wanted.0, 1.0, format!("tick, of {played:?}"));
        assert_near(is.1, wanted.1, 1.0, format!("velocity, of {played:?}"));
    }
}

#[test]
fn a_piece_goes_by_its_own_mean_where_it_has_four_hits() {
    let desk = desk();
    // Four bars: a hat late by 10, 20, 30, 40 ticks on the second sixteenth, mean 25; on the beat at 100, off it at 60.
    // A snare 50 late on the same sixteenth, but only twice.
    let mut notes = Vec::new();
    for bar in 0..4 {
        notes.push((BAR * bar, 42, 100));
        notes.push((BAR * bar + 240 + 10 * (bar + 1), 42, 60));
    }
    notes.extend([(290, 38, 90), (BAR + 290, 38, 90)]);
    drummer(&desk, &notes);
    let lines = "hat-closed xx-- ---- ---- ----\nsnare -x-- ---- ---- ----\nkick -x-x ---- ---- ----";
    let text = song("like = \"drummer.mid\"", lines);
    assert_played(&played(&desk, &text, "hat-closed"), &[(0.0, 116.0), (265.0, 76.0)]);
    // Too few of its own, and none at all: as all percussion, (100 + 100) ticks over six hits, -80 velocities over six.
    let all = (240.0 + 200.0 / 6.0, 96.0 - 80.0 / 6.0);
    assert_played(&played(&desk, &text, "snare"), &[all]);
    // A sixteenth that nobody plays stays where it is.
    assert_played(&played(&desk, &text, "kick"), &[all, (720.0, 96.0)]);
}

#[test]
fn amount_is_a_share_of_the_way() {
    let desk = desk();
    drummer(&desk, &[(20, 36, 100), (BAR + 40, 36, 110), (960, 36, 60)]);
    let lines = "kick x--- x---";
    // Mean 30 ticks late; the kick's mean velocity is 90, its one 105 and its two 60.
    for (amount, share) in [
        ("", 1.0),
        ("amount = 50", 0.5),
        ("amount = 150", 1.5),
        ("amount = \"off\"", 0.0),
    ] {
        let text = song(&format!("like = \"drummer.mid\"\n{amount}"), lines);
        let two = 2.0 * 960.0;
        let wanted = [(30.0 * share, 96.0 + 15.0 * share), (two, 96.0)];
        assert_played(&played(&desk, &text, "kick"), &wanted);
    }
    let alone = desk.run(&["check", "loop.toml", "--set", "feel.like=off"]);
    assert_eq!(alone.code, Some(0), "{}", alone.err);
}

#[test]
fn early_hits_belong_to_the_barline_behind_them() {
    let desk = desk();
    // Ten ticks before the second, third and fourth barline.
    drummer(
        &desk,
        &[(BAR - 10, 36, 90), (2 * BAR - 10, 36, 90), (3 * BAR - 10, 36, 90)],
    );
    let text = song("like = \"drummer.mid\"", "kick x--- ---- ---- ----").replace("bars = 1", "bars = 2");
    let (_, told) = desk.render_with(&text, &["--midi"]);
    assert_eq!(told["hits"], 2);
    let performance = midi::read(desk.path("out.mid")).unwrap();
    let starts: Vec<u64> = performance.notes().map(|(_, note)| note.start).collect();
    assert_eq!(starts, [BAR - 10, 2 * BAR - 10]);
}

#[test]
fn the_drummers_timing_is_in_place_of_swing_and_behind_comes_on_top() {
    let desk = desk();
    // A drummer who swings at 60 %: the second sixteenth of a pair of 480 lies at 288.
    drummer(&desk, &[(0, 42, 90), (288, 42, 90), (480, 42, 90)]);
    let lines = "hat-closed xxxx ---- ---- ----";
    for swing in ["", "swing = 56\n", "swing = 66\n"] {
        let text = song(&format!("{swing}like = \"drummer.mid\""), lines);
        let hits = played(&desk, &text, "hat-closed");
        assert_played(&hits[..3], &[(0.0, 96.0), (288.0, 96.0), (480.0, 96.0)]);
    }
    // The fourth sixteenth, which the drummer leaves out, swings as the loop says.
    let text = song("swing = 66\nlike = \"drummer.mid\"", lines);
    assert_played(
        &played(&desk, &text, "hat-closed")[3..],
        &[(480.0 + 0.66 * 480.0, 96.0)],
    );
    let text = text + "[[part]]\nname = \"hat-closed\"\nbehind = 10\n";
    let behind = 0.010 / TICK;
    assert_played(&played(&desk, &text, "hat-closed")[1..2], &[(288.0 + behind, 96.0)]);
}

#[test]
fn between_two_sixteenths_hits_go_as_their_neighbours_do() {
    let desk = desk();
    // The first sixteenth 0, the second 60, the third 20 ticks late; thirty-seconds lie half way between.
    drummer(&desk, &[(0, 42, 90), (300, 42, 90), (500, 42, 90)]);
    let text = song(
        "like = \"drummer.mid\"",
        "hat-closed xxxxx--- -------- -------- --------",
    );
    let ticks = [0.0, 120.0 + 30.0, 240.0 + 60.0, 360.0 + 40.0, 480.0 + 20.0];
    assert_played(&played(&desk, &text, "hat-closed"), &ticks.map(|tick| (tick, 96.0)));
}

#[test]
fn a_performance_stays_as_it_was_played() {
    let desk = desk();
    drummer(&desk, &[(40, 36, 90), (1000, 36, 90)]);
    std::fs::copy(desk.path("drummer.mid"), desk.path("take.mid")).unwrap();
    let text = "[loop]\ntempo = 120\nbars = 1\n[feel]\nlike = \"drummer.mid\"\nswing = 60\n[[part]]\nname = \"kick\"\nmidi = \"take.mid\"\n";
    assert_played(&played(&desk, text, "kick"), &[(40.0, 90.0), (1000.0, 90.0)]);
}

#[test]
fn what_is_wrong_points_at_the_word() {
    let desk = desk();
    drummer(&desk, &[]);
    let check = |feel: &str| {
        desk.write("loop.toml", song(feel, "kick x---"));
        desk.run(&["check", "loop.toml"])
    };
    for (feel, told) in [
        ("like = \"lost.mid\"", "there is no file `lost.mid`"),
        ("like = \"drummer.mid\"", "no notes to be like"),
        ("like = \"kick.wav\"", "not a Standard MIDI File"),
        ("amount = 50", "there is no `like`"),
    ] {
        let answer = check(feel);
        assert_eq!(answer.code, Some(1), "{feel}");
        assert!(
            answer.err.contains(told) && answer.err.contains("loop.toml:5:"),
            "{feel}: {}",
            answer.err
        );
    }
    drummer(&desk, &[(0, 36, 90)]);
    desk.write(
        "loop.toml",
        song("like = \"drummer.mid\"", "kick x---").replace("bars = 1", "bars = 1\nmetre = \"3/4\""),
    );
    let answer = desk.run(&["check", "loop.toml"]);
    assert_eq!(answer.code, Some(0), "{}", answer.err);
    assert!(
        answer.err.contains("drummer.mid is in 4/4, the loop in 3/4"),
        "{}",
        answer.err
    );
}
