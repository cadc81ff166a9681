//! Names propose which files are which piece, sound decides.
//!
//! What a stroke sounds like here is made of partials that die away and a burst of noise; recorded ones are read by
//! `tests/real/ears.py`.

use crate::support::{Desk, RATE, assert_near, list, noise, number, pluck};
use serde_json::Value;

/// A drum: its modes in Hz, how long it rings in seconds, and how much of it is noise.
struct Drum {
    hz: f64,
    seconds: f64,
    noise: f64,
}

const KICK: Drum = Drum {
    hz: 55.0,
    seconds: 0.35,
    noise: 0.05,
};

impl Drum {
    fn tuned(self, hz: f64) -> Drum {
        Drum { hz, ..self }
    }

    /// A stroke: no two are alike to the bit.
    fn stroke(&self, number: u32, level: f64) -> Vec<f32> {
        let frames = (self.seconds * f64::from(RATE)) as usize;
        let hiss = noise(frames, number);
        let loose = 1.0 + 0.002 * f64::from(number % 5);
        let sample = |n: usize| {
            let time = n as f64 / f64::from(RATE);
            let mode = |ratio: f64, of: f64| {
                let fall = 10f64.powf(-3.0 * of * time / self.seconds);
                (std::f64::consts::TAU * self.hz * loose * ratio * time).sin() * fall / of
            };
            let tone = mode(1.0, 1.0) + mode(1.59, 2.0) + mode(2.14, 3.0);
            let burst = hiss[n] as f64 / 32768.0 * 10f64.powf(-3.0 * time / 0.08);
            (level * ((1.0 - self.noise) * tone + self.noise * burst) / 2.0) as f32
        };
        (0..frames).map(sample).collect()
    }
}

fn kit(desk: &Desk, options: &[&str]) -> Value {
    let answer = desk.run(&[&["kit", "shots", "--json"], options].concat());
    answer.assert_done();
    serde_json::from_str(&answer.out).expect("one JSON object")
}

/// The files of each piece, in the order of the pieces; of a pair the left one and the right one.
fn pieces(kit: &Value) -> Vec<(String, Vec<String>)> {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_string();
    let file = |file: &Value| match &file["right"] {
        Value::Null => text(&file["file"]),
        right => format!("{} + {}", text(&file["file"]), text(right)),
    };
    let of = |piece: &Value| (text(&piece["name"]), list(piece, "files").iter().map(file).collect());
    list(kit, "pieces").iter().map(of).collect()
}

#[track_caller]
fn assert_pieces(desk: &Desk, wanted: &[(&str, &[&str])]) {
    let mut is = pieces(&kit(desk, &[]));
    is.sort();
    let wanted: Vec<(String, Vec<String>)> = wanted
        .iter()
        .map(|(name, files)| (name.to_string(), files.iter().map(|file| file.to_string()).collect()))
        .collect();
    assert_eq!(is, wanted);
}

#[test]
fn the_sides_of_one_recording_are_joined_and_two_hands_are_not() {
    let desk = Desk::new();
    let side = |number: u32, gain: f32| -> Vec<f32> {
        let stroke = Drum { noise: 0.5, ..KICK }.stroke(number, 0.5);
        stroke.iter().map(|sample| gain * sample).collect()
    };
    // Two microphones hear other noise, and one of them less of it.
    desk.one_shot("shots/Tom Hi(L).wav", &[side(1, 1.0)]);
    desk.one_shot("shots/Tom Hi(R).wav", &[side(2, 0.7)]);
    for (note, hz) in [("C3", 130.8), ("G3", 196.0)] {
        desk.one_shot(&format!("shots/cello_{note}-left.wav"), &[pluck(hz, 1.0, 0.5)]);
        desk.one_shot(&format!("shots/cello_{note}-right.wav"), &[pluck(hz, 1.0, 0.3)]);
    }
    desk.one_shot(
        "shots/snare.L.wav",
        &[Drum {
            noise: 0.8,
            ..KICK.tuned(190.0)
        }
        .stroke(1, 0.5)],
    );
    let mut later = vec![0.0; 900];
    later.extend(
        Drum {
            noise: 0.8,
            ..KICK.tuned(190.0)
        }
        .stroke(2, 0.5),
    );
    later.truncate(RATE as usize * 35 / 100);
    desk.one_shot("shots/snare.R.wav", &[later]);
    assert_pieces(
        &desk,
        &[
            (
                "cello",
                &[
                    "cello_C3-left.wav + cello_C3-right.wav",
                    "cello_G3-left.wav + cello_G3-right.wav",
                ],
            ),
            ("snare", &["snare.L.wav", "snare.R.wav"]),
            ("tom-high", &["Tom Hi(L).wav + Tom Hi(R).wav"]),
        ],
    );
    let page = desk.run(&["kit", "shots"]).out;
    assert!(page.contains("3 stereo pairs joined"), "{page}");
}

#[test]
fn numbered_strokes_are_takes_and_numbered_drums_are_pieces() {
    let desk = Desk::new();
    for number in 1..=4 {
        desk.one_shot(
            &format!("shots/snare {number}.wav"),
            &[Drum {
                noise: 0.4,
                ..KICK.tuned(180.0)
            }
            .stroke(number, 0.4 + 0.02 * f64::from(number))],
        );
    }
    let drums = [
        KICK,
        KICK.tuned(80.0),
        Drum {
            seconds: 1.2,
            ..KICK.tuned(42.0)
        },
    ];
    for (number, drum) in (1..).zip(drums) {
        desk.one_shot(&format!("shots/Kick {number:02}.wav"), &[drum.stroke(number, 0.5)]);
    }
    assert_pieces(
        &desk,
        &[
            ("kick", &["Kick 01.wav"]),
            ("kick-2", &["Kick 02.wav"]),
            ("kick-3", &["Kick 03.wav"]),
            ("snare", &["snare 1.wav", "snare 2.wav", "snare 3.wav", "snare 4.wav"]),
        ],
    );
    let told = kit(&desk, &[]);
    for piece in list(&told, "pieces") {
        let sure = number(&piece["takes_confidence"]);
        assert!((0.5..=1.0).contains(&sure), "{piece}");
        match piece["name"].as_str() {
            Some("snare") => assert!(number(&piece["distance"]) < 0.8, "{piece}"),
            _ => assert_eq!(piece["distance"], Value::Null, "{piece}"),
        }
    }
}

#[test]
fn toms_are_a_set_from_high_to_low_whatever_they_are_called() {
    let desk = Desk::new();
    for (name, hz) in [
        ("Tom 1", 95.0),
        ("Tom 2", 230.0),
        ("Tom 3", 80.0),
        ("Tom 4", 150.0),
        ("Tom 5", 190.0),
        ("Tom 6", 120.0),
    ] {
        let tom = Drum {
            seconds: 0.8,
            ..KICK.tuned(hz)
        };
        desk.one_shot(&format!("shots/{name}.wav"), &[tom.stroke(1, 0.5)]);
    }
    assert_pieces(
        &desk,
        &[
            ("tom-floor", &["Tom 1.wav"]),
            ("tom-floor-2", &["Tom 3.wav"]),
            ("tom-high", &["Tom 2.wav"]),
            ("tom-low", &["Tom 6.wav"]),
            ("tom-mid", &["Tom 5.wav"]),
            ("tom-mid-2", &["Tom 4.wav"]),
        ],
    );
}

#[test]
fn an_open_hat_is_told_by_how_long_it_rings() {
    let desk = Desk::new();
    let hat = |seconds: f64, seed: u32| -> Vec<f32> {
        let frames = (seconds * f64::from(RATE)) as usize;
        let fall = |n: usize| 10f64.powf(-3.0 * n as f64 / frames as f64);
        let hiss = noise(frames, seed).into_iter().enumerate();
        hiss.map(|(n, sample)| (sample as f64 / 65536.0 * fall(n)) as f32)
            .collect()
    };
    for (number, seconds) in [(1, 0.12), (2, 3.3), (3, 0.12)] {
        desk.one_shot(&format!("shots/Hat {number:02}.wav"), &[hat(seconds, number)]);
    }
    assert_pieces(
        &desk,
        &[
            ("hat-closed", &["Hat 01.wav", "Hat 03.wav"]),
            ("hat-open", &["Hat 02.wav"]),
        ],
    );
}

/// The roots of a kit's files.
fn roots(kit: &Value) -> Vec<(String, f64)> {
    let files = list(kit, "pieces").iter().flat_map(|piece| list(piece, "files"));
    let root = |file: &Value| {
        (
            file["file"].as_str().unwrap_or_default().to_string(),
            number(&file["root"]),
        )
    };
    files.map(root).collect()
}

fn hz(key: f64) -> f64 {
    440.0 * 2f64.powf((key - 69.0) / 12.0)
}

#[test]
fn names_with_notes_make_an_instrument_whatever_else_they_mean() {
    let desk = Desk::new();
    for (note, key) in [("A4", 69.0), ("C5", 72.0), ("D#5", 75.0)] {
        desk.one_shot(&format!("shots/CP12 {note}.wav"), &[pluck(hz(key), 1.0, 0.5)]);
    }
    for (note, key) in [("C 4", 60.17), ("F# 4", 66.0), ("C 5", 72.0)] {
        desk.one_shot(&format!("shots/Ohh Voices {note}.wav"), &[pluck(hz(key), 1.0, 0.5)]);
    }
    desk.one_shot("shots/AltoF.wav", &[pluck(hz(65.0), 1.0, 0.5)]);
    let told = kit(&desk, &[]);
    let mut names: Vec<(String, usize)> = pieces(&told)
        .into_iter()
        .map(|(name, files)| (name, files.len()))
        .collect();
    names.sort();
    assert_eq!(
        names,
        [("alto-f".into(), 1), ("cp-12".into(), 3), ("ohh-voices".into(), 3)]
    );
    let root = roots(&told).into_iter().find(|(file, _)| file == "Ohh Voices C 4.wav");
    assert_near(root.expect("a zone").1, 60.17, 0.011, "as it is tuned");
}

#[test]
fn one_sentence_says_how_a_folder_counts_octaves() {
    let desk = Desk::new();
    for instrument in ["bass", "keys", "organ"] {
        for (note, key) in [("C2", 48.0), ("E2", 52.0), ("G2", 55.0)] {
            desk.one_shot(&format!("shots/{instrument} {note}.wav"), &[pluck(hz(key), 1.0, 0.5)]);
        }
    }
    let told = kit(&desk, &[]);
    let problems: Vec<&str> = list(&told, "problems").iter().filter_map(Value::as_str).collect();
    let [only] = problems.as_slice() else {
        panic!("{problems:?}")
    };
    assert!(
        only.contains("`bass`, `keys` and `organ`") && only.contains("calls C2 sounds as C3"),
        "{only}"
    );
    assert!(
        roots(&told).iter().all(|(_, root)| (48.0..=55.0).contains(root)),
        "{told}"
    );
}

#[test]
fn ears_overrule_names_where_most_zones_sound_otherwise() {
    let desk = Desk::new();
    let zones = [("C2", 43.0), ("E2", 47.0), ("G2", 50.0), ("A2", 52.0)];
    for (note, key) in zones {
        desk.one_shot(&format!("shots/bass {note}.wav"), &[pluck(hz(key), 1.0, 0.5)]);
    }
    // A single name that is wrong is still a name.
    desk.one_shot("shots/bell C4.wav", &[pluck(hz(67.0), 1.0, 0.5)]);
    let told = kit(&desk, &[]);
    for (file, root) in roots(&told) {
        let wanted = zones.iter().find(|(note, _)| file == format!("bass {note}.wav"));
        assert_near(root, wanted.map_or(60.0, |(_, key)| *key), 0.05, &file);
    }
    let problems = list(&told, "problems");
    assert_eq!(problems.len(), 2, "{problems:?}");
    // What is written is what is played.
    desk.run(&["kit", "shots", "--write"]).assert_done();
    let by_file = |kit: &Value| {
        roots(kit)
            .into_iter()
            .collect::<std::collections::BTreeMap<String, f64>>()
    };
    assert_eq!(by_file(&kit(&desk, &[])), by_file(&told));
    let text = std::fs::read_to_string(desk.path("shots/kit.toml")).expect("it is written");
    let order = zones.map(|(note, _)| text.find(&format!("bass {note}.wav")).expect("a zone"));
    let mut heights: Vec<(usize, f64)> = order.into_iter().zip(zones.map(|(_, key)| key)).collect();
    heights.sort_by_key(|(place, _)| *place);
    assert!(heights.is_sorted_by_key(|(_, key)| *key), "from the lowest up: {text}");
}

#[test]
fn files_are_listened_to_once_for_all_commands_until_they_change() {
    let desk = Desk::new();
    for number in 1..=3 {
        desk.one_shot(&format!("shots/kick {number}.wav"), &[KICK.stroke(number, 0.5)]);
    }
    desk.write(
        "loop.toml",
        "[loop]\nkit = \"shots\"\ntempo = 100\nbars = 1\n[tab]\nall = \"\"\"\nkick x-x-\"\"\"\n",
    );
    let listened = |options: &[&str]| {
        let answer = desk.run(&[&["render", "loop.toml", "--json"], options].concat());
        answer.assert_done();
        let told: Value = serde_json::from_str(&answer.out).expect("one JSON object");
        told["listened"].as_u64().unwrap_or(0)
    };
    // What was written just now may be written again within one tick of the disk's clock.
    std::thread::sleep(std::time::Duration::from_millis(120));
    let first = kit(&desk, &[]);
    assert_eq!(listened(&[]), 0, "the other command has listened");
    assert_eq!(kit(&desk, &[]), first);
    assert_eq!(listened(&["--fresh"]), 3);
    desk.one_shot("shots/kick 2.wav", &[KICK.stroke(9, 0.5)]);
    assert_eq!(listened(&[]), 1);
    // Damaged findings are none.
    let kept = || {
        std::fs::read_dir(desk.cache().join("pressroll"))
            .expect("a folder")
            .flatten()
            .map(|entry| entry.path())
    };
    for file in kept().filter(|file| file.extension().is_some()) {
        std::fs::write(file, b"pressroll findings 2\n\x07garbage").expect("a file is written");
    }
    assert_eq!(kit(&desk, &[])["pieces"], kit(&desk, &["--fresh"])["pieces"]);
    // Programs that run at once do not disturb one another.
    std::thread::scope(|scope| {
        let runs: Vec<_> = (0..4).map(|_| scope.spawn(|| kit(&desk, &["--fresh"]))).collect();
        let told: Vec<Value> = runs.into_iter().map(|run| run.join().expect("it ends")).collect();
        assert!(told.windows(2).all(|pair| pair[0] == pair[1]));
    });
    let unfinished = |file: &std::path::PathBuf| {
        file.file_name()
            .is_some_and(|name| name.to_string_lossy().contains(".tmp"))
    };
    assert!(!kept().any(|file| unfinished(&file)));
}
