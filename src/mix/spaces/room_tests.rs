use realfft::RealFftPlanner;

use super::*;

const RATE: u32 = 48_000;

fn room(size: f64, decay: f64, damping: f64) -> Room {
    Room {
        size,
        decay,
        damping,
        predelay: 0.0,
        low_cut: None,
    }
}

/// What each side gives back for a send that is the same at both.
fn mono(response: &Response) -> [Vec<f32>; 2] {
    let Some(cross) = &response.cross else {
        return response.direct.clone();
    };
    [0, 1].map(|side| {
        let pair = response.direct[side].iter().zip(&cross[1 - side]);
        pair.map(|(near, far)| near + far).collect()
    })
}

/// One octave of a response, by the magnitude of a Butterworth band-pass of the third order, as octave filters of
/// IEC 61260 commonly are.
fn octave(response: &[f32], centre: f64) -> Vec<f64> {
    let points = (2 * response.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(points), planner.plan_fft_inverse(points));
    let mut time = forward.make_input_vec();
    for (into, sample) in time.iter_mut().zip(response) {
        *into = f64::from(*sample);
    }
    let mut spectrum = forward.make_output_vec();
    forward.process(&mut time, &mut spectrum).expect("measured");
    for (bin, value) in spectrum.iter_mut().enumerate() {
        let hertz = (bin as f64 * f64::from(RATE) / points as f64).max(1.0);
        let off = (hertz / centre - centre / hertz) * std::f64::consts::SQRT_2;
        *value /= (1.0 + libm::pow(off, 6.0)).sqrt() * points as f64;
    }
    spectrum[0].im = 0.0;
    spectrum[points / 2].im = 0.0;
    inverse.process(&mut spectrum, &mut time).expect("measured");
    time.truncate(response.len());
    time
}

/// T30 by Schroeder's backward integration, ISO 3382-1: the line through -5 to -35 dB, continued to 60 dB.
fn t30(signal: &[f64]) -> f64 {
    let mut left: f64 = signal.iter().map(|s| s * s).sum();
    let whole = left;
    let mut points = Vec::new();
    for (frame, sample) in signal.iter().enumerate() {
        let db = 10.0 * libm::log10(left / whole);
        if (-35.0..=-5.0).contains(&db) {
            points.push((frame as f64 / f64::from(RATE), db));
        }
        left -= sample * sample;
    }
    let count = points.len() as f64;
    let (x, y) = points
        .iter()
        .fold((0.0, 0.0), |(x, y), p| (x + p.0 / count, y + p.1 / count));
    let slope = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum::<f64>()
        / points.iter().map(|p| (p.0 - x) * (p.0 - x)).sum::<f64>();
    -60.0 / slope
}

/// `decay` at an octave's centre, by the law of the design.
fn law(decay: f64, damping: f64, hertz: f64) -> f64 {
    let octaves = libm::log2(hertz / 1000.0).max(0.0);
    decay * (1.0 - 0.8 * damping * octaves / 3.0)
}

#[track_caller]
fn rings(response: &Response, room: &Room, hertz: f64, within: f64) {
    let wanted = law(room.decay, room.damping, hertz);
    for (side, sound) in mono(response).iter().enumerate() {
        let ratio = t30(&octave(sound, hertz)) / wanted;
        assert!(
            (ratio - 1.0).abs() <= within,
            "{room:?}, side {side}, {hertz} Hz: {ratio} times as long as asked"
        );
    }
}

#[test]
fn octaves_ring_as_long_as_asked() {
    for size in [1.5, 4.0, 9.0, 30.0] {
        for decay in [0.2, 0.3, 0.5, 0.7, 1.2, 2.5, 6.0] {
            let room = room(size, decay, 0.4);
            let response = synthesise(&room, RATE);
            // ISO 3382-1.
            rings(&response, &room, 500.0, 0.1);
            rings(&response, &room, 1000.0, 0.1);
            rings(&response, &room, 4000.0, 0.15);
            rings(&response, &room, 8000.0, 0.15);
        }
    }
}

#[test]
fn damping_shortens_the_highs_alone() {
    for (size, decay) in [(4.0, 0.4), (9.0, 0.7), (9.0, 2.0), (20.0, 3.0)] {
        for damping in [0.0, 0.2, 0.7, 1.0] {
            let room = room(size, decay, damping);
            let response = synthesise(&room, RATE);
            for hertz in [500.0, 1000.0] {
                rings(&response, &room, hertz, 0.1);
            }
            for hertz in [2000.0, 4000.0, 8000.0] {
                rings(&response, &room, hertz, 0.15);
            }
        }
    }
}

/// The first frame of a side that sounds: over -60 dB of its loudest.
fn first_sound(side: &[f32]) -> usize {
    let loud = side.iter().fold(0.0, |loud: f32, s| loud.max(s.abs()));
    side.iter().position(|s| s.abs() > loud * 1e-3).expect("sound")
}

#[test]
fn a_predelay_puts_the_response_off_exactly() {
    let plain = synthesise(&room(9.0, 0.7, 0.4), RATE);
    let late = synthesise(
        &Room {
            predelay: 0.023,
            ..room(9.0, 0.7, 0.4)
        },
        RATE,
    );
    let frames = 1104; // 23 ms at 48 kHz
    let pairs = plain.direct.iter().chain(plain.cross.iter().flatten());
    for (plain, late) in pairs.zip(late.direct.iter().chain(late.cross.iter().flatten())) {
        assert!(late[..frames].iter().all(|s| *s == 0.0));
        assert_eq!(late[frames..], plain[..]);
    }
}

#[test]
fn larger_rooms_answer_later() {
    let first = |size: f64| first_sound(&mono(&synthesise(&room(size, 0.7, 0.4), RATE))[0]) as f64 / 48.0;
    let times = [2.0, 5.0, 9.0, 20.0].map(first);
    assert!(times.is_sorted(), "{times:?}");
    // The way by the floor of a 9 m room is between 1 and 3 m longer than the direct one.
    assert!((3.0..9.0).contains(&times[2]), "{times:?}");
}

#[test]
fn sides_are_equally_loud_and_have_little_in_common() {
    // A hall of 30 m that is dead before sound has crossed it twice is a handful of echoes; those may coincide.
    for (size, shortest) in [(1.5, 0.2), (4.0, 0.2), (9.0, 0.2), (20.0, 0.2), (30.0, 0.5)] {
        for decay in [shortest, 0.7, 3.0] {
            for damping in [0.0, 0.4, 0.8] {
                let [left, right] = mono(&synthesise(&room(size, decay, damping), RATE));
                let energy = |side: &[f32]| side.iter().map(|s| f64::from(*s) * f64::from(*s)).sum::<f64>();
                assert!((energy(&left) - 1.0).abs() < 1e-3 && (energy(&right) - 1.0).abs() < 1e-3);
                for lag in -48..=48_i32 {
                    let (a, b) = match usize::try_from(lag) {
                        Ok(lag) => (&left[..], &right[lag..]),
                        Err(_) => (&left[lag.unsigned_abs() as usize..], &right[..]),
                    };
                    let common: f64 = a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum();
                    assert!(
                        common.abs() < 0.3,
                        "{size} m, {decay} s, {damping}, {lag} frames: {common}"
                    );
                }
            }
        }
    }
}

#[test]
fn every_rate_is_equally_loud_to_the_ear() {
    // The octaves of 250 Hz to 8 kHz hold as much at 96 kHz: twice the sum of squares for twice the frames.
    let asked = room(9.0, 0.7, 1.0);
    let level = |rate: u32| {
        let side = &mono(&synthesise(&asked, rate))[0];
        let scale = 48_000.0 / f64::from(rate);
        // octave() takes its centre for the test's own rate.
        let energy: f64 = octave(side, 1000.0 * scale).iter().map(|s| s * s).sum();
        10.0 * libm::log10(energy / scale)
    };
    let apart = level(96_000) - level(RATE);
    assert!(apart.abs() < 1.0, "{apart} dB");
}

#[test]
fn the_lows_have_no_bump() {
    // Whole octaves of white sound hold 3 dB more each: what is left is flat within 5 dB (few modes, much chance).
    for size in [2.0, 9.0, 20.0] {
        let side = &mono(&synthesise(&room(size, 0.7, 0.0), RATE))[0];
        let level = |hertz: f64| {
            let energy: f64 = octave(side, hertz).iter().map(|s| s * s).sum();
            10.0 * libm::log10(energy / hertz)
        };
        let middle = level(1000.0);
        for hertz in [31.5, 63.0, 125.0, 250.0, 500.0, 2000.0, 4000.0, 8000.0] {
            let apart = level(hertz) - middle;
            assert!(apart.abs() < 5.0, "{size} m, {hertz} Hz: {apart} dB");
        }
    }
}

/// Echo density: Abel and Huang, "A simple, robust measure of reverberation echo density", AES 121 (2006): the share of
/// frames in a Hann window of 20 ms that lie outside its standard deviation, over the share of normal noise.
fn echo_density(side: &[f32], seconds: f64) -> f64 {
    let half = RATE as usize / 100;
    let at = first_sound(side) + (seconds * f64::from(RATE)) as usize;
    let window: Vec<(f64, f64)> = side[at - half..at + half]
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let weight = 1.0 - libm::cos(std::f64::consts::TAU * i as f64 / (2 * half) as f64);
            (weight / (2 * half) as f64, f64::from(*s))
        })
        .collect();
    let deviation = window.iter().map(|(w, s)| w * s * s).sum::<f64>().sqrt();
    let outside: f64 = window.iter().filter(|(_, s)| s.abs() > deviation).map(|(w, _)| w).sum();
    outside / 0.317_310_507_863
}

#[test]
fn echoes_are_dense_by_60_milliseconds() {
    for side in mono(&synthesise(&room(9.0, 0.7, 0.4), RATE)) {
        for milliseconds in [60, 70, 100, 200, 400] {
            let density = echo_density(&side, f64::from(milliseconds) / 1000.0);
            assert!((0.8..1.2).contains(&density), "{milliseconds} ms: {density}");
        }
    }
}

#[test]
fn reflections_hand_over_without_a_joint() {
    // Level in 10 ms, against the decay: no hole and no hill where one gives way to the other. Averaged over sides and
    // sizes, since a stretch with few reflections holds much chance.
    let sizes = [6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0];
    let mut levels = [0.0; 12];
    for size in sizes {
        for side in mono(&synthesise(&room(size, 1.0, 0.0), RATE)) {
            let start = first_sound(&side);
            for (slice, level) in levels.iter_mut().enumerate() {
                let from = start + slice * 480;
                let energy: f64 = side[from..from + 480].iter().map(|s| f64::from(s * s)).sum();
                *level += energy * libm::exp10(6.0 * (slice as f64 + 0.5) * 0.01);
            }
        }
    }
    let mean = levels.iter().sum::<f64>() / levels.len() as f64;
    for (slice, level) in levels.iter().enumerate() {
        let apart = 10.0 * libm::log10(level / mean);
        assert!(apart.abs() < 2.5, "{} ms: {apart} dB", slice * 10);
    }
}

#[test]
fn the_end_is_out_of_hearing_and_never_too_late() {
    let side = &mono(&synthesise(&room(9.0, 0.7, 0.0), RATE))[0];
    let energy = |part: &[f32]| part.iter().map(|s| f64::from(s * s)).sum::<f64>();
    let start = first_sound(side);
    let fallen = 10.0 * libm::log10(energy(&side[side.len() - 4800..]) / energy(&side[start..start + 4800]));
    assert!(fallen < -85.0, "{fallen}");
    assert_eq!(synthesise(&room(9.0, 500.0, 0.4), 8000).frames(), 480_000);
}

#[test]
fn a_low_cut_only_takes_away() {
    let plain = synthesise(&room(9.0, 0.7, 0.4), RATE);
    let cut = synthesise(
        &Room {
            low_cut: Some(500.0),
            ..room(9.0, 0.7, 0.4)
        },
        RATE,
    );
    let level = |response: &Response, hertz: f64| {
        let energy: f64 = octave(&response.direct[0], hertz).iter().map(|s| s * s).sum();
        10.0 * libm::log10(energy)
    };
    // The audio EQ cookbook's Butterworth: 12 dB an octave. What leaks in from 125 Hz up leaves 20 of its 24 dB.
    assert!(level(&cut, 125.0) < level(&plain, 125.0) - 20.0);
    assert!((level(&cut, 4000.0) - level(&plain, 4000.0)).abs() < 0.1);
}

#[test]
fn the_same_room_is_the_same_every_time() {
    assert_eq!(
        synthesise(&room(7.0, 0.5, 0.4), RATE),
        synthesise(&room(7.0, 0.5, 0.4), RATE)
    );
}

#[test]
fn a_recorded_room_is_taken_as_it_is() {
    let impulse = Impulse {
        file: "stairwell.wav".into(),
        place: crate::text::Place {
            source: crate::text::Source::new("loop.toml", ""),
            span: 0..0,
        },
        predelay: 0.0,
        low_cut: None,
    };
    let (left, right) = (vec![0.0, 3.0, -1.0, 0.5], vec![0.25, 0.0, 0.0, -2.0]);
    let stereo = Audio {
        channels: vec![left.clone(), right.clone()],
        rate: RATE,
    };
    let response = recorded(&stereo, &impulse);
    assert_eq!(response.direct, [left.clone(), right]);
    assert_eq!(response.cross, None);
    let mono = Audio {
        channels: vec![left.clone()],
        rate: 1000,
    };
    let late = Impulse {
        predelay: 0.003,
        ..impulse
    };
    let wanted = [&[0.0; 3][..], &left].concat();
    assert_eq!(recorded(&mono, &late).direct, [wanted.clone(), wanted]);
    assert_eq!(recorded(&Audio::silence(0, 0, RATE), &late).frames(), 144);
}

#[test]
fn odd_rooms_stay_finite() {
    for size in [0.01, 0.5, 1.0, 200.0] {
        for decay in [0.001, 0.05, 3.0] {
            for rate in [8000, 44_100, 192_000] {
                let response = synthesise(&room(size, decay, 1.0), rate);
                assert!(
                    response.direct.iter().flatten().all(|s| s.is_finite()),
                    "{size} {decay} {rate}"
                );
            }
        }
    }
}
