use proptest::prelude::*;
use rand_pcg::rand_core::Rng;

use super::*;

const RATE: u32 = 48_000;

/// Adds the echoes of a send to a signal that may be longer, to hold the ring.
fn add(delay: &Delay, rate: u32, send: &[Vec<f32>; 2], shape: Shape, gain: f32, out: &mut [Vec<f32>; 2]) {
    let mut sides = send.clone();
    if let Shape::Line = shape {
        sides.iter_mut().for_each(|side| side.resize(out[0].len(), 0.0));
    }
    answer(delay, rate, &mut sides, shape, gain);
    for (out, side) in out.iter_mut().zip(&sides) {
        out.iter_mut().zip(side).for_each(|(out, echo)| *out += echo);
    }
}

fn plain(time: f64, feedback: f64) -> Delay {
    Delay {
        time,
        feedback,
        low_cut: None,
        high_cut: None,
        cross: false,
    }
}

fn noise(stream: u64, frames: usize) -> Vec<f32> {
    let mut random = rand_pcg::Pcg32::new(7, stream);
    (0..frames)
        .map(|_| (f64::from(random.next_u32()) / 2f64.powi(31) - 1.0) as f32)
        .collect()
}

fn pair(stream: u64, frames: usize) -> [Vec<f32>; 2] {
    [noise(stream, frames), noise(stream + 1, frames)]
}

fn silence(frames: usize) -> [Vec<f32>; 2] {
    [vec![0.0; frames], vec![0.0; frames]]
}

fn click(frames: usize) -> [Vec<f32>; 2] {
    let mut send = silence(frames);
    send[0][0] = 1.0;
    send
}

/// What two signals differ by, in dB under the second.
fn null(one: &[Vec<f32>; 2], other: &[Vec<f32>; 2]) -> f64 {
    let (mut apart, mut whole) = (0.0, 1e-300);
    for (one, other) in one.iter().flatten().zip(other.iter().flatten()) {
        apart += libm::pow(f64::from(*one) - f64::from(*other), 2.0);
        whole += libm::pow(f64::from(*other), 2.0);
    }
    10.0 * libm::log10(apart / whole + 1e-300)
}

/// Where a click at a fraction of a frame lies and how strong it is: by the phase and the sum of its low frequencies.
fn place_and_level(side: &[f32], near: usize) -> (f64, f64) {
    let window = &side[near - 64..near + 64];
    let angle = std::f64::consts::TAU * 2.0 / 128.0;
    let (mut sum, mut re, mut im) = (0.0, 0.0, 0.0);
    for (frame, sample) in window.iter().enumerate() {
        sum += f64::from(*sample);
        re += f64::from(*sample) * libm::cos(angle * (frame as f64 - 64.0));
        im += f64::from(*sample) * libm::sin(angle * (frame as f64 - 64.0));
    }
    (near as f64 + libm::atan2(im, re) / angle, sum)
}

#[test]
fn echoes_fall_where_and_as_loud_as_asked() {
    for time in [0.1, 0.010_027, 1.0 / 7.0, 0.375, 0.163_043_478] {
        let frames = RATE as usize * 4;
        let mut out = silence(frames);
        add(&plain(time, 0.8), RATE, &click(1), Shape::Line, 1.0, &mut out);
        for echo in 1..=9 {
            let wanted = f64::from(echo) * time * f64::from(RATE);
            let (place, level) = place_and_level(&out[0], wanted.round() as usize);
            assert!(
                (place - wanted).abs() < 0.01,
                "echo {echo} of {time} s: {place}, not {wanted}"
            );
            let wanted = libm::pow(0.8, f64::from(echo - 1));
            assert!(
                (level / wanted - 1.0).abs() < 1e-4,
                "echo {echo} of {time} s: {level}, not {wanted}"
            );
        }
        assert!(out[1].iter().all(|s| *s == 0.0), "nothing crosses unless asked to");
    }
}

#[test]
fn the_first_echo_is_the_send_itself() {
    let send = pair(1, 5000);
    let mut out = silence(5480);
    add(&plain(0.01, 0.0), RATE, &send, Shape::Line, 0.5, &mut out);
    for (out, send) in out.iter().zip(&send) {
        assert!(out[..480].iter().all(|s| *s == 0.0));
        assert!(out[480..].iter().zip(send).all(|(wet, dry)| *wet == dry * 0.5));
    }
}

#[test]
fn interpolation_keeps_the_highs() {
    // A sine's tenth echo, at half a frame: within 0.1 dB up to 0.4 of the rate.
    for hertz in [100.0, 1000.0, 8000.0, 15_000.0, 19_000.0] {
        let tone: Vec<f32> = (0..RATE)
            .map(|frame| libm::sin(std::f64::consts::TAU * hertz * f64::from(frame) / f64::from(RATE)) as f32)
            .collect();
        let time = 2000.5 / f64::from(RATE);
        let mut send = [tone.clone(), tone];
        let power = |side: &[f32]| side.iter().map(|s| f64::from(s * s)).sum::<f64>() / side.len() as f64;
        for _ in 0..10 {
            let mut out = silence(RATE as usize);
            add(&plain(time, 0.0), RATE, &send, Shape::Line, 1.0, &mut out);
            send = out;
        }
        let change = 10.0 * libm::log10(power(&send[0][25_000..45_000]) / 0.5);
        assert!(change.abs() < 0.1, "{hertz} Hz: {change} dB");
    }
}

#[test]
fn each_echo_goes_through_the_filters_once_more() {
    let delay = Delay {
        low_cut: Some(200.0),
        high_cut: Some(6000.0),
        ..plain(0.5, 0.5)
    };
    let mut out = silence(RATE as usize * 2);
    add(&delay, RATE, &click(1), Shape::Line, 1.0, &mut out);
    let gain = |side: &[f32], hertz: f64| {
        let angle = std::f64::consts::TAU * hertz / f64::from(RATE);
        let (mut re, mut im) = (0.0, 0.0);
        for (frame, sample) in side.iter().enumerate() {
            re += f64::from(*sample) * libm::cos(angle * frame as f64);
            im += f64::from(*sample) * libm::sin(angle * frame as f64);
        }
        20.0 * libm::log10(libm::hypot(re, im))
    };
    for echo in 1..=3 {
        let from = echo * 24_000;
        let sound = &out[0][from..from + 23_000];
        let fed_back = 20.0 * libm::log10(0.5) * (echo - 1) as f64;
        for hertz in [200.0, 6000.0] {
            // Both cuts once more for each echo; what one of them does at its frequency is tested beside the filters.
            let once = |curve: Curve| 20.0 * libm::log10(curve.gain_at(hertz, RATE));
            let both = once(Curve::LowCut(200.0)) + once(Curve::HighCut(6000.0));
            let change = gain(sound, hertz) - fed_back;
            assert!(
                (change - both * echo as f64).abs() < 0.01,
                "echo {echo}, {hertz} Hz: {change} dB"
            );
        }
    }
}

#[test]
fn crossing_echoes_change_sides() {
    let delay = Delay {
        cross: true,
        ..plain(0.1, 0.6)
    };
    let mut out = silence(RATE as usize);
    let mut send = click(1);
    send[1][0] = 0.5;
    add(&delay, RATE, &send, Shape::Line, 1.0, &mut out);
    for echo in 1..10 {
        let level = 1.5 * std::f64::consts::FRAC_1_SQRT_2 * libm::pow(0.6, (echo - 1) as f64);
        let (on, off) = if echo % 2 == 1 { (0, 1) } else { (1, 0) };
        assert!((f64::from(out[on][echo * 4800]) - level).abs() < 1e-6);
        assert_eq!(out[off][echo * 4800], 0.0);
    }
    assert_eq!(out.iter().flatten().filter(|s| **s != 0.0).count(), 9);
}

#[test]
fn a_circle_is_the_hundredth_time_round() {
    for (time, feedback, frames, rounds) in [
        (0.2, 0.3, 30_000, 20),
        (0.163_043_478, 0.95, 100_000, 25),
        (1.7, 0.7, 20_000, 250),
        (0.001_3, 0.9, 7000, 20),
    ] {
        for cross in [false, true] {
            let delay = Delay {
                low_cut: Some(150.0),
                high_cut: Some(6000.0),
                cross,
                ..plain(time, feedback)
            };
            let send = pair(1, frames);
            let many = [0, 1].map(|side: usize| send[side].repeat(rounds));
            let mut long = silence(frames * rounds);
            add(&delay, RATE, &many, Shape::Line, 1.0, &mut long);
            let last = long.map(|side| side[frames * (rounds - 1)..].to_vec());
            let mut out = silence(frames);
            add(&delay, RATE, &send, Shape::Circle, 1.0, &mut out);
            let null = null(&out, &last);
            assert!(null < -110.0, "{time} s, {feedback}, {cross}: {null} dB");
        }
    }
}

#[test]
fn what_rings_has_rung_when_it_says_so() {
    for (time, feedback) in [(0.3, 0.35), (0.05, 0.9), (0.4, 0.0)] {
        let delay = Delay {
            low_cut: Some(200.0),
            high_cut: Some(6000.0),
            ..plain(time, feedback)
        };
        let ring = (ring_seconds(&delay) * f64::from(RATE)) as usize;
        let mut out = silence(ring + RATE as usize);
        add(&delay, RATE, &click(1), Shape::Line, 1.0, &mut out);
        let loudest = out[0][ring..].iter().fold(0.0, |most: f32, s| most.max(s.abs()));
        assert!(loudest < 1e-5, "{time} s, {feedback}: {loudest}");
        assert!(ring_seconds(&delay) < 100.0);
    }
}

#[test]
fn tails_end_in_silence_and_not_in_slow_numbers() {
    let delay = Delay {
        low_cut: Some(500.0),
        high_cut: Some(3000.0),
        ..plain(0.003_3, 0.5)
    };
    let mut out = silence(RATE as usize * 4);
    add(&delay, RATE, &click(1), Shape::Line, 1.0, &mut out);
    assert!(out.iter().flatten().all(|s| *s == 0.0 || s.is_normal()));
    assert!(out[0][RATE as usize * 3..].iter().all(|s| *s == 0.0));
}

#[test]
fn odd_delays_stay_finite() {
    for time in [0.0, 1e-6, 0.000_03, 0.000_2, 3.0] {
        for feedback in [0.0, 0.95, 0.999_999, 2.0] {
            let mut out = silence(3000);
            add(&plain(time, feedback), 8000, &pair(1, 3000), Shape::Line, 1.0, &mut out);
            assert!(out.iter().flatten().all(|s| s.is_finite()), "{time} {feedback}");
        }
    }
    let mut out = silence(10);
    add(&plain(0.1, 0.5), RATE, &silence(0), Shape::Circle, 1.0, &mut out);
    assert_eq!(out, silence(10));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(30))]

    #[test]
    fn turning_the_circle_turns_its_echoes(
        frames in 1_usize..9000, turn in 0_usize..9000, time in 0.0001_f64..0.3, feedback in 0.0_f64..0.8,
        cross in any::<bool>()
    ) {
        let delay = Delay { high_cut: Some(5000.0), cross, ..plain(time, feedback) };
        let send = pair(3, frames);
        let turn = turn % frames;
        let mut straight = silence(frames);
        add(&delay, RATE, &send, Shape::Circle, 1.0, &mut straight);
        let mut turned = send.clone();
        turned.iter_mut().for_each(|side| side.rotate_left(turn));
        let mut out = silence(frames);
        add(&delay, RATE, &turned, Shape::Circle, 1.0, &mut out);
        straight.iter_mut().for_each(|side| side.rotate_left(turn));
        prop_assert!(null(&out, &straight) < -110.0);
    }

    #[test]
    fn echoes_of_a_sum_are_the_sum_of_echoes(
        frames in 1_usize..5000, time in 0.0001_f64..0.1, feedback in 0.0_f64..0.9, by in -4.0_f32..4.0
    ) {
        let delay = Delay { low_cut: Some(200.0), ..plain(time, feedback) };
        let (one, other) = (pair(3, frames), pair(5, frames));
        let both = [0, 1].map(|side: usize| {
            one[side].iter().zip(&other[side]).map(|(a, b)| a + by * b).collect::<Vec<f32>>()
        });
        let length = frames + 5000;
        let mut apart = silence(length);
        add(&delay, RATE, &one, Shape::Line, 1.0, &mut apart);
        add(&delay, RATE, &other, Shape::Line, by, &mut apart);
        let mut together = silence(length);
        add(&delay, RATE, &both, Shape::Line, 1.0, &mut together);
        prop_assert!(null(&together, &apart) < -110.0);
    }

    #[test]
    fn silence_stays_silent(frames in 1_usize..3000, time in 0.0001_f64..0.1, feedback in 0.0_f64..0.95) {
        let mut out = silence(frames);
        add(&plain(time, feedback), RATE, &silence(frames), Shape::Circle, 1.0, &mut out);
        prop_assert_eq!(out, silence(frames));
    }
}

#[test]
fn the_longest_echoes_at_the_most_feedback_have_a_bounded_run_in() {
    for (time, feedback) in [(48.0, 0.98), (0.5, 0.98), (60.0, 0.0)] {
        let delay = Delay {
            time,
            feedback,
            ..plain(0.1, 0.3)
        };
        let frames = Echoes::new(&delay, 48_000, 2).run_in(&delay, 48_000);
        assert!(frames <= 600 * 48_000, "{time} s: {frames}");
    }
    // What is allowed and usual is exact: 98 % of half a second takes 340 s to fall by 120 dB.
    let delay = plain(0.5, 0.98);
    assert!(Echoes::new(&delay, 48_000, 2).run_in(&delay, 48_000) > 340 * 48_000);
}
