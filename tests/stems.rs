//! Stems sum to the mix before the master, with the gains that whole buses had and with their own sends.

use crate::support::{Desk, meter, pluck, wav::Wav};

/// A loop with nearly everything that a stem must follow: buses into buses, compressors, a ceiling on a bus, ducks,
/// sends from parts and buses, a stereo spread.
const LOOP: &str = r#"
[loop]
tempo = 118
bars = 2
ENDING
[tab]
"all" = """
kick   X--- X--- X--- X---
snare  ---- X--g ---- X-gg
hat    x-x- x-X- x-x- x-X-
bell   X--- ---- --x- ----
"""
[[part]]
name = "kick"
bus = "drums"
[[part]]
name = "snare"
bus = "drums"
room = -12
compress = { threshold = -20, ratio = 3 }
[[part]]
name = "hat"
bus = "drums"
pan = 40
spread = 7
drive = 4
[[part]]
name = "bell"
bus = "wet"
delay = -9
duck = { by = "kick", depth = 8 }
[[bus]]
name = "drums"
bus = "all"
room = -20
compress = { threshold = -24, ratio = 4, attack = 5, makeup = 3, blend = 70 }
[[bus]]
name = "wet"
low_cut = 150
[[bus]]
name = "all"
ceiling = -9
[master]
ceiling = "off"
"#;

fn desk() -> Desk {
    let desk = Desk::new();
    for (name, hz) in [("kick", 60.0), ("snare", 310.0), ("hat", 6100.0), ("bell", 880.0)] {
        desk.one_shot(&format!("{name}.wav"), &[pluck(hz, 0.4, 0.8)]);
    }
    desk
}

/// The mix, and the sum of the stems that were written beside it.
fn mix_and_sum(ending: &str, options: &[&str]) -> (Wav, Vec<Vec<f64>>, Vec<String>) {
    let desk = desk();
    let (mix, _) = desk.render_with(&LOOP.replace("ENDING", ending), options);
    let names = desk.names("out-stems");
    let mut sum = vec![vec![0.0; mix.channels[0].len()]; 2];
    for name in &names {
        let stem = desk.read(&format!("out-stems/{name}"));
        for (sum, side) in sum.iter_mut().zip(&stem.channels) {
            assert_eq!(sum.len(), side.len(), "{name} is as long as the mix");
            sum.iter_mut()
                .zip(side)
                .for_each(|(sum, sample)| *sum += f64::from(*sample));
        }
    }
    (mix, sum, names)
}

fn null_db(mix: &Wav, sum: &[Vec<f64>]) -> f64 {
    let off = |(side, sum): (&Vec<f32>, &Vec<f64>)| {
        side.iter()
            .zip(sum)
            .fold(0.0_f64, |most, (a, b)| most.max((f64::from(*a) - b).abs()))
    };
    meter::db(mix.channels.iter().zip(sum).map(off).fold(0.0, f64::max))
}

#[test]
fn the_stems_of_parts_sum_to_the_mix() {
    for ending in ["", "ending = \"let ring\"", "ending = \"damp\""] {
        let (mix, sum, names) = mix_and_sum(ending, &["--stems"]);
        assert_eq!(names, ["bell.wav", "hat.wav", "kick.wav", "snare.wav"]);
        let null = null_db(&mix, &sum);
        assert!(null < -90.0, "{ending}: {null} dB");
    }
}

#[test]
fn the_stems_of_buses_sum_to_the_mix_and_follow_repeats() {
    let (mix, sum, names) = mix_and_sum("", &["--stems", "buses", "--repeat", "2"]);
    assert_eq!(names, ["all.wav", "wet.wav"]);
    let null = null_db(&mix, &sum);
    assert!(null < -90.0, "{null} dB");
}

#[test]
fn a_dry_stem_knows_no_bus_and_no_room() {
    let (_, sum, _) = mix_and_sum("", &["--stems", "dry", "--only", "snare"]);
    // The snare's last ghost note, a quarter of a beat before the bar, has died away 0.4 s later: dry, nothing is left
    // just before the second beat.
    let frame = |beat: f64| (beat * 60.0 / 118.0 * 48_000.0) as usize;
    let quiet = sum[0][frame(0.6)..frame(0.95)]
        .iter()
        .fold(0.0_f64, |most, sample| most.max(sample.abs()));
    assert!(meter::db(quiet) < -100.0, "{}", meter::db(quiet));
    assert!(
        meter::db(
            sum[0][frame(1.0)..frame(1.5)]
                .iter()
                .fold(0.0, |most: f64, sample| most.max(sample.abs()))
        ) > -30.0
    );
}

#[test]
fn a_driven_bus_is_named() {
    let desk = desk();
    desk.write(
        "loop.toml",
        LOOP.replace("ENDING", "").replace("low_cut = 150", "drive = 6"),
    );
    let answer = desk.run(&["render", "loop.toml", "-o", "out.wav", "--stems", "--depth", "float"]);
    answer.assert_done();
    assert!(answer.err.contains("`wet` is driven"), "{}", answer.err);
    assert!(!answer.err.contains("`drums` is driven"), "{}", answer.err);
}

#[test]
fn stems_of_an_earlier_render_are_told_of_and_left_there() {
    let desk = desk();
    let two = "[loop]\ntempo = 120\nbars = 1\n[tab]\nall = '''\nkick x---\nhat --x-\n'''\n";
    desk.write("loop.toml", two);
    let first = desk.run(&["render", "loop.toml", "-o", "out.wav", "--stems"]);
    first.assert_done();
    assert_eq!(desk.names("out-stems"), ["hat.wav", "kick.wav"]);
    assert!(!first.err.contains("did not write"), "{}", first.err);
    desk.write("loop.toml", two.replace("hat --x-\n", ""));
    desk.write("out-stems/notes.txt", "for the mixing desk");
    let second = desk.run(&["render", "loop.toml", "-o", "out.wav", "--stems"]);
    second.assert_done();
    assert!(
        second
            .err
            .contains("out-stems also holds hat.wav, which this render did not write"),
        "{}",
        second.err
    );
    assert_eq!(desk.names("out-stems"), ["hat.wav", "kick.wav", "notes.txt"]);
}
