//! The saturator by what it adds, what it leaves, and its cuts into blocks and pieces.

use super::*;
use crate::mix::test_signals::{amplitude_at, beat, db, noise, rms, run, sine};
use proptest::prelude::*;

fn driven(amount_db: f64) -> Drive {
    Drive {
        amount_db,
        blend: 1.0,
        high_cut: None,
    }
}

fn loudness(signal: &[f32]) -> f64 {
    let mut meter = ebur128::EbuR128::new(1, 48_000, ebur128::Mode::I).expect("a meter for one channel");
    meter.add_frames_f32(signal).expect("whole frames");
    meter.loudness_global().expect("a meter that was asked for it")
}

fn through(settings: &Drive, signal: &[f32], rate: u32) -> Vec<f32> {
    run(&mut Saturator::new(settings, rate, 1), &[signal.to_vec()], &[512]).remove(0)
}

#[test]
fn aliases_stay_far_under_the_fundamental() {
    // A 5 kHz sine driven 12 dB at 48 kHz: more than 70 dB under. Full scale is the worst that can come.
    for rate in [44_100, 48_000] {
        let settled = &through(&driven(12.0), &sine(1.0, 5000.0, 0.0, rate, 24_000), rate)[12_000..];
        let fundamental = amplitude_at(settled, 5000.0, rate);
        let third = db(amplitude_at(settled, 15_000.0, rate) / fundamental);
        assert!((-20.0..-12.0).contains(&third), "{third}");
        for harmonic in (5..50).step_by(2) {
            let hz = f64::from(harmonic) * 5000.0;
            let alias = (hz - f64::from(rate) * libm::round(hz / f64::from(rate))).abs();
            if (alias - 5000.0).abs() > 100.0 && (alias - 15_000.0).abs() > 100.0 {
                let level = db(amplitude_at(settled, alias, rate) / fundamental);
                assert!(level < -80.0, "{rate}: {alias} Hz at {level} dB");
            }
        }
    }
}

#[test]
fn keeps_the_loudness_of_drums() {
    for peak in [1.0, 0.5, 0.25] {
        let mut drums = vec![0.0; 4800];
        drums.extend(beat(peak));
        drums.extend([0.0; 4800]);
        for amount_db in [1.0, 3.0, 6.0, 12.0] {
            let change = loudness(&through(&driven(amount_db), &drums, 48_000)) - loudness(&drums);
            assert!(change.abs() < 1.2, "{amount_db} dB at a peak of {peak}: {change}");
        }
    }
}

#[test]
fn squeezes_peaks_the_more_the_further_it_is_driven() {
    let drums = beat(0.9);
    let crest = |signal: &[f32]| db(f64::from(signal.iter().fold(0.0_f32, |most, x| most.max(x.abs()))) / rms(signal));
    let crests: Vec<f64> = [1.0, 6.0, 12.0]
        .iter()
        .map(|amount| crest(&through(&driven(*amount), &drums, 48_000)))
        .collect();
    assert!(
        crest(&drums) > crests[0] && crests[0] > crests[1] + 0.3 && crests[1] > crests[2] + 0.8,
        "{crests:?}"
    );
}

#[test]
fn blends_without_a_comb_and_keeps_the_time() {
    // Far below the curve's bend it only scales, so any blend must scale every frequency alike.
    for hz in [60.0, 700.0, 5000.0, 9000.0] {
        let quiet = sine(0.001, hz, 0.0, 48_000, 48_000);
        let half = Drive {
            blend: 0.5,
            ..driven(12.0)
        };
        let gain = |settings: &Drive| amplitude_at(&through(settings, &quiet, 48_000)[24_000..], hz, 48_000) / 0.001;
        let (full, half) = (gain(&driven(12.0)), gain(&half));
        assert!((half - (1.0 + full) / 2.0).abs() < 0.005, "{hz}: {half} {full}");
    }
    let drums = beat(0.7);
    let off = through(
        &Drive {
            blend: 0.0,
            ..driven(12.0)
        },
        &drums,
        48_000,
    );
    assert!(off[LATENCY..] == drums[..drums.len() - LATENCY]);
    assert_eq!(Saturator::new(&driven(3.0), 48_000, 2).latency(), LATENCY);
    // What it adds lies exactly on what was there: the answer to an impulse is symmetrical about it.
    let mut impulse = vec![0.0; 200];
    impulse[100] = 0.9;
    let answer = through(&driven(6.0), &impulse, 48_000);
    for away in 1..LATENCY {
        let (before, after) = (answer[100 + LATENCY - away], answer[100 + LATENCY + away]);
        assert!((before - after).abs() < 1e-3, "{away}: {before} {after}");
    }
}

#[test]
fn the_high_cut_dulls_what_is_added_alone() {
    let tone = sine(0.8, 2000.0, 0.0, 48_000, 48_000);
    let third = |high_cut| {
        let out = through(
            &Drive {
                high_cut,
                ..driven(12.0)
            },
            &tone,
            48_000,
        );
        amplitude_at(&out[24_000..], 6000.0, 48_000)
    };
    let cut = db(third(Some(3000.0)) / third(None));
    // 1 / sqrt(1 + 2^4), an octave above a second-order Butterworth's cut, a little more by the bilinear transform.
    assert!((-13.5..-12.0).contains(&cut), "{cut}");
    let hiss = sine(0.01, 15_000.0, 0.0, 48_000, 48_000);
    let dull = through(
        &Drive {
            high_cut: Some(500.0),
            ..driven(12.0)
        },
        &hiss,
        48_000,
    );
    assert!(db(amplitude_at(&dull[24_000..], 15_000.0, 48_000) / 0.01).abs() < 0.1);
}

#[test]
fn adds_no_offset() {
    // Narrow pulses upwards, wide ones downwards: no mean, until an odd curve squeezes the narrow ones.
    let lopsided: Vec<f32> = (0..192_000)
        .map(|frame| if frame % 480 < 96 { 0.8 } else { -0.2 })
        .collect();
    let out = through(&driven(12.0), &lopsided, 48_000);
    let mean = out[96_000..].iter().map(|x| f64::from(*x)).sum::<f64>() / 96_000.0;
    let bent = lopsided.iter().map(|x| f64::from(curve(2.0 * x))).sum::<f64>() / 192_000.0;
    assert!(bent.abs() > 0.05, "the curve alone: {bent}");
    assert!(mean.abs() < 2e-4, "{mean}");
}

#[test]
fn forgets_within_its_run_in() {
    let settings = Drive {
        high_cut: Some(2000.0),
        ..driven(9.0)
    };
    let saturator = Saturator::new(&settings, 48_000, 1);
    let frames = saturator.run_in();
    let mut signal: Vec<f32> = vec![0.7; 48_000];
    signal.extend(vec![0.0; frames + 500]);
    let out = through(&settings, &signal, 48_000);
    assert!(out[48_000 + frames..].iter().all(|x| x.abs() < 1e-6));
}

#[test]
fn begins_a_sweep_with_nothing() {
    let drums = beat(0.9);
    let off = through(&driven(0.0), &drums, 48_000);
    assert!(off[LATENCY..] == drums[..drums.len() - LATENCY]);
    let slight = through(&driven(0.01), &drums, 48_000);
    let most = slight
        .iter()
        .zip(&off)
        .fold(0.0_f32, |most, (a, b)| most.max((a - b).abs()));
    assert!(most > 0.0 && most < 0.002, "{most}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn cuts_into_blocks_change_no_bit(blocks in prop::collection::vec(1_usize..600, 1..6), amount_db in 0.1_f64..24.0) {
        let signal = vec![noise(0.8, 1, 3000), noise(0.8, 2, 3000)];
        let settings = Drive { high_cut: Some(4000.0), blend: 0.8, amount_db };
        let whole = run(&mut Saturator::new(&settings, 48_000, 2), &signal, &[3000]);
        prop_assert!(run(&mut Saturator::new(&settings, 48_000, 2), &signal, &blocks) == whole);
    }

    #[test]
    fn pieces_change_no_bit(
        blocks in prop::collection::vec(1_usize..14_000, 1..4), silent in 0_usize..9000, amount_db in 0.1_f64..24.0,
    ) {
        let mut signal = vec![noise(0.8, 1, 24_000), noise(0.8, 2, 24_000)];
        signal.iter_mut().for_each(|side| side[4000..4000 + silent].fill(0.0));
        let settings = Drive { high_cut: Some(4000.0), blend: 0.8, amount_db };
        let bits = |blocks: &[usize]| -> Vec<u32> {
            let out = run(&mut Saturator::new(&settings, 48_000, 2), &signal, blocks);
            out.concat().iter().map(|x| x.to_bits()).collect()
        };
        prop_assert!(bits(&blocks) == bits(&[500]));
    }

    #[test]
    fn is_odd(amount_db in 0.1_f64..24.0) {
        let signal = noise(0.9, 1, 1000);
        let turned: Vec<f32> = signal.iter().map(|x| -x).collect();
        let out = through(&driven(amount_db), &turned, 48_000);
        let back: Vec<f32> = out.iter().map(|x| -x).collect();
        prop_assert!(through(&driven(amount_db), &signal, 48_000) == back);
    }

    #[test]
    fn stays_finite_and_silent(amount_db in 0.0_f64..100.0, blend in 0.0_f64..1.0, size in 0_i32..39) {
        let settings = Drive { amount_db, blend, high_cut: Some(8000.0) };
        let mut signal = noise(libm::pow(10.0, f64::from(size)).min(f64::from(f32::MAX)), 3, 500);
        signal.extend([f32::MAX, f32::MIN, f32::MAX, 1e-42]);
        prop_assert!(through(&settings, &signal, 48_000).iter().all(|x| x.is_finite()));
        prop_assert!(through(&settings, &[0.0; 500], 48_000).iter().all(|x| *x == 0.0));
    }
}
