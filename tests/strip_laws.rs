//! Laws that hold for every strip a loop file admits: silence stays silence, what is finite stays finite, and nothing but
//! drive, compressor, duck and ceiling depends on level.

use proptest::prelude::*;

use pressroll::internals::loopfile::{Bell, Compress, Drive, Duck, Strip};
use pressroll::internals::mix::{Channel, SideChain};

const RATE: u32 = 48_000;
const FRAMES: usize = 6_000;

/// Either end of a range, or anything between.
fn within(low: f64, high: f64) -> impl Strategy<Value = f64> {
    prop_oneof![Just(low), Just(high), low..=high]
}

fn bell() -> impl Strategy<Value = Bell> {
    (within(10.0, 24_000.0), within(-40.0, 40.0), within(0.05, 10.0)).prop_map(|(at, gain_db, width)| Bell {
        at,
        gain_db,
        width,
    })
}

fn compress() -> impl Strategy<Value = Compress> {
    let levels = (
        within(-100.0, 0.0),
        within(1.0, 100.0),
        within(0.0, 60.0),
        within(-40.0, 40.0),
    );
    let times = (within(0.0, 1.0), within(0.001, 5.0), within(0.0, 1.0));
    (levels, times).prop_map(
        |((threshold_db, ratio, knee_db, makeup_db), (attack, release, blend))| Compress {
            threshold_db,
            ratio,
            attack,
            release,
            knee_db,
            makeup_db,
            blend,
        },
    )
}

fn drive() -> impl Strategy<Value = Drive> {
    (
        within(0.0, 60.0),
        within(0.0, 1.0),
        proptest::option::of(within(10.0, 24_000.0)),
    )
        .prop_map(|(amount_db, blend, high_cut)| Drive {
            amount_db,
            blend,
            high_cut,
        })
}

/// A strip of linear effects alone.
fn linear() -> impl Strategy<Value = Strip> {
    let cuts = (
        proptest::option::of(within(10.0, 24_000.0)),
        proptest::option::of(within(10.0, 24_000.0)),
    );
    let place = (
        within(-0.1, 0.1),
        within(0.0, 4.0),
        within(-120.0, 40.0),
        within(-1.0, 1.0),
    );
    (cuts, proptest::collection::vec(bell(), 0..4), place).prop_map(
        |((low_cut, high_cut), eq, (spread, width, gain_db, pan))| Strip {
            low_cut,
            high_cut,
            eq,
            spread,
            width,
            gain_db,
            pan,
            ..Strip::plain()
        },
    )
}

/// Any strip.
fn any() -> impl Strategy<Value = Strip> {
    let duck = within(0.0, 100.0).prop_map(|depth_db| Duck {
        by: 0,
        depth_db,
        release: 0.1,
    });
    let rest = (
        proptest::option::of(compress()),
        proptest::option::of(drive()),
        proptest::option::of(duck),
        proptest::option::of(within(-60.0, 0.0)),
    );
    (linear(), rest).prop_map(|(strip, (compress, drive, duck, ceiling_db))| Strip {
        compress,
        drive,
        duck,
        ceiling_db,
        ..strip
    })
}

/// Runs a strip over a signal on both sides; the duck follows a key that swings fully.
fn run(strip: &Strip, channels: usize, signal: &[f32]) -> [Vec<f32>; 2] {
    let mut channel = Channel::new(strip, None, channels, RATE);
    let (mut left, mut right) = (
        signal.to_vec(),
        signal.iter().map(|sample| sample * 0.5).collect::<Vec<f32>>(),
    );
    let envelope: Vec<f32> = (0..signal.len()).map(|n| (n % 2_000) as f32 / 2_000.0).collect();
    channel.run(
        [&mut left, &mut right],
        0,
        Some(SideChain {
            envelope: &envelope,
            most: 1.0,
        }),
        None,
    );
    [left, right]
}

fn rough(seed: u32, size: f32) -> Vec<f32> {
    let mut state = seed;
    let mut next = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / 8_388_608.0 - 1.0
    };
    (0..FRAMES).map(|_| size * next()).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn silence_in_silence_out(strip in any(), channels in 1usize..=2) {
        let sides = run(&strip, channels, &vec![0.0; FRAMES]);
        prop_assert!(sides.iter().flatten().all(|sample| *sample == 0.0));
    }

    #[test]
    fn finite_in_finite_out(strip in any(), channels in 1usize..=2, seed: u32, size in prop_oneof![Just(1e-30f32), Just(1.0), Just(30.0)]) {
        let sides = run(&strip, channels, &rough(seed, size));
        prop_assert!(sides.iter().flatten().all(|sample| sample.is_finite()));
    }

    #[test]
    fn linear_strips_do_not_know_level(strip in linear(), channels in 1usize..=2, seed: u32) {
        let (whole, half) = (run(&strip, channels, &rough(seed, 0.5)), run(&strip, channels, &rough(seed, 0.25)));
        let most = whole.iter().flatten().fold(0.0f32, |most, sample| most.max(sample.abs()));
        for (whole, half) in whole.iter().flatten().zip(half.iter().flatten()) {
            prop_assert!((whole - 2.0 * half).abs() <= 2e-6 * most.max(1e-20), "{} and {}", whole, half);
        }
    }
}

/// A tail that has died away must not slow a strip down: no number in it may have become denormal.
#[test]
fn a_tail_leaves_no_denormal_numbers() {
    let strip = Strip {
        low_cut: Some(30.0),
        high_cut: Some(8_000.0),
        eq: vec![Bell {
            at: 60.0,
            gain_db: 12.0,
            width: 0.1,
        }],
        compress: Some(Compress {
            threshold_db: -20.0,
            ratio: 4.0,
            attack: 0.01,
            release: 0.2,
            knee_db: 6.0,
            makeup_db: 0.0,
            blend: 1.0,
        }),
        drive: Some(Drive {
            amount_db: 6.0,
            blend: 1.0,
            high_cut: Some(6_000.0),
        }),
        ..Strip::plain()
    };
    let mut signal = vec![0.0; 40 * FRAMES];
    signal[0] = 1.0;
    let sides = run(&strip, 2, &signal);
    let denormal = |sample: &f32| *sample != 0.0 && !sample.is_normal();
    let late = &sides[0][30 * FRAMES..];
    assert!(!late.iter().any(denormal), "denormal numbers in the tail");
    assert!(late.iter().all(|sample| sample.abs() < 1e-12), "the tail has died away");
}
