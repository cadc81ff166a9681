//! `check` and `render` give the same verdict: whatever a render refuses, a check tells, of every file that it would open.

use std::path::Path;

use crate::support::{Desk, click, flac, form, tab, wav};

/// The verdict of both on a file of the desk, which must be one; true where it is played.
#[track_caller]
fn played(desk: &Desk, case: &str, options: &[&str]) -> bool {
    let with = |first: &[&str]| desk.run(&[first, options].concat());
    let (render, check) = (with(&["render", "-o", "out.wav"]), with(&["check"]));
    assert_eq!(
        check.code, render.code,
        "{case}\nrender: {}\ncheck: {}",
        render.err, check.err
    );
    let verdict = |err: &str| err.lines().next().unwrap_or_default().to_string();
    if render.code != Some(0) {
        assert_eq!(verdict(&check.err), verdict(&render.err), "{case}");
        assert!(!check.out.contains("no problems found"), "{case}: {}", check.out);
    }
    render.code == Some(0)
}

/// Recordings, whole and broken: each format cut within its header and behind it, and with bytes of its header turned over.
fn recordings() -> Vec<(String, Vec<u8>)> {
    let seeds = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/seeds/recording");
    let mut files = vec![("reference.flac".to_string(), flac())];
    for name in ["16.wav", "smpl.wav", "float.wav", "sowt.aifc", "float.aifc"] {
        files.push((name.to_string(), std::fs::read(seeds.join(name)).expect("a seed")));
    }
    let mut cases = Vec::new();
    for (name, bytes) in files {
        let near = |at: usize| at.min(bytes.len());
        for cut in [4, 11, 12, 16, 21, 30, 36, 40, 44, 45, 60, 100, bytes.len() - 9].map(near) {
            cases.push((format!("{name} cut at {cut}"), bytes[..cut].to_vec()));
        }
        for at in [0, 5, 8, 13, 17, 20, 22, 24, 32, 34, 37, 41, 50].map(near) {
            let mut turned = bytes.clone();
            turned.iter_mut().skip(at).take(1).for_each(|byte| *byte ^= 0x85);
            cases.push((format!("{name} with byte {at} turned"), turned));
        }
        cases.push((name, bytes));
    }
    // Only its samples tell that it is no sound.
    cases.push(("no number.wav".into(), wav::float(48_000, &[vec![0.5, f32::NAN, 0.25]])));
    cases
}

#[test]
fn of_recordings_and_recorded_rooms() {
    let desk = Desk::new();
    desk.one_shot("kit/kick.wav", &[click()]);
    desk.write("kit/kit.toml", "[[piece]]\nname = 'boom'\nfiles = ['boom.wav']\n");
    let head = |text: String| text.replace("[loop]\n", "[loop]\nkit = \"kit\"\n");
    desk.write("shot.toml", head(tab("240", 1, "boom x")));
    let room = "[[part]]\nname = 'kick'\nroom = -10\n[room]\nimpulse = 'kit/boom.wav'\n";
    desk.write("room.toml", head(tab("240", 1, "kick x")) + room);
    let (mut fine, mut refused) = (0, 0);
    for (case, bytes) in recordings() {
        desk.write("kit/boom.wav", bytes);
        for file in ["shot.toml", "room.toml"] {
            match played(&desk, &format!("{case} in {file}"), &[file]) {
                true => fine += 1,
                false => refused += 1,
            }
        }
    }
    assert!(fine > 20 && refused > 60, "{fine} fine, {refused} refused");
    desk.write("kit/boom.wav", wav::float(8_000, &[vec![0.1; 61 * 8_000]]));
    assert!(!played(&desk, "a room of 61 s", &["room.toml"]));
}

#[test]
fn all_files_that_cannot_be_read_are_told_at_once() {
    let desk = Desk::new();
    for name in ["kick", "snare", "unplayed"] {
        desk.write(&format!("{name}.wav"), b"RIFF\0\0\0\0WAVEfmt ");
    }
    desk.one_shot("clap.wav", &[click()]);
    desk.write("loop.toml", tab("120", 1, "kick x\nsnare x\nclap x"));
    let answer = desk.run(&["check", "loop.toml"]);
    assert_eq!(answer.code, Some(1), "{}", answer.out);
    assert!(
        answer.err.contains("kick.wav") && answer.err.contains("snare.wav"),
        "{}",
        answer.err
    );
    assert!(!answer.err.contains("unplayed"), "{}", answer.err);
}

#[test]
fn of_what_is_too_long_or_not_there() {
    let desk = form::desk();
    let sections = |times: u32| form::form("title = 'a'", &[&format!("{}\ntimes = {times}", form::V)]);
    desk.write("long.toml", sections(1000));
    assert!(!played(&desk, "a form of 4000 s", &["long.toml"]));
    assert!(played(&desk, "two bars of it", &["long.toml", "--bars", "3-4"]));
    assert!(!played(&desk, "bars behind it", &["long.toml", "--bars", "3000"]));
    desk.write("lacks.toml", tab("120", 1, "kick x\ncowbell x"));
    assert!(!played(&desk, "a piece that the kit lacks", &["lacks.toml"]));
    assert!(!played(&desk, "bars behind a loop", &["verse.toml", "--bars", "2-3"]));
    desk.write("take.mid", b"MThd\0\0\0\x06\0");
    desk.write(
        "midi.toml",
        "[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = 'take'\nmidi = 'take.mid'\n",
    );
    assert!(!played(&desk, "MIDI that breaks off", &["midi.toml"]));
    // What only sections that are not asked for would open is nobody's trouble.
    desk.write("clap.wav", b"RIFF\0\0\0\0WAVEfmt ");
    desk.write("both.toml", form::form("title = 'a'", &[form::V, form::C]));
    assert!(!played(&desk, "a section with a broken clap", &["both.toml"]));
    assert!(played(&desk, "the section before it", &["both.toml", "--bars", "1-2"]));
}
