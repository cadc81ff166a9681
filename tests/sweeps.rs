//! A sweep moves what its key names: evenly in dB or octaves, without zipper noise, and back at the seam within 5 ms.

use crate::support::{Desk, assert_near, meter, tone, wav::Wav};

/// Four bars of two seconds each over one long tone that never ends within them.
fn desk(hz: f64) -> Desk {
    let desk = Desk::new();
    desk.one_shot("tone.wav", &[tone(hz, 9.0, 0.5)]);
    desk
}

fn text(part: &str, sweeps: &str) -> String {
    format!(
        "[loop]\ntempo = 120\nbars = 4\nending = \"damp\"\n[tab]\n\"1\" = \"tone 9--- ---- ---- ----\"\n[[part]]\nname = \"tone\"\n{part}\n{sweeps}\n[master]\nceiling = \"off\"\n"
    )
}

fn sweep(key: &str, bars: &str, from: f64, to: f64) -> String {
    format!("[[sweep]]\nkey = \"{key}\"\nbars = \"{bars}\"\nfrom = {from}\nto = {to}\n")
}

/// The level at a time, over 20 ms, in dB.
fn level(sound: &Wav, seconds: f64) -> f64 {
    let at = (seconds * 48_000.0) as usize;
    let part = &sound.left()[at - 480..at + 480];
    meter::db((part.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / part.len() as f64).sqrt())
}

/// The amplitude of one frequency within a stretch under a Blackman-Harris window.
fn partial(samples: &[f32], hz: f64) -> f64 {
    let n = samples.len() as f64;
    let (mut re, mut im, mut weight) = (0.0, 0.0, 0.0);
    for (i, sample) in samples.iter().enumerate() {
        let turn = std::f64::consts::TAU * i as f64;
        let window =
            0.35875 - 0.48829 * (turn / n).cos() + 0.14128 * (2.0 * turn / n).cos() - 0.01168 * (3.0 * turn / n).cos();
        re += window * f64::from(*sample) * (turn * hz / 48_000.0).cos();
        im += window * f64::from(*sample) * (turn * hz / 48_000.0).sin();
        weight += window;
    }
    2.0 * re.hypot(im) / weight
}

#[test]
fn a_level_moves_evenly_in_db_and_holds_before_and_after() {
    let desk = desk(1000.0);
    let plain = desk.render(&text("", ""));
    let swept = desk.render(&text("", &sweep("tone.gain", "2-3", -24.0, -4.0)));
    for (seconds, gain) in [
        (0.5, -24.0),
        (1.9, -24.0),
        (3.0, -19.0),
        (4.0, -14.0),
        (5.0, -9.0),
        (6.1, -4.0),
        (7.5, -4.0),
    ] {
        assert_near(
            level(&swept, seconds) - level(&plain, seconds),
            gain,
            0.05,
            format!("at {seconds} s"),
        );
    }
}

#[test]
fn it_goes_from_count_to_count_and_over_and_over() {
    let desk = desk(1000.0);
    let plain = desk.render(&text("", ""));
    let between = desk.render(&text("", &sweep("tone.gain", "2:2-2:4", -20.0, 0.0)));
    // The second count of bar 2 is at 2.5 s, the fourth at 3.5 s.
    for (seconds, gain) in [(2.4, -20.0), (3.0, -10.0), (3.6, 0.0)] {
        assert_near(
            level(&between, seconds) - level(&plain, seconds),
            gain,
            0.1,
            format!("between counts, at {seconds} s"),
        );
    }
    let pumping = desk.render(&text(
        "",
        &(sweep("tone.gain", "all", -20.0, 0.0) + "every = \"1/2\"\n"),
    ));
    for (seconds, gain) in [(0.25, -15.0), (0.75, -5.0), (1.25, -15.0), (6.75, -5.0)] {
        assert_near(
            level(&pumping, seconds) - level(&plain, seconds),
            gain,
            0.1,
            format!("every half note, at {seconds} s"),
        );
    }
}

#[test]
fn a_frequency_moves_evenly_in_octaves() {
    // A second-order Butterworth takes 3.01 dB at its frequency: half way in octaves from 250 to 4000 Hz it is at 1 kHz.
    let desk = desk(1000.0);
    let plain = desk.render(&text("", ""));
    let swept = desk.render(&text("", &sweep("tone.high_cut", "all", 250.0, 4000.0)));
    assert_near(level(&swept, 4.0) - level(&plain, 4.0), -3.01, 0.1, "half way");
    let below = level(&swept, 2.0) - level(&plain, 2.0);
    // At 500 Hz, an octave under the tone: 10·log10(1 + 2^4) = 12.3 dB down.
    assert_near(below, -12.3, 0.25, "a quarter of the way");
}

/// Zipper noise shows as lines beside the tone, spaced by the rate at which settings change: 48000 / 8 = 6000 Hz;
/// some way off it nothing else may stand either. A filter's lines are told against what it leaves of the tone.
#[test]
fn no_zipper_noise_beside_the_tone() {
    let desk = desk(5000.0);
    for (key, from, to, bar) in [
        ("tone.gain", -30.0, 0.0, -100.0),
        ("tone.high_cut", 800.0, 16_000.0, -75.0),
        ("tone.low_cut", 200.0, 6_000.0, -75.0),
        ("tone.pan", -100.0, 100.0, -100.0),
    ] {
        let swept = desk.render(&text("", &sweep(key, "all", from, to)));
        let stretch = &swept.left()[96_000..96_000 + 48_000];
        let tone = partial(stretch, 5000.0);
        for hz in [1000.0, 2000.0, 3500.0, 6500.0, 8000.0, 11_000.0, 17_000.0] {
            let line = meter::db(partial(stretch, hz) / tone);
            assert!(line < bar, "{key}: {line:.1} dB at {hz} Hz");
        }
    }
}

#[test]
fn it_is_back_within_5_ms_of_the_seam() {
    let desk = desk(1000.0);
    let round = text("", &sweep("tone.gain", "all", -30.0, 0.0)).replace("ending = \"damp\"\n", "");
    let plain = desk.render(&text("", "").replace("ending = \"damp\"\n", ""));
    let swept = desk.render(&round);
    // From 5 ms on the tone is back at -30 dB; before the seam it was at 0.
    let ratio = |range: std::ops::Range<usize>| {
        let rms = |sound: &Wav| {
            sound.left()[range.clone()]
                .iter()
                .map(|x| f64::from(*x).powi(2))
                .sum::<f64>()
                .sqrt()
        };
        meter::db(rms(&swept) / rms(&plain))
    };
    assert_near(ratio(240..720), -30.0, 0.3, "after the seam");
    assert_near(ratio(383_000..383_900), 0.0, 0.1, "before the seam");
}

#[test]
fn sends_and_what_rooms_give_back_move_too() {
    let desk = desk(1000.0);
    let delay = "[delay]\ntime = \"10 ms\"\nfeedback = 0\nlow_cut = \"off\"\nhigh_cut = \"off\"\n";
    let wet = |sweep: &str, options: &[&str]| {
        let text = text("delay = -6", &format!("{delay}{sweep}"));
        let (whole, _) = desk.render_with(&text, options);
        whole
    };
    let dry = desk.render(&text("", ""));
    let echo = |sound: &Wav, seconds: f64| {
        let at = (seconds * 48_000.0) as usize;
        let range = at - 480..at + 480;
        let off = |i: usize| f64::from(sound.left()[i]) - f64::from(dry.left()[i]);
        meter::db((range.map(|i| off(i).powi(2)).sum::<f64>() / 960.0).sqrt())
    };
    let still = wet("", &[]);
    for key in ["tone.delay", "delay.level"] {
        let (from, to) = if key == "tone.delay" {
            (-26.0, -6.0)
        } else {
            (-20.0, 0.0)
        };
        let moved = wet(&sweep(key, "all", from, to), &[]);
        for (seconds, gain) in [(2.0, -15.0), (4.0, -10.0), (6.0, -5.0)] {
            assert_near(
                echo(&moved, seconds) - echo(&still, seconds),
                gain,
                0.1,
                format!("{key} at {seconds} s"),
            );
        }
    }
}

#[test]
fn what_can_not_be_swept_is_said_at_the_word() {
    let desk = desk(1000.0);
    for (sweeps, said) in [
        (
            sweep("tone.gain", "1-3", -6.0, 0.0) + &sweep("tone.gain", "3-4", 0.0, -6.0),
            "two sweeps of `tone.gain` overlap",
        ),
        (sweep("tone.gian", "1-3", -6.0, 0.0), "no key `gian`"),
        (sweep("tnoe.gain", "1-3", -6.0, 0.0), "called `tnoe`"),
        (sweep("tone.tune", "1-3", -6.0, 0.0), "`tone.tune` can't be swept"),
        (sweep("loop.tempo", "1-3", 60.0, 90.0), "`loop.tempo` can't be swept"),
        (sweep("tone.gain", "3-5", -6.0, 0.0), "goes past the end"),
        (sweep("tone.gain", "3-2", -6.0, 0.0), "ends before it begins"),
        (sweep("tone.gain", "1:5-2", -6.0, 0.0), "no count of a bar"),
        (sweep("tone.pan", "1-3", -600.0, 0.0), "-100"),
    ] {
        desk.write("loop.toml", text("", &sweeps));
        let answer = desk.run(&["render", "loop.toml", "-o", "out.wav"]);
        assert_eq!(answer.code, Some(1), "{sweeps}");
        assert!(
            answer.err.contains(said) && answer.err.contains("loop.toml:"),
            "{sweeps}\n{}",
            answer.err
        );
    }
}
