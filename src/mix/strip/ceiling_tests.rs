//! The ceiling on what is awkward for it.

use super::*;
use crate::mix::test_signals::{beat, db, noise, run, sine, true_peak};
use proptest::prelude::*;

fn limited(signal: &[Vec<f32>], ceiling_db: f64, rate: u32) -> Vec<Vec<f32>> {
    let mut signal = signal.to_vec();
    for channel in &mut signal {
        channel.extend([0.0; 2000]);
    }
    let signal = &signal;
    run(&mut Ceiling::new(ceiling_db, rate, signal.len()), signal, &[480])
}

fn awkward() -> Vec<(&'static str, Vec<f32>)> {
    let mut squares = vec![0.0_f32; 24_000];
    for (frame, x) in squares.iter_mut().enumerate() {
        if frame % 6000 < 3000 {
            *x = if frame / 47 % 2 == 0 { 0.9 } else { -0.9 };
        }
    }
    let mut impulses = vec![0.0_f32; 24_000];
    for (index, x) in impulses.iter_mut().step_by(1511).enumerate() {
        *x = if index % 2 == 0 { 2.0 } else { -1.0 };
    }
    vec![
        ("square bursts", squares),
        (
            "a quarter of the rate at 45 degrees",
            sine(1.41, 12_000.0, std::f64::consts::FRAC_PI_4, 48_000, 12_000),
        ),
        ("a beat 9 dB over", beat(2.8)),
        ("white noise", noise(1.0, 3, 24_000)),
        ("loud white noise", noise(4.0, 5, 24_000)),
        ("impulses", impulses),
        ("19 kHz", sine(1.3, 19_000.0, 0.3, 48_000, 12_000)),
        ("a bass note", sine(1.5, 55.0, 0.3, 48_000, 24_000)),
    ]
}

#[test]
fn no_true_peak_goes_over() {
    for (name, signal) in awkward() {
        for ceiling_db in [0.0, -1.0, -6.0, -20.0] {
            let out = limited(std::slice::from_ref(&signal), ceiling_db, 48_000);
            let over = db(true_peak(&out[0])) - ceiling_db;
            assert!(over < 0.1, "{name} at {ceiling_db}: {over:+.3} dB");
        }
    }
}

#[test]
fn takes_no_more_than_it_must() {
    let out = limited(&[beat(2.8)], -1.0, 48_000);
    let over = db(true_peak(&out[0])) + 1.0;
    assert!(over > -0.15, "{over:+.3} dB");
}

#[test]
fn what_is_under_passes_bit_for_bit() {
    let signal = [beat(0.6), noise(0.3, 2, 96_000)];
    let mut ceiling = Ceiling::new(-1.0, 48_000, 2);
    let late = ceiling.latency();
    let out = run(&mut ceiling, &signal, &[480]);
    for (out, x) in out.iter().zip(&signal) {
        assert!(out[..late].iter().all(|x| *x == 0.0));
        let changed = out[late..].iter().zip(x).position(|(out, x)| out != x);
        assert_eq!(changed, None);
    }
    assert_eq!(ceiling.deepest_db(), 0.0);
    // And again some seconds after a peak: the release comes to an end.
    let mut hit = vec![0.0; 96_000];
    hit[10] = 4.0;
    run(&mut ceiling, &[hit.clone(), hit], &[480]);
    assert!(
        (ceiling.deepest_db() - 13.04 - 0.1).abs() < 0.01,
        "{}",
        ceiling.deepest_db()
    );
    ceiling.reset_deepest();
    let out = run(&mut ceiling, &signal, &[480]);
    let changed = out[0][late..].iter().zip(&signal[0]).position(|(out, x)| out != x);
    assert_eq!(changed, None);
    assert_eq!(ceiling.deepest_db(), 0.0);
}

#[test]
fn its_gain_is_smooth_and_both_sides_get_it() {
    let mut hit = vec![0.01_f32; 96_000];
    for (index, x) in hit.iter_mut().skip(2000).step_by(9001).enumerate() {
        *x = [8.0, 0.5, 2.0][index % 3];
    }
    for (signal, rate) in [
        (vec![hit.clone(), noise(0.01, 1, 96_000)], 44_100),
        (vec![noise(4.0, 3, 96_000), hit], 48_000),
    ] {
        let mut ceiling = Ceiling::new(-20.0, rate, 2);
        let late = ceiling.latency();
        let out = run(&mut ceiling, &signal, &[96_000]);
        let gains = ceiling.gains();
        let step = gains
            .windows(2)
            .fold(0.0_f64, |most, pair| most.max(db(f64::from(pair[1] / pair[0])).abs()));
        assert!(step < 1.0, "{step} dB a frame");
        for (out, x) in out.iter().zip(&signal) {
            for frame in late..96_000 {
                assert_eq!(out[frame], x[frame - late] * gains[frame]);
            }
        }
    }
}

#[test]
fn comes_back_in_its_release() {
    let mut signal = vec![0.0_f32; 48_000];
    signal[1000] = 4.0;
    let mut ceiling = Ceiling::new(0.0, 48_000, 1);
    run(&mut ceiling, &[signal], &[48_000]);
    let at = |seconds: f64| {
        db(f64::from(
            ceiling.gains()[1000 + ceiling.latency() + (seconds * 48_000.0) as usize],
        ))
    };
    // The windows hold the gain for about 3 ms, then it halves its distance in dB every 55 ms.
    let ratio = at(0.13) / at(0.05);
    assert!((ratio - libm::exp(-1.0)).abs() < 0.01, "{ratio}");
    assert!(at(0.0) < -12.0 && at(0.7) > -0.01);
}

#[test]
fn forgets_within_its_run_in_while_something_plays() {
    let signal = beat(2.0);
    let mut ceiling = Ceiling::new(-1.0, 48_000, 1);
    let frames = ceiling.run_in();
    let mut hit = ceiling.clone();
    run(&mut hit, &[vec![8.0; 4800]], &[480]);
    run(&mut hit, &[signal[..frames].to_vec()], &[480]);
    run(&mut ceiling, &[signal[..frames].to_vec()], &[480]);
    let rest = vec![signal[frames..].to_vec()];
    let (one, other) = (run(&mut hit, &rest, &[480]), run(&mut ceiling, &rest, &[480]));
    let off = one[0]
        .iter()
        .zip(&other[0])
        .fold(0.0_f32, |most, (a, b)| most.max((a - b).abs()));
    assert!(off < 1e-6, "{off}");
}

/// What the follower's gains are, frame after frame: the largest need of the window, released, its mean taken twice.
fn frame_by_frame(needs: &[u32], follower: &Follower) -> Vec<f32> {
    let last = |frame: usize, count: usize| (frame + 1).saturating_sub(count)..=frame;
    let most = |frame| needs[last(frame, follower.hold.window())].iter().max().copied();
    let mut released = Vec::new();
    for frame in 0..needs.len() {
        let fallen = (released.last().copied().unwrap_or(0_u64) * follower.kept) >> 32;
        released.push(fallen.max(u64::from(most(frame).unwrap_or(0))));
    }
    let mean = |values: &[u64]| -> Vec<u64> {
        let sums = 0..values.len();
        sums.map(|frame| values[last(frame, follower.means[0].window)].iter().sum())
            .collect()
    };
    let sums = mean(&mean(&released));
    let scale = -1.0 / follower.unit();
    sums.iter().map(|sum| exp2((*sum as f64 * scale) as f32)).collect()
}

#[test]
fn follows_as_frame_by_frame_to_the_bit() {
    for rate in [8000, 48_000, 192_000] {
        let mut follower = Ceiling::new(-1.0, rate, 1).follower;
        let mut needs = vec![0_u32; 9000];
        needs.extend(noise(1.0, 4, 700).iter().map(|x| (x.max(0.0) * 5e7) as u32));
        needs.extend([0; 30_000]);
        needs.extend([u32::MAX, 1, 0, 7]);
        needs.extend([0; 5000]);
        let wanted = frame_by_frame(&needs, &follower);
        let mut gains = Vec::new();
        for part in needs.chunks(3001) {
            follower.follow(part);
            gains.extend_from_slice(&follower.gains);
        }
        assert!(gains == wanted);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn cuts_into_blocks_change_no_bit(blocks in prop::collection::vec(1_usize..600, 1..6), ceiling_db in -20.0_f64..0.0) {
        let signal = vec![beat(2.0)[40_000..46_000].to_vec(), noise(0.7, 2, 6000)];
        let whole = run(&mut Ceiling::new(ceiling_db, 48_000, 2), &signal, &[6000]);
        prop_assert!(run(&mut Ceiling::new(ceiling_db, 48_000, 2), &signal, &blocks) == whole);
    }

    #[test]
    fn stays_finite_and_silent(ceiling_db in -60.0_f64..6.0, size in 0_i32..39, rate in 8000_u32..200_000) {
        let mut signal = noise(libm::pow(10.0, f64::from(size)).min(f64::from(f32::MAX)), 3, 500);
        signal.extend([f32::MAX, f32::MIN, f32::MAX, 1e-42]);
        let mut ceiling = Ceiling::new(ceiling_db, rate, 1);
        let out = run(&mut ceiling, &[signal], &[100]);
        prop_assert!(out[0].iter().all(|x| x.is_finite()));
        let late = ceiling.latency();
        let out = run(&mut ceiling, &[vec![0.0; 3000]], &[100]);
        prop_assert!(out[0][late..].iter().all(|x| *x == 0.0));
    }

    #[test]
    fn frames_never_go_over(peak in 0.1_f32..20.0, ceiling_db in -20.0_f64..0.0, seed in 0_u32..1000) {
        let mut signal = noise(1.0, seed, 3000);
        for (frame, x) in signal.iter_mut().enumerate() {
            *x *= peak * libm::expf(-((frame % 700) as f32) / 60.0);
        }
        let out = limited(&[signal], ceiling_db, 48_000);
        let most = crate::base::audio::peak(&out);
        prop_assert!(db(f64::from(most)) < ceiling_db + 1e-4);
    }
}
