//! Measured with sines and clicks, against what mathematics says they become.

use std::f64::consts::TAU;

use proptest::prelude::*;
use realfft::RealFftPlanner;

use super::{repitch, resample};
use crate::base::audio::{Audio, db_of_gain};

/// A sine of amplitude 1/2 that is faded in and out over an eighth of its length, so that its ends say nothing.
fn sine(hz: f64, frames: usize, rate: u32) -> Audio {
    let samples = (0..frames)
        .map(|n| (0.5 * faded(n as f64 / frames as f64) * (TAU * hz * n as f64 / f64::from(rate)).sin()) as f32);
    Audio {
        channels: vec![samples.collect()],
        rate,
    }
}

fn faded(place: f64) -> f64 {
    let edge = (place.min(1.0 - place) * 8.0).clamp(0.0, 1.0);
    (edge * TAU / 4.0).sin().powi(2)
}

/// What became of a sine of amplitude 1/2, measured over the middle half.
struct Became {
    /// Change of level, dB.
    gain_db: f64,
    /// Lag in frames.
    late: f64,
    /// What is not that sine, RMS against it, dB.
    rest_db: f64,
}

/// Fits a sine of `cycles` a frame, which must be 0 at frame 0, by least squares (the mean of the products over many cycles).
fn became(made: &Audio, cycles: f64) -> Became {
    let samples = &made.channels[0];
    let middle = samples.len() / 4..samples.len() * 3 / 4;
    let (mut ss, mut sc, mut cc, mut xs, mut xc) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for n in middle.clone() {
        let (s, c) = (TAU * cycles * n as f64).sin_cos();
        let x = f64::from(samples[n]);
        (ss, sc, cc, xs, xc) = (ss + s * s, sc + s * c, cc + c * c, xs + x * s, xc + x * c);
    }
    let whole = ss * cc - sc * sc;
    let (a, b) = ((xs * cc - xc * sc) / whole, (xc * ss - xs * sc) / whole);
    let mut rest = 0.0;
    for n in middle.clone() {
        let (s, c) = (TAU * cycles * n as f64).sin_cos();
        rest += (f64::from(samples[n]) - a * s - b * c).powi(2);
    }
    Became {
        gain_db: db_of_gain(a.hypot(b) / 0.5),
        late: -b.atan2(a) / (TAU * cycles),
        rest_db: db_of_gain((2.0 * rest / middle.len() as f64).sqrt() / 0.5),
    }
}

/// The level of each bin under a four-term Blackman-Harris window (Harris 1978), in dB against the loudest; sidelobes lie below -92 dB,
/// so the window is squared.
fn spectrum_db(samples: &[f32]) -> Vec<f64> {
    let size = samples.len();
    let mut windowed: Vec<f64> = samples
        .iter()
        .enumerate()
        .map(|(n, s)| f64::from(*s) * window(n, size).powi(2))
        .collect();
    let plan = RealFftPlanner::<f64>::new().plan_fft_forward(size);
    let mut bins = plan.make_output_vec();
    plan.process(&mut windowed, &mut bins).unwrap();
    let most = bins.iter().map(|bin| bin.norm()).fold(0.0, f64::max);
    bins.iter().map(|bin| db_of_gain(bin.norm() / most)).collect()
}

fn window(n: usize, size: usize) -> f64 {
    let x = TAU * n as f64 / size as f64;
    0.35875 - 0.48829 * x.cos() + 0.14128 * (2.0 * x).cos() - 0.01168 * (3.0 * x).cos()
}

/// The loudest bin that is not part of the tone at `hz`, in dB against the tone.
fn spurious_db(samples: &[f32], hz: f64, rate: f64) -> f64 {
    let tone = hz / rate * samples.len() as f64;
    let away = |bin: usize| (bin as f64 - tone).abs() > 10.0;
    spectrum_db(samples)
        .iter()
        .enumerate()
        .filter(|(bin, _)| away(*bin))
        .map(|(_, db)| *db)
        .fold(f64::NEG_INFINITY, f64::max)
}

#[test]
fn a_sine_at_another_rate_is_that_sine() {
    // checks.md asks of 44.1 to 48 kHz flat within 0.1 dB to 20 kHz, images and aliases 100 dB down.
    for (from, to, top) in [
        (44_100, 48_000, 20_000.0),
        (48_000, 44_100, 20_000.0),
        (96_000, 44_100, 20_000.0),
        (22_050, 48_000, 10_000.0),
        (8_000, 192_000, 3_700.0),
        (192_000, 22_050, 10_200.0),
        (44_101, 48_000, 20_000.0),
        (47_999, 44_100, 20_000.0),
    ] {
        for hz in [55.0, 997.0, top * 0.7, top] {
            let made = resample(&sine(hz, from as usize / 2, from), to);
            let Became { gain_db, late, rest_db } = became(&made, hz / f64::from(to));
            println!("{from} to {to}, {hz} Hz: {gain_db:.4} dB, {late:.4} frames late, rest {rest_db:.1} dB");
            assert!(gain_db.abs() < 0.1, "{from} to {to}, {hz} Hz: {gain_db} dB");
            assert!(late.abs() < 0.002, "{from} to {to}, {hz} Hz: {late} frames");
            assert!(rest_db < -100.0, "{from} to {to}, {hz} Hz: {rest_db} dB");
        }
    }
}

#[test]
fn nothing_is_heard_that_was_not_there() {
    for (from, to) in [
        (44_100u32, 48_000u32),
        (48_000, 44_100),
        (96_000, 48_000),
        (22_050, 48_000),
        (44_101, 48_000),
    ] {
        for share in [0.05, 0.5, 0.9] {
            let hz = share * f64::from(from.min(to)) / 2.0;
            let made = resample(&sine(hz, 40_000, from), to);
            let middle = &made.channels[0][made.frames() / 2 - 8_192 / 2..][..8_192];
            let spurious = spurious_db(middle, hz, f64::from(to));
            println!("{from} to {to}, {hz} Hz: spurious {spurious:.1} dB");
            assert!(spurious < -100.0, "{from} to {to}, {hz} Hz: {spurious} dB");
        }
    }
}

#[test]
fn what_the_lower_rate_cannot_hold_is_gone() {
    for hz in [22_100.0, 23_000.0, 30_000.0, 47_000.0] {
        let made = resample(&sine(hz, 48_000, 96_000), 44_100);
        let left = db_of_gain(rms(&made) / rms(&sine(hz, 48_000, 96_000)));
        println!("{hz} Hz at 96 to 44.1 kHz: {left:.1} dB");
        assert!(left < -100.0, "{hz} Hz: {left} dB");
    }
}

fn rms(audio: &Audio) -> f64 {
    let samples = &audio.channels[0];
    (samples.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / samples.len() as f64).sqrt()
}

/// Semitones as a playback speed.
fn speed(semitones: f64) -> f64 {
    (semitones / 12.0).exp2()
}

#[test]
fn a_sine_at_another_pitch_is_that_sine() {
    for semitones in [
        -48.0, -24.0, -12.0, -7.0, -0.3, -0.02, 0.005, 0.03, 0.3, 1.0, 7.0, 12.0, 24.0, 36.0, 48.0,
    ] {
        let ratio = speed(semitones);
        for share in [0.01, 0.5, 0.88] {
            let hz = share * 24_000.0 / ratio.max(1.0);
            let made = repitch(&sine(hz, 96_000, 48_000), ratio);
            let Became { gain_db, late, rest_db } = became(&made, hz * ratio / 48_000.0);
            println!("{semitones} semitones, {hz:.1} Hz: {gain_db:.4} dB, {late:.4} frames late, rest {rest_db:.1} dB");
            assert!(gain_db.abs() < 0.1, "{semitones} semitones, {hz} Hz: {gain_db} dB");
            assert!(late.abs() < 0.002, "{semitones} semitones, {hz} Hz: {late} frames");
            assert!(rest_db < -100.0, "{semitones} semitones, {hz} Hz: {rest_db} dB");
        }
    }
}

#[test]
fn two_octaves_either_way_are_clean() {
    for semitones in [-24.0, -12.0, -5.0, 5.0, 12.0, 24.0] {
        let ratio = speed(semitones);
        for share in [0.02, 0.4, 0.88] {
            let hz = share * 24_000.0 / ratio.max(1.0);
            let made = repitch(&sine(hz, 160_000, 48_000), ratio);
            let middle = &made.channels[0][made.frames() / 2 - 8_192 / 2..][..8_192];
            let spurious = spurious_db(middle, hz * ratio, 48_000.0);
            println!("{semitones} semitones, {hz:.1} Hz: spurious {spurious:.1} dB");
            assert!(spurious < -100.0, "{semitones} semitones, {hz} Hz: {spurious} dB");
        }
    }
}

#[test]
fn what_would_pass_the_nyquist_frequency_does_not_fold_back() {
    for semitones in [0.3, 3.0, 12.0, 24.0, 48.0] {
        let ratio = speed(semitones);
        for past in [1.01, 1.2, 1.5] {
            let hz = past * 24_000.0 / ratio;
            if hz >= 24_000.0 {
                continue;
            }
            let input = sine(hz, 96_000, 48_000);
            let left = db_of_gain(rms(&repitch(&input, ratio)) / rms(&input));
            println!("{semitones} semitones, {hz:.1} Hz: {left:.1} dB");
            assert!(left < -100.0, "{semitones} semitones, {hz} Hz: {left} dB");
        }
    }
}

/// The place of a click's middle in frames: the centroid of its energy.
fn centre(audio: &Audio) -> f64 {
    let samples = &audio.channels[0];
    let energy = |s: &f32| f64::from(*s).powi(2);
    samples
        .iter()
        .enumerate()
        .map(|(n, s)| n as f64 * energy(s))
        .sum::<f64>()
        / samples.iter().map(energy).sum::<f64>()
}

#[test]
fn a_click_keeps_its_time() {
    let mut click = Audio::silence(1, 4_000, 44_100);
    click.channels[0][2_000] = 1.0;
    for rate in [22_050, 44_099, 48_000, 88_200, 96_000, 192_000] {
        let off = centre(&resample(&click, rate)) - 2_000.0 * f64::from(rate) / 44_100.0;
        println!("44.1 kHz to {rate}: {off:.4} frames off");
        assert!(off.abs() < 0.1, "{rate} Hz: {off} frames");
    }
    for semitones in [-48.0, -24.0, -5.0, -0.1, 0.1, 3.0, 12.0, 24.0, 48.0] {
        let off = centre(&repitch(&click, speed(semitones))) - 2_000.0 / speed(semitones);
        println!("{semitones} semitones: {off:.4} frames off");
        assert!(off.abs() < 0.2, "{semitones} semitones: {off} frames");
    }
}

#[test]
fn a_clip_that_begins_at_full_level_keeps_its_attack() {
    // A cosine begins at its top.
    let cosine: Vec<f32> = (0..20_000)
        .map(|n| (TAU * 60.0 * n as f64 / 44_100.0).cos() as f32)
        .collect();
    let clip = Audio {
        channels: vec![cosine.clone(), cosine],
        rate: 44_100,
    };
    for (made, step) in [
        (resample(&clip, 48_000), 44_100.0 / 48_000.0),
        (resample(&clip, 44_099), 44_100.0 / 44_099.0),
        (repitch(&clip, 1.1), 1.1),
        (repitch(&clip, 0.5), 0.5),
        (repitch(&clip, 4.0), 4.0),
    ] {
        for channel in &made.channels {
            // A band-limited step stands at half its height or above in its first frame, then overshoots by 9 % (Gibbs).
            assert!(channel[0] > 0.45, "{}", channel[0]);
            for (n, sample) in channel.iter().enumerate().take(200).skip(2) {
                let ideal = (TAU * 60.0 * n as f64 * step / 44_100.0).cos();
                assert!(
                    (f64::from(*sample) - ideal).abs() < 0.1,
                    "{step}: frame {n} is {sample}"
                );
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn lengths_are_exact_and_nothing_panics(
        frames in 0usize..3_000, channels in 1usize..=2, from in 8_000u32..=192_000, to in 22_050u32..=192_000, ratio in 0.0f64..20.0,
    ) {
        let audio = Audio { channels: vec![vec![0.1; frames]; channels], rate: from };
        let made = resample(&audio, to);
        prop_assert_eq!(made.rate, to);
        prop_assert_eq!(made.frames() as u64, (frames as u64 * u64::from(to)).div_ceil(from.into()));
        prop_assert_eq!(made.channels.len(), channels);
        let made = repitch(&audio, ratio);
        prop_assert_eq!(made.frames(), (frames as f64 / ratio.clamp(1.0 / 16.0, 16.0)).ceil() as usize);
        prop_assert!(made.channels.iter().flatten().all(|s| s.is_finite() && s.abs() < 1.0));
    }
}
