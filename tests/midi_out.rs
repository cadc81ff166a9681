//! `render --midi`: one track a part, at the times and velocities at which it is played.

use crate::support::{Desk, click};
use num_rational::Ratio;
use pressroll::internals::midi::{self, Performance};

const LINES: &str = "kick X--- --x- --x- ----\nsnare ---- X--- g--- X---\nhat-closed x-x- x-x- x-x- x-xo\nfoghorn x---";

/// A desk with the pieces of `LINES`.
fn desk() -> Desk {
    let desk = Desk::new();
    for piece in ["kick", "snare", "hat-closed", "hat-open", "foghorn"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk
}

fn song(head: &str, lines: &str, rest: &str) -> String {
    format!("[loop]\ntitle = \"Night ferry\"\n{head}\n[tab]\n\"all\" = \"\"\"\n{lines}\n\"\"\"\n{rest}")
}

fn render(desk: &Desk, text: &str, options: &[&str]) -> Performance {
    desk.render_with(text, &[&["--midi"], options].concat());
    midi::read(desk.path("out.mid")).expect("a Standard MIDI File")
}

fn names(performance: &Performance) -> Vec<&str> {
    performance.tracks.iter().map(|track| track.name.as_str()).collect()
}

/// Starts, keys and velocities of a track.
fn notes(performance: &Performance, name: &str) -> Vec<(u64, u8, u8)> {
    let track = performance.tracks.iter().find(|track| track.name == name);
    let notes = &track.unwrap_or_else(|| panic!("no track {name}")).notes;
    notes.iter().map(|note| (note.start, note.key, note.velocity)).collect()
}

#[test]
fn a_track_a_part_with_names_tempo_metre_and_keys() {
    let desk = desk();
    let performance = render(&desk, &song("tempo = 120\nbars = 2", LINES, ""), &[]);
    assert_eq!(
        names(&performance),
        ["Night ferry", "kick", "snare", "hat-closed", "foghorn"]
    );
    let bytes = std::fs::read(desk.path("out.mid")).unwrap();
    // Standard MIDI Files 1.0 [memory]: format 1, 960 ticks a quarter; 120 is FF 51 03 07 A1 20; 4/4 is FF 58 04 04 02 18 08.
    assert_eq!(bytes[..14], *b"MThd\0\0\0\x06\0\x01\0\x05\x03\xC0");
    let holds = |wanted: &[u8]| bytes.windows(wanted.len()).any(|window| window == wanted);
    assert!(holds(&[0xFF, 0x51, 3, 0x07, 0xA1, 0x20]) && holds(&[0xFF, 0x58, 4, 4, 2, 0x18, 8]));
    assert!(
        performance
            .notes()
            .all(|(_, note)| note.channel == midi::PERCUSSION_CHANNEL)
    );
    assert_eq!(
        notes(&performance, "kick"),
        [0u64, 1440, 2400, 3840, 5280, 6240].map(|at| (at, 36, if at % 3840 == 0 { 118 } else { 96 }))
    );
    let open = notes(&performance, "hat-closed");
    assert_eq!(open[9], (3840, 42, 96));
    assert!(
        open.contains(&(3600, 46, 96)) && open.contains(&(7440, 46, 96)),
        "{open:?}"
    );
    assert_eq!(performance.end(), 2 * 3840);
}

#[test]
fn a_compound_metre_and_a_dotted_beat() {
    let head = "tempo = 60\nbars = 1\nmetre = \"6/8\"\nbeat = \"1/4 dotted\"";
    let performance = render(&desk(), &song(head, "kick x-----", ""), &[]);
    // 60 dotted quarters are 90 quarters a minute.
    assert_eq!(performance.tempos[0].micros, 666_667);
    assert_eq!((performance.metres[0].counts, performance.metres[0].unit), (6, 8));
    assert_eq!(performance.end(), 6 * 480);
}

#[test]
fn times_are_those_of_the_audio() {
    // Swing, a part behind the beat and counted shifts: a click's place in the audio and its tick are one time.
    let desk = desk();
    let rest = "[feel]\nswing = 58.3\n[[part]]\nname = \"kick\"\nbehind = 9\n\
                [[part]]\nname = \"snare\"\nhits = [\"1e x\", \"2& X +13.7ms\", \"4a g -8.1ms\"]\n";
    let text = song("tempo = 97.3\nbars = 1", "kick x-xx x-x- -xx- xxxx", rest);
    for part in ["kick", "snare"] {
        let (audio, _) = desk.render_with(&text, &["--midi", "--only", part, "--set", "master.ceiling=off"]);
        let sounds = audio
            .left()
            .iter()
            .enumerate()
            .filter(|(_, sample)| sample.abs() > 1e-4);
        let heard: Vec<f64> = sounds.map(|(frame, _)| frame as f64 / 48000.0).collect();
        let performance = midi::read(desk.path("out.mid")).unwrap();
        assert_eq!(
            names(&performance),
            ["Night ferry", part],
            "silenced parts are left out"
        );
        let second = 960.0 * 97.3 / 60.0;
        let written = notes(&performance, part);
        assert_eq!(written.len(), heard.len());
        for ((at, ..), heard) in written.iter().zip(heard) {
            let ticks = heard * second;
            assert!((*at as f64 - ticks).abs() <= 1.0, "{part}: tick {at}, heard at {ticks}");
        }
    }
}

#[test]
fn velocities_are_as_played() {
    let rest = "[[part]]\nname = \"hat-closed\"\nvelocity = \"70-110\"\n";
    let text = song("tempo = 100\nbars = 8", "hat-closed xxxx xxxx xxxx xxxx", rest);
    let performance = render(&desk(), &text, &[]);
    let played: Vec<u8> = notes(&performance, "hat-closed").iter().map(|note| note.2).collect();
    assert!(played.iter().all(|velocity| (70..=110).contains(velocity)));
    assert!(
        played.iter().min() < Some(&78) && played.iter().max() > Some(&102),
        "{played:?}"
    );
}

#[test]
fn pitched_parts_are_written_at_their_pitch_beside_percussion() {
    let desk = desk();
    let rest = "[[part]]\nname = \"bass\"\npiece = \"stand-in\"\nnotes = \"G1 = - Bb1\"\n";
    let performance = render(&desk, &song("tempo = 120\nbars = 1", "kick x---", rest), &[]);
    let bass = performance.tracks.iter().find(|track| track.name == "bass").unwrap();
    // C4 is 60, so G1 is 31 and Bb1 34; a held step is two quarters long.
    let written: Vec<_> = bass
        .notes
        .iter()
        .map(|note| (note.channel, note.start, note.length, note.key))
        .collect();
    assert_eq!(written, [(0, 0, 1920, 31), (0, 2880, 960, 34)]);
    assert_eq!(notes(&performance, "kick"), [(0, 36, 96)]);
    let answer = desk.run(&["render", "loop.toml", "--midi"]);
    assert!(!answer.out.contains("is on key"), "{}", answer.out);
}

#[test]
fn rounds_bars_and_what_lies_outside() {
    let desk = desk();
    let rest = "[[part]]\nname = \"kick\"\nbehind = -10\n";
    let text = song("tempo = 120\nbars = 2", "kick x--- ---- ---- ----", rest);
    // 10 ms are 19.2 ticks at 120. On a circle the first hit comes before the last barline, on a line it can't.
    let round = render(&desk, &text, &["--repeat", "2"]);
    let starts = |performance: &Performance| notes(performance, "kick").iter().map(|note| note.0).collect::<Vec<_>>();
    assert_eq!(starts(&round), [3821, 7661, 11501, 15341]);
    let line = render(&desk, &text, &["--ending", "damp"]);
    assert_eq!(starts(&line), [0, 3821]);
    // Grace notes before the beginning are left out, as in the audio.
    let flams = text.replace("kick x---", "kick f---");
    assert_eq!(notes(&render(&desk, &flams, &["--ending", "damp"]), "kick").len(), 3);
    let one = render(&desk, &text, &["--bars", "2", "--ending", "damp"]);
    assert_eq!((starts(&one), one.end()), (vec![0], 3840));
}

#[test]
fn pieces_without_a_key_take_free_ones_and_are_named() {
    let desk = desk();
    desk.write("loop.toml", song("tempo = 120\nbars = 1", LINES, ""));
    let answer = desk.run(&["render", "loop.toml", "-o", "out.wav", "--midi"]);
    answer.assert_done();
    assert!(answer.out.contains("foghorn is on key 27"), "{}", answer.out);
    let told = desk
        .run(&["render", "loop.toml", "-o", "out.wav", "--midi", "--json"])
        .out;
    let told: serde_json::Value = serde_json::from_str(&told).unwrap();
    assert_eq!(
        told["midi"]["free_keys"],
        serde_json::json!([{ "piece": "foghorn", "key": 27 }])
    );
    let performance = midi::read(desk.path("out.mid")).unwrap();
    assert_eq!(notes(&performance, "foghorn"), [(0, 27, 96)]);
}

#[test]
fn a_form_has_all_its_sections_with_their_tempo_and_metre() {
    let desk = desk();
    desk.write("verse.toml", song("tempo = 120\nbars = 1", "kick x---", ""));
    let bridge = song("tempo = 60\nbars = 2\nmetre = \"3/4\"", "kick x--\nsnare -xx", "");
    desk.write("bridge.toml", bridge);
    desk.write(
        "form.toml",
        "[form]\ntitle = \"Crossing\"\n[[section]]\nloop = \"verse.toml\"\ntimes = 2\n[[section]]\nloop = \"bridge.toml\"\n",
    );
    desk.render_file("form.toml", &["--midi"]);
    let performance = midi::read(desk.path("out.mid")).unwrap();
    assert_eq!(names(&performance), ["Crossing", "kick", "snare"]);
    let (verse, bar) = (2 * 3840, 2880);
    let starts = |name| notes(&performance, name).iter().map(|note| note.0).collect::<Vec<_>>();
    assert_eq!(starts("kick"), [0, 3840, verse, verse + bar]);
    assert_eq!(starts("snare"), [960, 1920, 3840, 4800].map(|at| verse + at));
    let tempos: Vec<_> = performance
        .tempos
        .iter()
        .map(|tempo| (tempo.at, tempo.micros))
        .collect();
    assert_eq!(tempos, [(0, 500_000), (verse, 1_000_000)]);
    let metres: Vec<_> = performance.metres.iter().map(|m| (m.at, m.counts, m.unit)).collect();
    assert_eq!(metres, [(0, 4, 4), (verse, 3, 4)]);
    assert_eq!(performance.clock.time(performance.end()), Ratio::from_integer(8 + 6));
}

#[test]
fn a_pickup_is_a_short_bar_of_its_own() {
    let desk = desk();
    desk.write(
        "verse.toml",
        song("tempo = 120\nbars = 2", "kick x--- ---- ---- x-x-", ""),
    );
    desk.write(
        "form.toml",
        "[form]\npickup = \"1/4\"\n[[section]]\nloop = \"verse.toml\"\n",
    );
    desk.render_file("form.toml", &["--midi"]);
    let performance = midi::read(desk.path("out.mid")).unwrap();
    let metres: Vec<_> = performance.metres.iter().map(|m| (m.at, m.counts, m.unit)).collect();
    assert_eq!(metres, [(0, 1, 4), (960, 4, 4)]);
    let starts: Vec<_> = notes(&performance, "kick").iter().map(|note| note.0).collect();
    let bar = |at: u64| [0, 2880, 3360].map(|step| 960 + at + step);
    assert_eq!(starts, [[0, 480].as_slice(), &bar(0), &bar(3840)].concat());
}

#[test]
fn nothing_that_is_read_is_written_over() {
    let desk = desk();
    desk.write("loop.toml", song("tempo = 120\nbars = 1", "kick x---", ""));
    for out in ["loop.toml", "out.mid"] {
        let answer = desk.run(&["render", "loop.toml", "-o", out, "--midi"]);
        assert_eq!(answer.code, Some(1), "{}", answer.err);
    }
    assert_eq!(desk.names("").iter().filter(|name| name.ends_with(".mid")).count(), 0);
}

/// The marks of the first track: places in ticks and what stands there.
fn marks(desk: &Desk) -> Vec<(u32, String)> {
    use midly::{MetaMessage, TrackEventKind};
    let bytes = std::fs::read(desk.path("out.mid")).unwrap();
    let file = midly::Smf::parse(&bytes).unwrap();
    let (mut at, mut marks) = (0, Vec::new());
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    for event in &file.tracks[0] {
        at += event.delta.as_int();
        match event.kind {
            TrackEventKind::Meta(MetaMessage::Text(bytes)) => marks.push((at, format!("text {}", text(bytes)))),
            TrackEventKind::Meta(MetaMessage::Marker(bytes)) => marks.push((at, format!("marker {}", text(bytes)))),
            TrackEventKind::Meta(MetaMessage::KeySignature(sharps, minor)) => {
                marks.push((at, format!("key {sharps} {minor}")));
            }
            _ => {}
        }
    }
    marks
}

fn at(marks: &[(u32, String)], what: &str) -> Vec<u32> {
    marks
        .iter()
        .filter(|(_, mark)| mark == what)
        .map(|(at, _)| *at)
        .collect()
}

#[test]
fn keys_are_told_as_signatures() {
    // Key signatures and church modes as every primer has them [practice]; a mode has that of its own seven notes.
    for (key, sharps, minor) in [
        ("G minor", -2, true),
        ("Bb major", -2, false),
        ("F# minor", 3, true),
        ("D dorian", 0, true),
        ("E phrygian", 0, true),
        ("F lydian", 0, false),
        ("G mixolydian", 0, false),
        ("B locrian", 0, true),
        ("C harmonic minor", -3, true),
        ("C# major", 7, false),
        ("G# major", -4, false),
        ("Fb major", 4, false),
    ] {
        let desk = desk();
        render(
            &desk,
            &song(&format!("tempo = 120\nbars = 1\nkey = \"{key}\""), "kick x---", ""),
            &[],
        );
        assert_eq!(at(&marks(&desk), &format!("key {sharps} {minor}")), [0], "{key}");
        // Standard MIDI Files 1.0: FF 59 02 sf mi, sf from -7 to 7, mi 1 for minor.
        let bytes = std::fs::read(desk.path("out.mid")).unwrap();
        let wanted = [0xFF, 0x59, 2, sharps as u8, minor.into()];
        assert!(bytes.windows(5).any(|window| window == wanted), "{key}");
    }
    let desk = desk();
    render(&desk, &song("tempo = 120\nbars = 1", "kick x---", ""), &[]);
    assert!(marks(&desk).iter().all(|(_, mark)| !mark.starts_with("key")));
}

#[test]
fn chords_stand_where_they_change_and_sections_where_they_begin() {
    let desk = desk();
    let chords = "chords = \"Gm9 / C7 / | F13#11/A | F13#11/A / N.C. /\"\n";
    let verse = chords.to_string() + &song("tempo = 120\nbars = 3\nkey = \"G minor\"", "kick x---", "");
    render(&desk, &verse, &["--repeat", "2"]);
    let whole = marks(&desk);
    let bar = 3840;
    assert_eq!(at(&whole, "text Gm9"), [0, 3 * bar]);
    assert_eq!(at(&whole, "text C7"), [1920, 3 * bar + 1920]);
    assert_eq!(at(&whole, "text F13#11/A"), [bar, 4 * bar]);
    assert_eq!(at(&whole, "text N.C."), [2 * bar + 1920, 5 * bar + 1920]);
    render(&desk, &verse, &["--bars", "2-3"]);
    let cut = marks(&desk);
    assert_eq!(
        (at(&cut, "text F13#11/A"), at(&cut, "text N.C.")),
        (vec![0], vec![bar + 1920])
    );
    desk.write("verse.toml", verse);
    desk.write(
        "form.toml",
        "[form]\npickup = \"1/4\"\n[[section]]\nname = \"Überfahrt\"\nloop = \"verse.toml\"\n[[section]]\nname = \"home\"\nloop = \"verse.toml\"\n\
         bars = \"2-3\"\nset = { \"loop.key\" = \"A minor\" }\n",
    );
    desk.render_file("form.toml", &["--midi"]);
    let form = marks(&desk);
    assert_eq!(at(&form, "marker Überfahrt"), [960]);
    assert_eq!(at(&form, "marker home"), [960 + 3 * bar]);
    assert_eq!(
        (at(&form, "key -2 true"), at(&form, "key 0 true")),
        (vec![0], vec![960 + 3 * bar])
    );
    assert_eq!(at(&form, "text Gm9"), [960]);
    assert_eq!(at(&form, "text F13#11/A"), [960 + bar, 960 + 3 * bar]);
}

#[test]
fn parts_ask_for_the_sounds_of_general_midi() {
    use midly::{MidiMessage, TrackEventKind};
    let desk = desk();
    let rest = "[[part]]\nname = \"bass\"\npiece = \"stand-in\"\nnotes = \"G1 Bb1:vibrato - -\"\n\
                [[part]]\nname = \"organ\"\npiece = \"stand-in\"\nnotes = \"G3+D4 - - -\"\n\
                [[part]]\nname = \"Zwölf\"\npiece = \"stand-in\"\nnotes = \"- - C4 -\"\n";
    render(&desk, &song("tempo = 120\nbars = 1", "kick x---", rest), &[]);
    let bytes = std::fs::read(desk.path("out.mid")).unwrap();
    let file = midly::Smf::parse(&bytes).unwrap();
    let programs: Vec<Vec<(u8, u8)>> = file
        .tracks
        .iter()
        .map(|track| {
            let programs = track.iter().filter_map(|event| match event.kind {
                TrackEventKind::Midi {
                    channel,
                    message: MidiMessage::ProgramChange { program },
                } => Some((channel.as_int(), program.as_int())),
                _ => None,
            });
            programs.collect()
        })
        .collect();
    // General MIDI Level 1 sound set: 34 is the fingered electric bass, 17 the drawbar organ. The note whose pitch moves has a channel
    // of its own, managed by the sixteenth; percussion has no program, nor has what no word tells.
    assert_eq!(
        programs,
        [vec![], vec![], vec![(15, 33), (0, 33), (14, 33)], vec![(1, 16)], vec![]]
    );
    let names = midi::read(desk.path("out.mid")).unwrap();
    assert_eq!(names.tracks[4].name, "Zwölf");
}
