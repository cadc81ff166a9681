//! Filters by their sound, against the formulas they are made from.

use super::*;
use crate::loopfile::HIGHEST_CENTRE;
use crate::mix::test_signals::{amplitude_at, db, noise, run, sine};
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
            let computed = db(curve.gain_at(hz, 48_000));
            assert!((computed - heard(&curve, hz, 48_000)).abs() < 0.01, "{curve:?} {hz}");
        }
    }
}

/// What an analogue prototype does to a steady sine, as a factor: Butterworth cuts of second order [practice], and the cookbook's bell
/// (R. Bristow-Johnson, "Cookbook formulae for audio equalizer biquad filter coefficients").
fn prototype(curve: &Curve, hz: f64) -> f64 {
    match curve {
        Curve::LowCut(cut) => 1.0 / libm::sqrt(1.0 + libm::pow(cut / hz, 4.0)),
        Curve::HighCut(cut) => 1.0 / libm::sqrt(1.0 + libm::pow(hz / cut, 4.0)),
        Curve::Bell(bell) => {
            let (at, gain) = (hz / bell.at, libm::exp10(bell.gain_db / 40.0));
            let over_q = 2.0 * libm::sinh(std::f64::consts::LN_2 / 2.0 * bell.width);
            let size = |damping: f64| libm::hypot(1.0 - at * at, at * damping);
            size(over_q * gain) / size(over_q / gain)
        }
    }
}

/// Settings at the edges of their ranges and between them, at all kinds of rates.
fn settings() -> impl Strategy<Value = (Curve, u32)> {
    let edgy = || prop_oneof![Just(0.0), Just(1.0), 0.0_f64..=1.0];
    let rates = [
        8000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000,
    ];
    (
        prop::sample::select(rates.to_vec()),
        0..3,
        edgy(),
        -40.0_f64..=40.0,
        prop_oneof![Just(-40.0), Just(40.0), -40.0_f64..=40.0],
        edgy(),
    )
        .prop_map(|(rate, kind, at, gain_db, far_db, width)| {
            let between = |low: f64, high: f64, share: f64| (low * libm::pow(high / low, share)).min(high);
            let highest = (HIGHEST_CENTRE * f64::from(rate)).min(24_000.0);
            let curve = match kind {
                0 => Curve::LowCut(between(10.0, 24_000.0, at)),
                1 => Curve::HighCut(between(10.0, 24_000.0, at)),
                _ => bell(
                    between(10.0, highest, at),
                    if width < 0.5 { gain_db } else { far_db },
                    between(0.05, 10.0, width),
                ),
            };
            (curve, rate)
        })
}

#[test]
fn a_bell_near_half_the_rate_leaves_the_rest_alone() {
    // By the bilinear transform a bell of 3 dB and an octave at half the rate raised 60 Hz by 3 dB.
    for (at, hz, rate) in [
        (21_600.0, 60.0, 48_000),
        (19_845.0, 1000.0, 44_100),
        (19_845.0, 5000.0, 44_100),
    ] {
        let curve = bell(at, 3.0, 1.0);
        assert!((heard(&curve, hz, rate) - db(prototype(&curve, hz))).abs() < 0.01);
        assert!(heard(&curve, hz, rate) < 0.2);
    }
}

#[test]
fn low_and_narrow_curves_need_one_section() {
    for curve in [
        bell(350.0, -3.0, 1.0),
        bell(3000.0, 3.0, 1.0),
        bell(9000.0, 12.0, 0.1),
        Curve::LowCut(150.0),
        Curve::HighCut(9000.0),
    ] {
        assert_eq!(curve.sections(48_000)[1], Section::PLAIN, "{curve:?}");
    }
}

#[test]
fn a_cut_beyond_the_band_still_means_what_it_says() {
    for rate in [8000, 44_100, 48_000] {
        for curve in [Curve::LowCut(24_000.0), Curve::HighCut(24_000.0)] {
            for hz in [50.0, 1000.0, 3000.0] {
                let (is, wanted) = (heard(&curve, hz, rate), db(prototype(&curve, hz)));
                assert!(
                    (is - wanted).abs() < 0.1 || wanted < -80.0,
                    "{curve:?} {hz} {rate}: {is}, {wanted}"
                );
            }
        }
    }
    let signal = vec![noise(0.5, 1, 4000)];
    assert_eq!(
        run(&mut Filter::new(&Curve::LowCut(0.0), 48_000, 1), &signal, &[100]),
        signal
    );
    for curve in [
        Curve::LowCut(90_000.0),
        bell(40_000.0, 12.0, 1.0),
        bell(0.0, 12.0, 4.0),
        Curve::HighCut(0.0),
        Curve::HighCut(90_000.0),
    ] {
        let out = run(&mut Filter::new(&curve, 48_000, 1), &signal, &[100]);
        assert!(out[0].iter().all(|x| x.is_finite() && x.abs() < 10.0), "{curve:?}");
    }
}

/// The same signal frame by frame, as the sections' own difference equations go.
fn frame_by_frame(curve: &Curve, rate: u32, signal: &[f32]) -> Vec<f32> {
    let sections = curve.sections(rate);
    let mut states = [[0.0; 2]; 2];
    let step = |x: &f32| {
        let both = sections.iter().zip(&mut states);
        both.fold(*x, |x, (section, state)| narrow(section.step(state, f64::from(x))))
    };
    signal.iter().map(step).collect()
}

#[test]
fn groups_of_frames_null_against_single_frames() {
    for rate in [44_100, 48_000, 96_000, 192_000] {
        for curve in [
            Curve::LowCut(0.1),
            Curve::LowCut(20.0),
            Curve::LowCut(15_000.0),
            Curve::HighCut(20.0),
            Curve::HighCut(12_000.0),
            Curve::HighCut(24_000.0),
            bell(20.0, 40.0, 0.05),
            bell(20.0, -40.0, 0.05),
            bell(1000.0, 40.0, 0.05),
            bell(9000.0, -40.0, 3.0),
            bell(19_000.0, 40.0, 0.1),
        ] {
            let signal = noise(0.5, 8, 60_000);
            let wanted = frame_by_frame(&curve, rate, &signal);
            let is = run(&mut Filter::new(&curve, rate, 1), &[signal], &[4096]).remove(0);
            let most = wanted.iter().fold(0.5_f32, |most, x| most.max(x.abs()));
            let off = is.iter().zip(&wanted).map(|(is, wanted)| (is - wanted).abs());
            let off = db(f64::from(off.fold(0.0, f32::max) / most));
            assert!(off < -140.0, "{curve:?} at {rate}: {off} dB");
        }
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
fn several_forget_together() {
    for (count, curve) in [
        (8, bell(200.0, 12.0, 0.2)),
        (8, bell(200.0, -12.0, 0.2)),
        (4, Curve::LowCut(40.0)),
        (32, bell(21_000.0, 6.0, 1.0)),
    ] {
        let mut filters = vec![Filter::new(&curve, 48_000, 1); count];
        let frames = run_in(filters.iter());
        let one_by_one: usize = filters.iter().map(Effect::run_in).sum();
        assert!(
            frames <= one_by_one && (frames < 48_000 * 4),
            "{curve:?}: {frames}, {one_by_one}"
        );
        let mut signal = noise(1.0, 2, 48_000);
        let end = signal.len();
        signal.extend(vec![0.0; frames + 2000]);
        for filter in &mut filters {
            signal = run(filter, &[signal], &[256]).remove(0);
        }
        let left = signal[end + frames..].iter().fold(0.0_f32, |most, x| most.max(x.abs()));
        assert!(left < 1e-6, "{curve:?}: {left} after {frames}");
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
    assert_eq!(filter.stages[0].state, [[0.0; 2]]);
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
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn every_setting_is_its_analogue_prototype_at_every_rate((curve, rate) in settings()) {
        let (centre, width) = match &curve {
            Curve::LowCut(hz) | Curve::HighCut(hz) => (*hz, 1.0),
            Curve::Bell(bell) => (bell.at, bell.width),
        };
        let top = 0.4 * f64::from(rate);
        let off = |hz: f64| (db(curve.gain_at(hz, rate)) - db(prototype(&curve, hz))).abs();
        let over_all = (0..=60).map(|n| 5.0 * libm::pow(top / 5.0, f64::from(n) / 60.0));
        let around = (-20..=20).map(|n| centre * libm::exp2(width * f64::from(n) / 20.0));
        for hz in over_all.chain(around).filter(|hz| (5.0..=top).contains(hz)) {
            prop_assert!(off(hz) < 0.06, "{:?} at {} Hz, rate {}: {} dB", curve, hz, rate, off(hz));
        }
        if centre / 4.0 <= top {
            prop_assert!(off(centre / 4.0) < 0.05, "{:?}, two octaves below: {} dB", curve, off(centre / 4.0));
        }
        for section in curve.sections(rate) {
            prop_assert!(section.radius() < 1.0 && section.gain_at(0.49 * f64::from(rate), rate).is_finite());
        }
    }
}

proptest! {
    #[test]
    fn cuts_into_blocks_change_no_bit(blocks in prop::collection::vec(1_usize..300, 1..6), hz in 20.0_f64..20_000.0) {
        let mut signal = vec![noise(0.8, 1, 2000), noise(0.8, 2, 2000)];
        signal.iter_mut().for_each(|side| side[..333].fill(-0.0));
        for curve in [Curve::LowCut(hz), Curve::HighCut(hz), bell(hz, 7.0, 1.0)] {
            let bits = |out: &[Vec<f32>]| out.concat().iter().map(|x| x.to_bits()).collect::<Vec<u32>>();
            let whole = run(&mut Filter::new(&curve, 48_000, 2), &signal, &[2000]);
            prop_assert!(bits(&run(&mut Filter::new(&curve, 48_000, 2), &signal, &blocks)) == bits(&whole));
            let mono = run(&mut Filter::new(&curve, 48_000, 1), &signal[..1], &blocks);
            prop_assert!(bits(&mono) == bits(&whole[..1]));
        }
    }

    #[test]
    fn cuts_into_blocks_change_no_bit_of_a_sweep(
        blocks in prop::collection::vec(1_usize..90, 1..6),
        moves in prop::collection::vec((1_usize..200, 20.0_f64..20_000.0), 1..9),
        silent in 0_usize..1500,
    ) {
        let mut signal = noise(0.8, 1, 2500);
        signal[500..500 + silent].fill(0.0);
        let swept = |blocks: &[usize]| {
            let (mut filter, mut out) = (Filter::new(&bell(300.0, 6.0, 1.0), 48_000, 1), Vec::new());
            let mut rest = &signal[..];
            for (frames, hz) in moves.iter().chain([&(2500, 77.0)]) {
                let (now, later) = rest.split_at(rest.len().min(*frames));
                if !now.is_empty() {
                    out.extend(run(&mut filter, &[now.to_vec()], blocks).remove(0));
                }
                filter.set(&bell(*hz, 6.0, 1.0));
                rest = later;
            }
            out.iter().map(|x| x.to_bits()).collect::<Vec<u32>>()
        };
        prop_assert!(swept(&blocks) == swept(&[2500]));
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
