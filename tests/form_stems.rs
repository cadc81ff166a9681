//! A form's stems sum to its mix before the master: through changes of tempo, pickups, endings and fades.

use crate::support::wav::Wav;
use crate::support::{Desk, meter, pluck};

/// Two bars with a bus, its compressor, a duck, a room and a delay.
const VERSE: &str = r#"
[loop]
tempo = 118
bars = 2
[tab]
"all" = """
kick   X--- X--- X--- X---
snare  ---- X--g ---- X-gg
"""
"2" = "bell  X--- ---- --x- ----"
[[part]]
name = "kick"
bus = "drums"
[[part]]
name = "snare"
bus = "drums"
room = -12
behind = -15
[[part]]
name = "bell"
delay = -9
duck = { by = "kick", depth = 8 }
[[bus]]
name = "drums"
room = -20
compress = { threshold = -24, ratio = 4, attack = 5, makeup = 3, blend = 70 }
[[mix]]
name = "dry bell"
set = { "bell.delay" = "off" }
"#;

/// A bar of 3/4 at another tempo: the kick again, on no bus, and a hat.
const CHORUS: &str = r#"
[loop]
tempo = 91
metre = "3/4"
bars = 1
[tab]
"all" = """
kick   X-- --x
hat    x-x x-x
"""
[[part]]
name = "hat"
bus = "tops"
pan = 40
spread = 7
drive = 4
[[part]]
name = "kick"
room = -14
[[bus]]
name = "tops"
ceiling = -20
[room]
decay = 1.4
"#;

const SECTIONS: &str = r#"
[[section]]
name = "in"
loop = "verse.toml"
bars = "2"
only = ["kick", "bell"]
[[section]]
name = "verse"
loop = "verse.toml"
times = 2
set = { "snare.room" = -6 }
[[section]]
name = "chorus"
loop = "chorus.toml"
[[section]]
name = "verse again"
loop = "verse.toml"
mute = ["bell"]
[master]
ceiling = "off"
"#;

fn desk(keys: &str) -> Desk {
    let desk = Desk::new();
    for (name, hz) in [("kick", 60.0), ("snare", 310.0), ("hat", 6100.0), ("bell", 880.0)] {
        desk.one_shot(&format!("{name}.wav"), &[pluck(hz, 0.4, 0.5)]);
    }
    desk.write("verse.toml", VERSE);
    desk.write("chorus.toml", CHORUS);
    desk.write("form.toml", format!("[form]\n{keys}\n{SECTIONS}"));
    desk
}

/// How far the mix of a form is from the sum of its stems at the most, in dB, and the stems' names.
fn null_db(keys: &str, options: &[&str]) -> (f64, Vec<String>) {
    let desk = desk(keys);
    let (mix, _) = desk.render_file("form.toml", options);
    assert!(meter::peak(mix.left()) > 0.1, "there is something to null");
    let names = desk.names("out-stems");
    let stems: Vec<Wav> = names
        .iter()
        .map(|name| desk.read(&format!("out-stems/{name}")))
        .collect();
    let mut most = 0.0_f64;
    for (number, side) in mix.channels.iter().enumerate() {
        for (stem, name) in stems.iter().zip(&names) {
            assert_eq!(stem.channels[number].len(), side.len(), "{name} is as long as the mix");
        }
        for (frame, sample) in side.iter().enumerate() {
            let sum: f64 = stems.iter().map(|stem| f64::from(stem.channels[number][frame])).sum();
            most = most.max((f64::from(*sample) - sum).abs());
        }
    }
    (meter::db(most), names)
}

#[test]
fn the_stems_of_parts_sum_to_the_mix() {
    for keys in [
        "",
        "ending = 'damp'",
        "ending = 'repeat'",
        "pickup = '1/4'\nend = 'hit'",
        "fade = { in = 1, out = 2 }",
    ] {
        let (null, names) = null_db(keys, &["--stems"]);
        println!("{keys}: {null:.1} dB");
        // A part of one name is one stem, in whichever sections it stands.
        assert_eq!(names, ["bell.wav", "hat.wav", "kick.wav", "snare.wav"]);
        assert!(null < -120.0, "{keys}: {null} dB");
    }
}

#[test]
fn the_stems_of_buses_sum_to_the_mix() {
    for keys in ["pickup = '1/8'\nend = 'hit'", "ending = 'repeat'"] {
        let (null, names) = null_db(keys, &["--stems", "buses", "--repeat", "2"]);
        println!("{keys}: {null:.1} dB");
        // The kick goes through the drums in the verse and by itself in the chorus.
        assert_eq!(names, ["bell.wav", "drums.wav", "kick.wav", "tops.wav"]);
        assert!(null < -120.0, "{keys}: {null} dB");
    }
}

#[test]
fn options_and_cuts_reach_the_stems() {
    let stems_with = |options: &[&str]| {
        let (null, names) = null_db("ending = 'damp'", &[&["--stems"], options].concat());
        println!("{options:?}: {null:.1} dB");
        assert!(null < -120.0, "{options:?}: {null} dB");
        names
    };
    // Bars 6 and 7: the chorus and the first of the verse again, in which the bell is mute.
    assert_eq!(stems_with(&["--bars", "6-7"]), ["hat.wav", "kick.wav", "snare.wav"]);
    assert_eq!(stems_with(&["--only", "kick,tops"]), ["hat.wav", "kick.wav"]);
    assert_eq!(stems_with(&["--without", "snare", "--mix", "dry bell"]).len(), 3);
    assert_eq!(
        stems_with(&["--set", "drums.compress.ratio=8", "--rate", "44100"]).len(),
        4
    );
}

#[test]
fn a_stem_is_silent_where_its_section_does_not_play() {
    let desk = desk("ending = 'damp'");
    desk.render_file("form.toml", &["--stems", "dry"]);
    let hat = desk.read("out-stems/hat.wav");
    let seconds = |bars: f64| bars * 240.0 / 118.0;
    // One bar of the first section, four of the verse; the dry hat plays in the chorus alone, which is 3 beats long.
    let (begins, ends) = (seconds(5.0), seconds(5.0) + 180.0 / 91.0);
    let peak = |from: f64, to: f64| {
        let frame = |seconds: f64| (seconds * 48_000.0) as usize;
        meter::db(meter::peak(&hat.left()[frame(from)..frame(to)]))
    };
    assert!(peak(0.0, begins - 0.001) < -200.0);
    assert!(peak(begins, ends) > -30.0);
    assert!(peak(ends + 0.5, ends + 2.0) < -200.0);
}

#[test]
fn stems_that_can_not_sum_and_stems_that_clip_are_named_once() {
    let desk = desk("");
    desk.write("verse.toml", VERSE.replace("room = -20", "room = -20\ndrive = 6"));
    let answer = desk.run(&[
        "render",
        "form.toml",
        "-o",
        "out.wav",
        "--stems",
        "--set",
        "snare.gain=30",
        "--depth",
        "16",
    ]);
    answer.assert_done();
    assert_eq!(answer.err.matches("`drums` is driven").count(), 1, "{}", answer.err);
    assert_eq!(
        answer.err.matches("the stem `snare` is clipped").count(),
        1,
        "{}",
        answer.err
    );
    assert!(!answer.err.contains("`bell` is clipped"), "{}", answer.err);
}
