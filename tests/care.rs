//! Care of recordings: silence before a sound changes nothing, an offset and a sudden end are not heard, `trim = false` leaves a
//! piece alone, and no file of the person's is touched.

use crate::support::{Desk, RATE, assert_near, noise, pluck, tab, tone, wav};

const MS: usize = RATE as usize / 1000;

/// One-shots of all kinds of attack: struck low and high, noisy, plucked, swelling.
fn shots() -> Vec<(&'static str, Vec<f32>)> {
    let hit: Vec<f32> = noise(9_600, 3)
        .iter()
        .enumerate()
        .map(|(n, x)| *x as f32 / 40_000.0 * (-(n as f32) / 2_000.0).exp())
        .collect();
    let swell = |ms: usize| -> Vec<f32> {
        let sine = tone(220.0, 0.8, 0.7);
        let fall = |n: usize| 10f32.powf(-3.0 * n as f32 / 38_400.0);
        (0..38_400)
            .map(|n| sine[n] * fall(n) * (n as f32 / (ms * MS) as f32).min(1.0))
            .collect()
    };
    vec![
        ("boom", pluck(52.0, 0.6, 0.9)),
        ("rim", pluck(1_700.0, 0.1, 0.7)),
        ("hiss", hit),
        ("pling", pluck(880.0, 1.2, 0.4)),
        ("brush", swell(40)),
        ("bow", swell(200)),
    ]
}

fn lead(ms: usize, db: f64) -> Vec<f32> {
    let size = 10f64.powf(db / 20.0) * 3f64.sqrt();
    noise(ms * MS, 9)
        .iter()
        .map(|x| (*x as f64 / 32_768.0 * size) as f32)
        .collect()
}

fn loop_of(lines: &str) -> String {
    tab("120", 1, lines) + "[master]\nceiling = \"off\"\n"
}

/// By how many frames a sound comes later than another: where their product is largest.
fn lag(sound: &[f32], other: &[f32], most: i64) -> i64 {
    let product = |lag: i64| -> f64 {
        let at = |n: i64| sound.get(n as usize).copied().unwrap_or(0.0);
        (0..other.len() as i64)
            .filter(|n| n + lag >= 0)
            .map(|n| f64::from(at(n + lag)) * f64::from(other[n as usize]))
            .sum()
    };
    (-most..=most)
        .max_by(|a, b| product(*a).total_cmp(&product(*b)))
        .expect("lags")
}

#[test]
fn silence_before_a_sound_changes_not_a_byte() {
    for (name, shot) in shots() {
        let rendered = |before: usize| {
            let desk = Desk::new();
            desk.one_shot(&format!("{name}.wav"), &[[&vec![0.0; before], &shot[..]].concat()]);
            desk.render(&loop_of(&format!("{name} 9-x- --x-"))).channels
        };
        let own = rendered(0);
        for before in [1, 333, 20 * MS, 80 * MS] {
            assert!(rendered(before) == own, "{name} after {before} frames");
        }
    }
}

#[test]
fn hits_land_on_time_whatever_noise_is_before_the_sound() {
    for (name, shot) in shots() {
        let desk = Desk::new();
        desk.one_shot(&format!("{name}.wav"), std::slice::from_ref(&shot));
        let own = desk.render(&loop_of(&format!("{name} -9-- ----")));
        for (ms, db) in [(5, -80.0), (20, -70.0), (40, -60.0), (80, -60.0)] {
            let mut noisy = lead(ms + shot.len() / MS + 1, db);
            for (n, sample) in shot.iter().enumerate() {
                noisy[ms * MS + n] += sample;
            }
            desk.one_shot(&format!("{name}.wav"), &[noisy]);
            let sound = desk.render(&loop_of(&format!("{name} -9-- ----")));
            let window = MS * 250 - 2_000..MS * 250 + 9_600;
            let off = lag(&sound.left()[window.clone()], &own.left()[window], 1_500);
            // Half a millisecond; where a bow's slow rise comes out of hiss is known to a millisecond.
            let most = if name == "bow" { 48 } else { 24 };
            assert!(off.abs() <= most, "{name}: {off} frames after {ms} ms at {db} dBFS");
        }
    }
}

#[test]
fn trim_false_plays_a_piece_as_its_file_is() {
    let desk = Desk::new();
    let shot = [vec![0.0; 100 * MS], pluck(300.0, 0.2, 0.5)].concat();
    let file = desk.one_shot("thud.wav", std::slice::from_ref(&shot));
    let before = std::fs::read(&file).expect("it is there");
    let begins = |text: &str| {
        let sound = desk.render(text);
        sound.left().iter().position(|s| s.abs() > 0.01).expect("a sound") / MS
    };
    let text = loop_of("thud 9---");
    assert_eq!(begins(&text), 0);
    let part = text.clone() + "[[part]]\nname = \"thud\"\ntrim = false\n";
    assert_eq!(begins(&part), 100);
    assert_eq!(
        begins(&(part.clone() + "start = 60\n")),
        40,
        "`start` counts from where the recording is played from"
    );
    desk.write("kit.toml", "[[piece]]\nname = \"thud\"\ntrim = false\n");
    assert_eq!(begins(&text), 100, "a kit may say so for all its loops");
    assert_eq!(begins(&(text + "[[part]]\nname = \"thud\"\ntrim = true\n")), 0);
    assert!(
        std::fs::read(&file).expect("it is there") == before,
        "files stay as they are"
    );
}

#[test]
fn one_file_may_be_played_both_ways_at_once() {
    let desk = Desk::new();
    desk.one_shot("thud.wav", &[[vec![0.0; 100 * MS], pluck(300.0, 0.2, 0.5)].concat()]);
    let sound = desk.render(&(loop_of("thud 9---\nraw 9---") + "[[part]]\nname = \"raw\"\npiece = \"thud\"\ntrim = false\npan = 100\n[[part]]\nname = \"thud\"\npan = -100\n"));
    let first = |side: &[f32]| side.iter().position(|s| s.abs() > 0.01).expect("a sound") / MS;
    assert_eq!((first(sound.left()), first(sound.right())), (0, 100));
}

#[test]
fn start_reverse_and_tune_count_from_the_onset() {
    for keys in [
        "start = 15",
        "reverse = true",
        "tune = -7",
        "tune = 5\nreverse = true",
        "vary = { tune = 2 }",
    ] {
        let rendered = |before: usize| {
            let desk = Desk::new();
            let shot = [vec![0.0; before], pluck(300.0, 0.3, 0.5)].concat();
            desk.one_shot("thud.wav", &[shot]);
            desk.render(&(loop_of("thud 9-x-") + "[[part]]\nname = \"thud\"\n" + keys))
                .channels
        };
        assert!(rendered(0) == rendered(777), "{keys}");
    }
}

#[test]
fn another_rate_changes_nothing_of_that() {
    let rendered = |before: usize| {
        let desk = Desk::new();
        let shot = [vec![0.0; before], pluck(300.0, 0.3, 0.5)].concat();
        desk.write("thud.wav", wav::float(44_100, &[shot]));
        desk.render(&loop_of("thud 9-x-")).channels
    };
    assert!(rendered(0) == rendered(1_234));
}

#[test]
fn an_offset_is_not_heard() {
    let desk = Desk::new();
    let shot: Vec<f32> = pluck(300.0, 0.4, 0.5).iter().map(|s| s + 0.03).collect();
    desk.one_shot("thud.wav", &[shot]);
    let mean = |text: &str| {
        let sound = desk.render(text);
        let half = &sound.left()[200 * MS..390 * MS];
        half.iter().map(|s| f64::from(*s)).sum::<f64>() / half.len() as f64
    };
    let text = loop_of("thud 9---");
    assert_near(mean(&text), 0.0, 2e-4, "the mean");
    let plain = mean(&(text + "[[part]]\nname = \"thud\"\ntrim = false\n"));
    assert_near(plain, 0.03 * 0.5f64.sqrt(), 1e-3, "the mean of the file as it is");
}

#[test]
fn a_sudden_end_does_not_click() {
    let desk = Desk::new();
    desk.one_shot("hum.wav", &[tone(100.0, 0.1, 0.5)]);
    let step = |text: &str| {
        let sound = desk.render(text);
        let end = &sound.left()[99 * MS..102 * MS];
        end.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f32::max)
    };
    let text = loop_of("hum 9---");
    assert!(step(&text) < 0.02);
    assert!(step(&(text + "[[part]]\nname = \"hum\"\ntrim = false\n")) > 0.3);
}

#[test]
fn loops_of_held_notes_move_with_the_cut() {
    // A tone whose loop is whole periods of 100 frames; a held note must be the same tone however late the file begins.
    let wave = |n: usize| (0.5 * (std::f64::consts::TAU * n as f64 / 100.0).sin()) as f32;
    let rendered = |before: usize| {
        let desk = Desk::new();
        let shot: Vec<f32> = (0..before + 9_600)
            .map(|n| if n < before { 0.0 } else { wave(n - before) })
            .collect();
        let mut bytes = wav::float(RATE, &[shot]);
        let (from, to) = (before as u32 + 2_000, before as u32 + 7_999);
        bytes.extend(b"smpl");
        bytes.extend(60u32.to_le_bytes());
        for field in [0, 0, 20_833, 57, 0, 0, 0, 1, 0, 0, 0, from, to, 0, 0u32] {
            bytes.extend(field.to_le_bytes());
        }
        let length = bytes.len() as u32 - 8;
        bytes[4..8].copy_from_slice(&length.to_le_bytes());
        desk.write("organ.wav", bytes);
        let text = "[loop]\ntempo = 60\nbars = 1\n[[part]]\nname = \"organ\"\nnotes = \"A3 = = -\"\n[master]\nceiling = \"off\"\n";
        desk.render(text).channels
    };
    let own = rendered(0);
    assert!(own[0][120_000..130_000].iter().any(|s| s.abs() > 0.2), "it holds");
    assert!(rendered(1_500) == own);
}

#[test]
fn late_recordings_are_told_in_one_line() {
    let desk = Desk::new();
    let late = |ms: usize| [vec![0.0; ms * MS], pluck(300.0, 0.2, 0.5)].concat();
    for (name, ms) in [("thud", 55), ("thump", 30), ("tick", 10)] {
        desk.one_shot(&format!("{name}.wav"), &[late(ms)]);
    }
    desk.write("one.toml", loop_of("thud 9---\ntick 9---"));
    let one = desk.run(&["render", "one.toml"]);
    one.assert_done();
    assert!(one.err.contains("begins 55 ms late"), "{}", one.err);
    assert!(!one.err.contains("tick"), "{}", one.err);
    desk.write("both.toml", loop_of("thud 9---\nthump 9---"));
    let both = desk.run(&["render", "both.toml"]);
    assert!(both.err.contains("2 recordings begin late"), "{}", both.err);
    assert_eq!(both.err.matches("late").count(), 1, "{}", both.err);
    desk.write("none.toml", loop_of("tick 9---"));
    let none = desk.run(&["render", "none.toml"]);
    assert!(!none.err.contains("late"), "{}", none.err);
}
