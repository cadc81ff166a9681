//! Filters by their sound, against the formulas they are made from.

use super::*;
use crate::mix::signals::{amplitude_at, db, noise, run, sine};
use proptest::prelude::*;

fn bell(at: f64, gain_db: f64, width: f64) -> Curve {
    Curve::Bell(Bell { at, gain_db, width })
}

/// What a steady sine really comes out as, in dB.
fn heard(curve: &Curve, hz: f64, rate: u32) -> f64 {
    let signal = sine(0.5, hz, 0.0, rate, 2 * rate as usize);
    let out = run(&mut Filter::new(curve, rate, 1), &[signal], &[512]);
    db(amplitude_at(&out[0][rate as usize..], hz, rate) / 0.5)
}

#[test]
fn a_cut_is_3_db_down_at_its_frequency_and_falls_12_db_an_octave() {
    // A second-order Butterworth: 1 / sqrt(1 + (f/fc)^4) [practice], by the bilinear transform exact at the cut.
    for rate in [44_100, 48_000, 96_000] {
        let low = Curve::LowCut(400.0);
        let high = Curve::HighCut(1000.0);
        assert!((heard(&low, 400.0, rate) + 3.01).abs() < 0.01);
        assert!((heard(&high, 1000.0, rate) + 3.01).abs() < 0.01);
        let octave = heard(&low, 50.0, rate) - heard(&low, 25.0, rate);
        assert!((octave - 12.04).abs() < 0.05, "{octave}");
        let octave = heard(&Curve::HighCut(200.0), 1000.0, rate) - heard(&Curve::HighCut(200.0), 2000.0, rate);
        assert!((octave - 12.04).abs() < 0.2, "{octave}");
        assert!(heard(&low, 8000.0, rate).abs() < 0.01);
        assert!(heard(&high, 30.0, rate).abs() < 0.01);
    }
}

#[test]
fn a_bell_has_its_gain_at_its_centre_and_half_of_it_at_its_sides() {
    for (gain_db, width) in [(6.0, 1.0), (-9.0, 0.5), (12.0, 2.0), (-3.0, 1.0)] {
        let curve = bell(350.0, gain_db, width);
        assert!((heard(&curve, 350.0, 48_000) - gain_db).abs() < 0.01);
        // The cookbook's bandwidth: octaves between the points of half the gain in dB.
        for side in [-0.5, 0.5] {
            let edge = heard(&curve, 350.0 * libm::exp2(side * width), 48_000);
            assert!((edge - gain_db / 2.0).abs() < 0.05, "{gain_db} {width} {edge}");
        }
        assert!(heard(&curve, 12_000.0, 48_000).abs() < 0.05);
    }
}

#[test]
fn its_curve_as_computed_is_the_curve_as_heard() {
    for curve in [Curve::LowCut(90.0), Curve::HighCut(7000.0), bell(2500.0, 5.0, 0.7)] {
        for hz in [40.0, 300.0, 2500.0, 11_000.0] {
            let computed = db(Section::new(&curve, 48_000).gain_at(hz, 48_000));
            assert!((computed - heard(&curve, hz, 48_000)).abs() < 0.01, "{curve:?} {hz}");
        }
    }
}

#[test]
fn equals_the_reference_coefficients() {
    // The bilinear transform of 1 / (s² + √2·s + 1) with K = tan(π·cut/rate): b0 = K² / (1 + √2·K + K²); so too
    // scipy.signal.butter(2, 1000, fs=48000). [memory]
    let section = Section::new(&Curve::HighCut(1000.0), 48_000);
    let k = libm::tan(std::f64::consts::PI / 48.0);
    assert!((section.b[0] - k * k / (1.0 + std::f64::consts::SQRT_2 * k + k * k)).abs() < 1e-15);
    assert!((section.b[0] - 0.003_916_126_66).abs() < 1e-9, "{section:?}");
    assert!((section.a[0] + 1.815_341_08).abs() < 1e-7, "{section:?}");
    assert!((section.a[1] - 0.831_005_59).abs() < 1e-7, "{section:?}");
}

#[test]
fn a_cut_beyond_the_band_changes_nothing_or_stays_finite() {
    let signal = vec![noise(0.5, 1, 4000)];
    for hz in [23_600.0, 24_000.0, 100_000.0] {
        assert_eq!(
            run(&mut Filter::new(&Curve::HighCut(hz), 48_000, 1), &signal, &[100]),
            signal
        );
    }
    assert_eq!(
        run(&mut Filter::new(&Curve::LowCut(0.0), 48_000, 1), &signal, &[100]),
        signal
    );
    for curve in [
        Curve::LowCut(90_000.0),
        bell(40_000.0, 12.0, 1.0),
        bell(0.0, 12.0, 4.0),
        Curve::HighCut(0.0),
    ] {
        let out = run(&mut Filter::new(&curve, 48_000, 1), &signal, &[100]);
        assert!(out[0].iter().all(|x| x.is_finite() && x.abs() < 10.0), "{curve:?}");
    }
}

#[test]
fn in_a_chain_they_do_what_they_do_one_by_one() {
    let curves = [Curve::LowCut(90.0), bell(500.0, 4.0, 1.0), Curve::HighCut(3000.0)];
    for channels in [1, 2] {
        let signal: Vec<Vec<f32>> = (0..channels).map(|side| noise(0.5, 5 + side as u32, 3000)).collect();
        let filters = || curves.clone().map(|curve| Filter::new(&curve, 48_000, channels));
        let mut one_by_one = signal.clone();
        for filter in &mut filters() {
            one_by_one = run(filter, &one_by_one, &[77]);
        }
        let (mut chained, mut at_work) = (signal, filters());
        for from in (0..3000).step_by(500) {
            let mut block: Vec<&mut [f32]> = chained.iter_mut().map(|side| &mut side[from..from + 500]).collect();
            chain(at_work.iter_mut(), &mut block);
        }
        assert!(chained == one_by_one);
    }
}

#[test]
fn forgets_within_its_run_in() {
    for curve in [
        Curve::LowCut(20.0),
        Curve::LowCut(150.0),
        Curve::HighCut(6000.0),
        bell(60.0, 12.0, 0.1),
        bell(60.0, -12.0, 3.0),
        bell(350.0, 0.0, 1.0),
    ] {
        let mut filter = Filter::new(&curve, 48_000, 1);
        let frames = filter.run_in();
        let mut signal = noise(1.0, 2, 48_000);
        let end = signal.len();
        signal.extend(vec![0.0; frames + 2000]);
        let out = run(&mut filter, &[signal], &[256]);
        let left = out[0][end + frames..].iter().fold(0.0_f32, |most, x| most.max(x.abs()));
        assert!(left < 1e-6, "{curve:?}: {left} after {frames}");
        // And it isn't far too long: a tenth of it would not be enough.
        let early = out[0][end + frames / 10..end + frames]
            .iter()
            .fold(0.0_f32, |most, x| most.max(x.abs()));
        assert!(
            early > 1e-6 || matches!(curve, Curve::Bell(Bell { gain_db: 0.0, .. })),
            "{curve:?}: {early}"
        );
    }
}

#[test]
fn its_tail_ends_in_silence() {
    let mut filter = Filter::new(&Curve::LowCut(30.0), 48_000, 1);
    let mut signal = noise(1.0, 2, 1000);
    signal.extend(vec![0.0; 96_000]);
    let out = run(&mut filter, &[signal], &[256]);
    assert!(out[0].iter().all(|x| *x == 0.0 || x.is_normal()));
    assert!(out[0][90_000..].iter().all(|x| *x == 0.0));
    assert_eq!(filter.state, [[0.0; 2]]);
}

#[test]
fn glides_while_it_is_swept() {
    for signal in [
        noise(0.5, 1, 4800),
        sine(0.5, 100.0, 1.0, 48_000, 4800),
        sine(0.5, 1500.0, 1.0, 48_000, 4800),
    ] {
        for (from, to) in [
            (20.0, 20_000.0),
            (20_000.0, 20.0),
            (200.0, 2000.0),
            (2000.0, 200.0),
            (80.0, 8000.0),
            (8000.0, 80.0),
        ] {
            for low in [false, true] {
                let mut filter = Filter::new(&Curve::HighCut(1000.0), 48_000, 1);
                let mut most = 0.0_f32;
                for (index, part) in signal.chunks(32).enumerate() {
                    let share = (index as f64 - 60.0).clamp(0.0, 8.0) / 8.0;
                    let hz = from * libm::pow(to / from, share);
                    filter.set(&if low { Curve::LowCut(hz) } else { Curve::HighCut(hz) });
                    let out = run(&mut filter, &[part.to_vec()], &[32]);
                    if index > 50 {
                        most = out[0].iter().fold(most, |most, x| most.max(x.abs()));
                    }
                }
                // A step of the ratio 1000 in 5 ms is further than any sweep goes; even so there is no burst.
                let room = if (to / from).max(from / to) > 500.0 { 2.0 } else { 1.0 };
                assert!(most < room, "{from} {to} {low}: {most}");
            }
        }
    }
}

proptest! {
    #[test]
    fn cuts_into_blocks_change_no_bit(blocks in prop::collection::vec(1_usize..300, 1..6), hz in 20.0_f64..20_000.0) {
        let signal = vec![noise(0.8, 1, 2000), noise(0.8, 2, 2000)];
        for curve in [Curve::LowCut(hz), Curve::HighCut(hz), bell(hz, 7.0, 1.0)] {
            let whole = run(&mut Filter::new(&curve, 48_000, 2), &signal, &[2000]);
            prop_assert!(run(&mut Filter::new(&curve, 48_000, 2), &signal, &blocks) == whole);
            let mono = run(&mut Filter::new(&curve, 48_000, 1), &signal[..1], &blocks);
            prop_assert!(mono[0] == whole[0]);
        }
    }

    #[test]
    fn stays_finite(hz in 0.0_f64..200_000.0, gain_db in -48.0_f64..48.0, width in 0.01_f64..8.0, size in 0_i32..39) {
        let mut signal = vec![noise(libm::pow(10.0, f64::from(size)).min(f64::from(f32::MAX)), 3, 1000)];
        signal[0][0] = f32::MAX;
        for curve in [Curve::LowCut(hz), Curve::HighCut(hz), bell(hz, gain_db, width)] {
            let out = run(&mut Filter::new(&curve, 44_100, 1), &signal, &[100]);
            prop_assert!(out[0].iter().all(|x| x.is_finite()), "{:?}", curve);
        }
    }
}
