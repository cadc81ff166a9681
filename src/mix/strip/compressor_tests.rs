//! The compressor by its static curve, its times and what it leaves alone.

use super::*;
use crate::mix::test_signals::{beat, db, noise, run, sine};
use proptest::prelude::*;

fn settings(threshold_db: f64, ratio: f64, knee_db: f64) -> Compress {
    Compress {
        threshold_db,
        ratio,
        attack: 0.02,
        release: 0.15,
        knee_db,
        makeup_db: 0.0,
        blend: 1.0,
    }
}

/// The gain in dB after two seconds of a sine at a peak level.
fn steady(settings: &Compress, level_db: f64, hz: f64) -> (f64, f64) {
    let signal = vec![sine(libm::exp10(level_db / 20.0), hz, 0.0, 48_000, 96_000)];
    let mut compressor = Compressor::new(settings, 48_000);
    run(&mut compressor, &signal, &[95_000]);
    let tail = run(&mut compressor, &signal, &[96_000]);
    assert_eq!(tail[0].len(), compressor.gains().len());
    let late = compressor.gains()[48_000..].iter().map(|gain| db(f64::from(*gain)));
    late.fold((f64::MAX, f64::MIN), |(low, high), gain| {
        (low.min(gain), high.max(gain))
    })
}

#[test]
fn follows_its_static_curve_on_steady_sines() {
    // Giannoulis, Massberg, Reiss, JAES 2012, equation 4 [memory]: T -20, R 4, hard knee, in -8 gives -17;
    // W 8 at the threshold gives (1/R - 1)·W/8 = -0.75 dB.
    for hz in [100.0, 1000.0] {
        for (settings, level_db, gain_db) in [
            (settings(-20.0, 4.0, 0.0), -8.0, -9.0),
            (settings(-20.0, 4.0, 8.0), -20.0, -0.75),
            (settings(-20.0, 4.0, 8.0), -24.5, 0.0),
            (settings(-20.0, 4.0, 8.0), -16.0, -3.0),
            (settings(-30.0, 2.0, 6.0), 0.0, -15.0),
            (settings(-18.0, f64::INFINITY, 0.0), -6.0, -12.0),
            (settings(-18.0, 1.0, 6.0), -6.0, 0.0),
        ] {
            let (low, high) = steady(&settings, level_db, hz);
            assert!(
                (low - gain_db).abs() < 0.05 && (high - gain_db).abs() < 0.05,
                "{hz} {settings:?} {low} {high}"
            );
        }
    }
}

#[test]
fn reaches_63_percent_in_its_attack_and_release() {
    for (attack, release) in [(0.02, 0.15), (0.001, 0.05), (0.1, 1.0), (0.005, 0.02)] {
        let mut settings = settings(-30.0, 4.0, 0.0);
        (settings.attack, settings.release) = (attack, release);
        let mut signal = vec![0.001_f32; 1000];
        signal.extend(vec![1.0; 96_000]);
        signal.extend(vec![0.001; 96_000]);
        let mut compressor = Compressor::new(&settings, 48_000);
        run(&mut compressor, &[signal], &[193_000]);
        let gains: Vec<f64> = compressor.gains().iter().map(|gain| db(f64::from(*gain))).collect();
        let full = gains[96_999];
        assert!((full + 22.5).abs() < 0.01, "{full}");
        let risen = gains[1000..].iter().position(|gain| *gain <= full * 0.632);
        let fallen = gains[97_000..].iter().position(|gain| *gain >= full * 0.368);
        for (frames, seconds) in [(risen, attack), (fallen, release)] {
            let measured = frames.map_or(f64::NAN, |frames| (frames as f64 + 1.0) / 48_000.0);
            assert!((measured / seconds - 1.0).abs() < 0.05, "{measured} {seconds}");
        }
    }
}

#[test]
fn is_the_detector_frame_by_frame_to_the_bit() {
    // A falling level that jumps up again and again, with rests, so that attack, release, hold and silence take turns.
    let mut signal = beat(1.2);
    signal.extend([0.0; 48_000]);
    signal.extend(noise(0.02, 3, 10_000));
    signal.extend(beat(0.5));
    for (attack, release) in [(0.02, 0.15), (0.001, 0.05), (0.3, 0.01), (0.0, 0.1), (0.1, 0.0)] {
        let settings = Compress {
            attack,
            release,
            ..settings(-24.0, 5.0, 6.0)
        };
        let mut compressor = Compressor::new(&settings, 48_000);
        run(&mut compressor, &[signal.clone()], &[signal.len()]);
        let (law, window) = (Law::new(&settings, 48_000), compressor.hold.window());
        let mut reduction = 0.0;
        for (frame, gain) in compressor.gains().iter().enumerate() {
            let held = &signal[(frame + 1).saturating_sub(window)..=frame];
            let level = held.iter().fold(0.0_f32, |most, x| most.max(x.abs()));
            let target = law.reduction(level.to_bits());
            let kept = if target > reduction { law.attack } else { law.release };
            reduction = kept * reduction + (1.0 - kept) * target;
            reduction = if reduction < NONE { 0.0 } else { reduction };
            let wanted = law.dry + law.wet * exp2(-(reduction as f32));
            assert_eq!(*gain, wanted, "{attack} {release} {frame}");
        }
    }
}

#[test]
fn blend_nulls_against_a_plain_mix() {
    let signal = vec![beat(0.9), noise(0.3, 2, 96_000)];
    let mut settings = settings(-24.0, 5.0, 6.0);
    settings.makeup_db = 4.0;
    let squeezed = run(&mut Compressor::new(&settings, 48_000), &signal, &[1024]);
    settings.blend = 0.6;
    let blended = run(&mut Compressor::new(&settings, 48_000), &signal, &[1024]);
    for ((blended, squeezed), plain) in blended
        .iter()
        .flatten()
        .zip(squeezed.iter().flatten())
        .zip(signal.iter().flatten())
    {
        assert!((blended - (0.6 * squeezed + 0.4 * plain)).abs() < 1e-6);
    }
}

#[test]
fn its_gains_are_all_it_does_and_both_sides_get_the_same() {
    let signal = vec![beat(0.9), sine(0.2, 440.0, 0.0, 48_000, 96_000)];
    let mut settings = settings(-24.0, 5.0, 6.0);
    (settings.makeup_db, settings.blend) = (3.0, 0.7);
    let mut compressor = Compressor::new(&settings, 48_000);
    let out = run(&mut compressor, &signal, &[96_000]);
    for (out, x) in out.iter().zip(&signal) {
        for ((out, x), gain) in out.iter().zip(x).zip(compressor.gains()) {
            assert_eq!(*out, x * gain);
        }
    }
    // The louder side leads, whichever it is.
    let turned = vec![signal[1].clone(), signal[0].clone()];
    let mut other = Compressor::new(&settings, 48_000);
    run(&mut other, &turned, &[96_000]);
    assert!(compressor.gains() == other.gains());
    assert!(compressor.deepest_db() > 5.0);
    compressor.reset_deepest();
    assert_eq!(compressor.deepest_db(), 0.0);
}

#[test]
fn forgets_within_its_run_in_while_something_plays() {
    let signal = beat(0.9);
    let mut compressor = Compressor::new(&settings(-20.0, 4.0, 6.0), 48_000);
    let frames = compressor.run_in();
    // One has been hit hard before, the other starts from rest.
    let mut hit = compressor.clone();
    run(&mut hit, &[vec![1.0; 48_000]], &[480]);
    run(&mut hit, &[signal[..frames].to_vec()], &[480]);
    run(&mut compressor, &[signal[..frames].to_vec()], &[480]);
    let rest = vec![signal[frames..].to_vec()];
    let (one, other) = (run(&mut hit, &rest, &[480]), run(&mut compressor, &rest, &[480]));
    let off = one[0]
        .iter()
        .zip(&other[0])
        .fold(0.0_f32, |most, (a, b)| most.max((a - b).abs()));
    assert!(off < 1e-5, "{off}");
}

#[test]
fn leaves_what_is_below_the_knee_bit_for_bit() {
    let signal = vec![noise(0.05, 1, 48_000), noise(0.05, 2, 48_000)];
    let mut compressor = Compressor::new(&settings(-18.0, 4.0, 6.0), 48_000);
    assert!(run(&mut compressor, &signal, &[480]) == signal);
    assert_eq!(compressor.deepest_db(), 0.0);
}

#[test]
fn setting_the_same_again_changes_nothing() {
    let signal = vec![beat(0.9)];
    let settings = settings(-24.0, 4.0, 6.0);
    let whole = run(&mut Compressor::new(&settings, 48_000), &signal, &[480]);
    let mut compressor = Compressor::new(&settings, 48_000);
    let mut again = Vec::new();
    for part in signal[0].chunks(32) {
        compressor.set(&settings);
        again.extend(run(&mut compressor, &[part.to_vec()], &[32]).remove(0));
    }
    assert!(again == whole[0]);
}

proptest! {
    #[test]
    fn cuts_into_blocks_change_no_bit(blocks in prop::collection::vec(1_usize..700, 1..6)) {
        let signal = vec![beat(1.2)[..9600].to_vec(), noise(0.3, 2, 9600)];
        let whole = run(&mut Compressor::new(&settings(-24.0, 4.0, 6.0), 48_000), &signal, &[9600]);
        prop_assert!(run(&mut Compressor::new(&settings(-24.0, 4.0, 6.0), 48_000), &signal, &blocks) == whole);
    }

    #[test]
    fn stays_finite_and_silent(
        threshold_db in -80.0_f64..10.0, ratio in 0.5_f64..100.0, attack in 0.0_f64..2.0, release in 0.0_f64..5.0,
        knee_db in 0.0_f64..40.0, makeup_db in -40.0_f64..40.0, blend in 0.0_f64..1.0,
    ) {
        let settings = Compress { threshold_db, ratio, attack, release, knee_db, makeup_db, blend };
        let mut compressor = Compressor::new(&settings, 48_000);
        let mut signal = noise(f64::from(f32::MAX), 1, 500);
        signal.extend([f32::MIN, f32::MIN_POSITIVE, 1e-42]);
        signal.extend([0.0; 500]);
        let out = run(&mut compressor, &[signal], &[100]);
        prop_assert!(out[0].iter().all(|x| x.is_finite()));
        prop_assert!(out[0][503..].iter().all(|x| *x == 0.0));
    }
}
