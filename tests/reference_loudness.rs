//! The meters read the published cases of ITU and EBU, and what pyloudnorm reads from signals of our own.

use std::f64::consts::TAU;

use crate::support::{Desk, assert_near, list, meter, noise, number, reference};
use pressroll::Audio;
use pressroll::internals::measure;

/// Stretches of a 1 kHz stereo sine: dBFS and seconds.
fn sines(rate: u32, hz: f64, stretches: &[(f64, f64)]) -> Vec<Vec<f32>> {
    let mut side: Vec<f32> = Vec::new();
    for (level, seconds) in stretches {
        let size = 10f64.powf(level / 20.0);
        let from = side.len();
        let count = (seconds * f64::from(rate)).round() as usize;
        side.extend((from..from + count).map(|i| (size * (TAU * hz * i as f64 / f64::from(rate)).sin()) as f32));
    }
    vec![side.clone(), side]
}

fn audio(rate: u32, channels: &[Vec<f32>]) -> Audio {
    Audio {
        channels: channels.to_vec(),
        rate,
    }
}

fn loudness(rate: u32, channels: &[Vec<f32>]) -> f64 {
    measure::loudness(&audio(rate, channels)).expect("it has a loudness")
}

#[test]
fn ebu_tech_3341_integrated_loudness() {
    // EBU Tech 3341, minimum requirements, cases 1 to 5 [memory]: within 0.1 LU.
    let cases: [(&[(f64, f64)], f64); 5] = [
        (&[(-23.0, 20.0)], -23.0),
        (&[(-33.0, 20.0)], -33.0),
        (&[(-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)], -23.0),
        (
            &[
                (-72.0, 10.0),
                (-36.0, 10.0),
                (-23.0, 60.0),
                (-36.0, 10.0),
                (-72.0, 10.0),
            ],
            -23.0,
        ),
        (&[(-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)], -23.0),
    ];
    for (stretches, wanted) in cases {
        let is = loudness(48000, &sines(48000, 1000.0, stretches));
        assert_near(is, wanted, 0.1, format!("{stretches:?}"));
    }
}

#[test]
fn itu_bs_1770_a_full_scale_sine_in_one_front_channel() {
    let mut channels = sines(48000, 997.0, &[(0.0, 10.0)]);
    channels[1].fill(0.0);
    // ITU-R BS.1770-5: -3.01 LKFS.
    assert_near(loudness(48000, &channels), -3.01, 0.05, "997 Hz, left");
}

#[test]
fn ebu_tech_3342_loudness_range() {
    // EBU Tech 3342, cases 1 to 3 [memory]: within 1 LU.
    for (a, b, wanted) in [(-20.0, -30.0, 10.0), (-20.0, -15.0, 5.0), (-40.0, -20.0, 20.0)] {
        let sound = audio(48000, &sines(48000, 1000.0, &[(a, 20.0), (b, 20.0)]));
        let energies = measure::Energies::of(&sound).expect("a rate that meters take");
        assert_near(
            energies.range().expect("it has a range"),
            wanted,
            1.0,
            format!("{a} then {b} dBFS"),
        );
    }
}

#[test]
fn ebu_tech_3341_true_peak() {
    // EBU Tech 3341, cases 15 to 19 [memory]: within +0.2 and -0.4 dB.
    for (size, degrees, wanted) in [(0.5, 0.0, -6.0), (0.5, 45.0, -6.0), (1.41, 45.0, 3.0)] {
        let angle = |i: usize| TAU * (i as f64 / 4.0 + degrees / 360.0);
        let side: Vec<f32> = (0..96000).map(|i| (size * angle(i).sin()) as f32).collect();
        let told = measure::true_peak_db(&audio(48000, &[side.clone(), side])).expect("it has a peak");
        assert!(
            (wanted - 0.4..=wanted + 0.2).contains(&told),
            "{size} at {degrees}°: {told} dBTP"
        );
    }
}

#[test]
fn pyloudnorm_reads_the_same_from_noise() {
    let values = reference("loudness");
    let size = |count, seed, by: &dyn Fn(usize) -> f64| -> Vec<f32> {
        let scaled = |(i, n): (usize, &i64)| (*n as f64 / by(i)) as f32;
        noise(count, seed).iter().enumerate().map(scaled).collect()
    };
    let steps = |i: usize| 32768.0 * [1.0, 4.0, 16.0, 2.0, 8.0][i / 96000];
    let (left, right) = (size(480_000, 31, &steps), size(480_000, 37, &steps));
    let low = size(220_500, 41, &|_| 262_144.0);
    let gate = |i: usize| if i % 48000 < 4800 { 65536.0 } else { f64::INFINITY };
    let bursts = size(288_000, 43, &gate);
    let signals = [
        vec![left.clone(), right],
        vec![left.clone(), vec![0.0; left.len()]],
        vec![left],
        vec![low.clone(), low],
        vec![bursts.clone(), bursts],
    ];
    assert_eq!(list(&values, "signals").len(), signals.len());
    for (row, channels) in list(&values, "signals").iter().zip(signals) {
        let is = loudness(number(&row["rate"]) as u32, &channels);
        assert_near(is, number(&row["lufs"]), 0.1, &row["name"]);
    }
}

#[test]
fn what_render_tells_is_what_a_meter_reads_from_the_file() {
    let desk = Desk::new();
    desk.one_shot("bell.wav", &[crate::support::pluck(660.0, 0.8, 0.7)]);
    for depth in ["16", "24", "float"] {
        let (sound, told) = desk.render_with(&crate::support::tab("120", 2, "bell 9-x- g-X-"), &["--depth", depth]);
        let again = audio(sound.rate, &sound.channels);
        let lufs = measure::loudness(&again).expect("it has a loudness");
        assert_near(lufs, number(&told["lufs"]), 0.01, format!("loudness of {depth}"));
        let peak = number(&told["true_peak_db"]);
        assert_near(
            measure::true_peak_db(&again).expect("a peak"),
            peak,
            0.05,
            format!("true peak of {depth}"),
        );
        assert_near(
            meter::true_peak_db(sound.left()),
            peak,
            0.2,
            "true peak by a meter of the test's own",
        );
    }
}

#[test]
fn silence_has_no_loudness() {
    let desk = Desk::new();
    desk.one_shot("hush.wav", &[vec![0.0; 4800]]);
    let (_, told) = desk.render_with(&crate::support::tab("120", 1, "hush x---"), &[]);
    assert!(told["lufs"].is_null() && told["true_peak_db"].is_null(), "{told}");
}
