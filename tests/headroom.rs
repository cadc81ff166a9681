//! `check` tells where hits add up to more than full scale with no ceiling to catch them, and never cries wolf.

use crate::support::{Desk, assert_near, click, meter};

/// Kick and snare together in bars 2 and 4, at full velocity and the recordings' own level of 0.9.
const LOOP: &str =
    "[loop]\ntempo = 120\nbars = 4\n[tab]\nall = 'kick 9-9-'\n'2,4' = 'snare --9-'\n[master]\nceiling = 'off'\n";

fn desk() -> Desk {
    let desk = Desk::new();
    let loud = |sign: f32| click().iter().map(|sample| sample * 1.8 * sign).collect::<Vec<f32>>();
    desk.one_shot("kick.wav", &[loud(1.0)]);
    desk.one_shot("snare.wav", &[loud(1.0)]);
    desk.one_shot("against.wav", &[loud(-1.0)]);
    desk
}

fn told(desk: &Desk, text: &str, options: &[&str]) -> String {
    desk.write("loop.toml", text);
    let answer = desk.run(&[&["check", "loop.toml"], options].concat());
    answer.assert_done();
    answer.err
}

#[test]
fn the_bar_and_the_parts_are_named_with_what_the_render_comes_to() {
    let desk = desk();
    let err = told(&desk, LOOP, &[]);
    let peak = meter::db(meter::peak(desk.render(LOOP).left()));
    assert_near(peak, 2.1, 0.05, "two of 0.9, 3 dB down each");
    assert!(
        err.contains(&format!("add up to {peak:.1} dB over full scale in bar 2")),
        "{err}"
    );
    assert!(
        err.contains("`kick` and `snare` add up") && err.contains("bar 4 clips too"),
        "{err}"
    );
    let alone = told(&desk, LOOP, &["--set", "kick.gain=5", "--only", "kick"]);
    assert!(
        alone.contains("`kick` alone comes to 1.1 dB over full scale in bar 1"),
        "{alone}"
    );
    assert!(alone.contains("bars 2-4 clip too"), "{alone}");
}

#[test]
fn what_does_not_clip_is_not_told() {
    let desk = desk();
    let quiet = |options: &[&str]| {
        let err = told(&desk, LOOP, options);
        assert!(!err.contains("full scale"), "{options:?}: {err}");
    };
    quiet(&["--set", "master.ceiling=-1"]);
    quiet(&["--set", "snare.gain=-12"]);
    quiet(&["--set", "master.gain=-3"]);
    quiet(&["--set", "snare.pan=100", "--set", "kick.pan=-100"]);
    quiet(&["--without", "snare"]);
    quiet(&["--bars", "1"]);
    quiet(&["--swap", "snare=against.wav"]);
    // What these make of a peak is not known before it is rendered.
    quiet(&["--set", "snare.compress.ratio=8"]);
    quiet(&["--set", "kick.low_cut=300"]);
}

#[test]
fn a_forms_master_counts_in_a_form() {
    let desk = desk();
    desk.write("loop.toml", LOOP);
    let err = |rest: &str, bars: &str| {
        let section = format!("[form]\n[[section]]\nloop = 'loop.toml'\nbars = '{bars}'\n{rest}");
        desk.write("form.toml", section);
        let answer = desk.run(&["check", "form.toml"]);
        answer.assert_done();
        answer.err
    };
    assert!(err("", "1-2").contains("2.1 dB over full scale in bar 2, and"));
    assert!(!err("", "3").contains("full scale"));
    assert!(!err("[master]\n", "1-2").contains("full scale"));
}

#[test]
fn a_loudness_over_the_ceiling_is_told() {
    let desk = desk();
    let err = told(
        &desk,
        LOOP,
        &["--set", "master.ceiling=-6", "--set", "master.loudness=-5"],
    );
    assert!(
        err.contains("the loudness of -5 LUFS can't be reached under a ceiling of -6 dBTP"),
        "{err}"
    );
    let err = told(
        &desk,
        LOOP,
        &["--set", "master.ceiling=-6", "--set", "master.loudness=-14"],
    );
    assert!(!err.contains("LUFS"), "{err}");
}

#[test]
fn no_demo_loop_is_warned_of_without_clipping() {
    let desk = Desk::new();
    let kits = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("kits");
    for kit in ["harbour-studio", "boat-shed"] {
        let folder = kits.join(kit).join("loops");
        for entry in std::fs::read_dir(folder).expect("the demo loops").flatten() {
            let file = entry.path().to_string_lossy().into_owned();
            if !file.ends_with(".toml") {
                continue;
            }
            let plain = desk.run(&["check", &file]);
            assert!(
                !plain.err.contains("full scale") && !plain.err.contains("LUFS"),
                "{file}: {}",
                plain.err
            );
        }
    }
}
