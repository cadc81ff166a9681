use std::sync::Arc;

use super::*;
use crate::loopfile::{Choke, Ending, Exact, SpaceKind};
use crate::schema;
use crate::schema::Table;
use crate::text::Source;

const FERRY: &str = r#"
[loop]
title = "Night ferry"
kit   = ".."
tempo = 120
bars  = 8
metre = "4/4"
key   = "G minor"
seed  = 11
ending = "let ring"

[feel]
swing = 56
swing_of = "1/16"

[tab]
"all" = """
hat-closed  x-x- X-x- x-x- X-xo
snare       ---- X--g -g-- X---
kick        X--- --x- --x- ----
"""
"8" = """
snare       ---- X--g {xxx} X---
"""

[[part]]
name  = "snare"
bus   = "drums"
gain  = -2
room  = -14
swing = "off"
velocity = "70-110"
vary = { tune = 0.2, gain = 1.5 }
sends = { hall = -20, slap = "off" }

[[part]]
name  = "shaker"
hits  = { "all" = "x-x-x-x-x-x-x-x-" }
behind = -8
mute = true

[[bus]]
name = "drums"
bus = "all-drums"
drive = 3
compress = { threshold = -16, ratio = 2.5, attack = 25, release = 140, blend = 60 }

[[bus]]
name = "all-drums"
eq = [{ at = 350, gain = -3 }]
duck = { by = "kick" }

[rooms.hall]
decay = 2.5

[delays.slap]
time = "180 ms"

[delay]
time = "1/8 dotted"
feedback = 35

[master]
loudness = -16
"#;

#[test]
fn a_whole_loop_is_resolved() {
    let night = resolved(FERRY);
    assert_eq!(
        (night.title.as_str(), night.bars, night.seed, night.ending),
        ("Night ferry", 8, 11, Ending::LetRing)
    );
    assert_eq!(night.key.as_deref(), Some("G minor"));
    let names: Vec<&str> = night.parts.iter().map(|part| part.name.as_str()).collect();
    assert_eq!(names, ["hat-closed", "snare", "kick", "shaker"]);
    let [hat, snare, kick, shaker] = night.parts.as_slice() else {
        panic!()
    };
    let pieces: Vec<&str> = hat.pieces.iter().map(|played| played.piece.as_str()).collect();
    assert_eq!(pieces, ["hat-closed", "hat-open"]);
    assert_eq!(kick.strokes.len(), 24);
    assert_eq!((snare.bus, kick.bus), (Some(0), None));
    assert_eq!(night.buses[0].bus, Some(1));
    assert_eq!(snare.strip.gain_db, -2.0);
    assert_eq!(snare.playing.swing.share, Exact::new(1, 2));
    assert_eq!(kick.playing.swing.share, Exact::new(56, 100));
    assert_eq!(snare.playing.velocity, Some((70.0, 110.0)));
    assert_eq!(snare.pieces[0].sound.vary_gain, 1.5);
    assert_eq!(snare.pieces[0].sound.choke, Choke::Kit);
    assert_eq!(shaker.playing.behind, -0.008);
    assert!(shaker.silenced && !snare.silenced);
    let drums = &night.buses[0].strip;
    assert_eq!(
        drums.drive.as_ref().map(|drive| (drive.amount_db, drive.blend)),
        Some((3.0, 1.0))
    );
    let compress = drums.compress.as_ref().expect("a compressor");
    assert_eq!(
        (compress.ratio, compress.attack, compress.knee_db, compress.blend),
        (2.5, 0.025, 6.0, 0.6)
    );
    let all = &night.buses[1].strip;
    assert_eq!(all.eq[0].width, 1.0);
    assert_eq!(
        all.duck.as_ref().map(|duck| (duck.by, duck.depth_db, duck.release)),
        Some((2, 6.0, 0.15))
    );
    assert_eq!((night.master.ceiling_db, night.loudness), (Some(-1.0), Some(-16.0)));
}

#[test]
fn sends_find_their_spaces_and_unused_ones_are_left_out() {
    let night = resolved(FERRY);
    let names: Vec<&str> = night.spaces.iter().map(|space| space.name.as_str()).collect();
    assert_eq!(names, ["room", "delay", "hall", "slap"]);
    let sends: Vec<(&str, f64)> = night.parts[1]
        .strip
        .sends
        .iter()
        .map(|send| (names[send.to], send.level_db))
        .collect();
    assert_eq!(sends, [("room", -14.0), ("hall", -20.0)]);
    // Lengths at 120 quarter notes a minute [practice]: a dotted eighth takes 375 ms.
    let SpaceKind::Delay(delay) = &night.spaces[1].kind else {
        panic!()
    };
    assert_eq!(
        (delay.time, delay.feedback, delay.high_cut),
        (0.375, 0.35, Some(6000.0))
    );
    let SpaceKind::Room(hall) = &night.spaces[2].kind else {
        panic!()
    };
    assert_eq!((hall.size, hall.decay, hall.low_cut), (8.0, 2.5, Some(150.0)));

    let bare = resolved(
        "[loop]\ntempo = 90\nbars = 1\n[delays.slap]\n[[part]]\nname = \"kick\"\nhits = \"x\"\nsends = { slap = -3 }\n",
    );
    assert_eq!(bare.spaces.len(), 1);
    assert_eq!(bare.parts[0].strip.sends[0].to, 0);
}

#[test]
fn standards_are_those_of_the_book_of_keys() {
    let night = resolved("[loop]\ntempo = 90\nbars = 2\n[tab]\nall = 'kick x---'\n");
    assert_eq!(
        (night.title.as_str(), night.seed, night.ending),
        ("night", 1, Ending::Repeat)
    );
    assert_eq!(
        (night.time.counts, night.time.unit, night.time.beat),
        (4, 4, Exact::new(1, 4))
    );
    assert_eq!(night.master.ceiling_db, Some(-1.0));
    let kick = &night.parts[0];
    let sound = &kick.pieces[0].sound;
    assert_eq!(
        (sound.touch, sound.dark, sound.release, sound.reverse),
        (1.0, 0.0, 0.08, false)
    );
    assert_eq!((kick.strip.gain_db, kick.strip.width, kick.strip.pan), (0.0, 1.0, 0.0));
    assert!(kick.strip.compress.is_none() && kick.strip.ceiling_db.is_none() && kick.strip.sends.is_empty());
    assert_eq!(kick.playing.swing.share, Exact::new(1, 2));
}

#[test]
fn off_switches_an_effect_off_and_never_brings_its_standard_back() {
    let night = resolved(
        "[loop]\ntempo = 90\nbars = 1\n[feel]\nswing = 'off'\n[room]\nlow_cut = 'off'\ndamping = 'off'\n[master]\nceiling = 'off'\n\
         [[part]]\nname = 'kick'\nhits = 'x'\ngain = 'off'\ntouch = 'off'\ndrive = 0\ncompress = 'off'\nchoke = 'off'\nwidth = 'off'\n",
    );
    let SpaceKind::Room(room) = &night.spaces[0].kind else {
        panic!()
    };
    assert_eq!((room.low_cut, room.damping), (None, 0.0));
    assert_eq!(night.master.ceiling_db, None);
    let kick = &night.parts[0];
    assert_eq!((kick.strip.gain_db, kick.strip.width), (f64::NEG_INFINITY, 1.0));
    assert!(kick.strip.drive.is_none() && kick.strip.compress.is_none());
    assert_eq!(
        (kick.pieces[0].sound.touch, &kick.pieces[0].sound.choke),
        (0.0, &Choke::Off)
    );
}

/// The sound of a piece as a `kit.toml` tells it.
fn piece(text: &str) -> schema::Settings {
    let source: Arc<Source> = Source::new("kit.toml", text);
    let mut problems = Vec::new();
    let entries = schema::parse(&source, &mut problems);
    let place = crate::text::Place { source, span: 0..0 };
    let settings = schema::read_table(Table::Piece, &place, &entries, &mut problems);
    assert!(problems.is_empty(), "{problems:?}");
    settings
}

#[test]
fn a_parts_own_word_goes_over_its_kits_piece_by_piece() {
    let text = "[loop]\ntempo = 90\nbars = 1\n[[part]]\nname = 'hat'\npiece = 'hat-closed'\nmarks = { q = 'hat-open' }\nhits = 'xq'\n\
                tune = 2\ncompress = { ratio = 5 }\n";
    let mut kit = KitDefaults::new();
    kit.insert(
        "hat-closed".into(),
        piece(
            "name = 'hat-closed'\ntune = -1\ndark = 30\ncompress = { ratio = 3, threshold = -30 }\nroom-x = 1\n"
                .replace("room-x = 1\n", "")
                .as_str(),
        ),
    );
    kit.insert(
        "hat-open".into(),
        piece("name = 'hat-open'\nchoke = 'metal'\nenvelope = { decay = 900 }\nfiles = 'a.wav'\n"),
    );
    let night = draft(text, &Changes::default())
        .map(|draft| draft.resolve(&kit))
        .expect("a loop");
    let [closed, open] = night.parts[0].pieces.as_slice() else {
        panic!()
    };
    assert_eq!(
        (closed.sound.tune, closed.sound.dark, &closed.sound.choke),
        (2.0, 0.3, &Choke::Kit)
    );
    assert_eq!(
        (open.sound.tune, open.sound.dark, &open.sound.choke),
        (2.0, 0.0, &Choke::Group("metal".into()))
    );
    assert_eq!(
        open.sound
            .envelope
            .as_ref()
            .map(|envelope| (envelope.attack, envelope.decay)),
        Some((0.0, Some(0.9)))
    );
    let compress = night.parts[0].strip.compress.as_ref().expect("a compressor");
    assert_eq!((compress.ratio, compress.threshold_db), (5.0, -30.0));
}

#[test]
fn paths_are_relative_to_the_file_and_an_impulse_has_no_standards() {
    let files = Files::new(&[(
        "night.toml",
        "[loop]\ntempo = 90\nbars = 1\nkit = ['own', '..']\n[room]\nimpulse = 'stairs.wav'\n",
    )]);
    let Ok(Draft::Loop(draft)) = read(&files.path("night.toml"), &Changes::default()) else {
        panic!()
    };
    assert_eq!(draft.kits(), [files.path("own"), files.path("..")]);
    let night = draft.resolve(&KitDefaults::new());
    let SpaceKind::Impulse(stairs) = &night.spaces[0].kind else {
        panic!()
    };
    assert_eq!(
        (stairs.file.clone(), stairs.predelay, stairs.low_cut),
        (files.path("stairs.wav"), 0.0, None)
    );
}
