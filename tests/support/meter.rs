//! The tests' own meters, none of them the program's.

use std::f64::consts::{PI, TAU};

/// An amplitude in dB; minus infinity for nothing.
pub fn db(amplitude: f64) -> f64 {
    20.0 * amplitude.abs().log10()
}

/// The largest absolute sample.
pub fn peak(samples: &[f32]) -> f64 {
    samples.iter().fold(0.0, |most, s| f64::from(s.abs()).max(most))
}

/// The root of the mean square.
pub fn rms(samples: &[f32]) -> f64 {
    let sum: f64 = samples.iter().map(|s| f64::from(*s).powi(2)).sum();
    (sum / samples.len().max(1) as f64).sqrt()
}

/// What is left when one signal is taken from another, as the peak of the difference in dBFS.
pub fn null_db(a: &[f32], b: &[f32]) -> f64 {
    assert_eq!(a.len(), b.len(), "a null needs equal lengths");
    db(a.iter()
        .zip(b)
        .fold(0.0, |most, (a, b)| f64::from((a - b).abs()).max(most)))
}

/// The sum of an impulse response turned at `hz`: its frequency response there, as an amplitude.
pub fn response(samples: &[f32], hz: f64, rate: f64) -> f64 {
    let turn = |(i, s): (usize, &f32)| {
        let angle = TAU * hz * i as f64 / rate;
        (f64::from(*s) * angle.cos(), f64::from(*s) * angle.sin())
    };
    let (re, im) = samples
        .iter()
        .enumerate()
        .map(turn)
        .fold((0.0, 0.0), |sum, x| (sum.0 + x.0, sum.1 + x.1));
    re.hypot(im)
}

/// A sine's peak and what remains without it, in dB under it. The stretch must hold whole periods.
pub fn sine(samples: &[f32], hz: f64, rate: f64) -> (f64, f64) {
    let angle = |i: usize| TAU * hz * i as f64 / rate;
    let (mut re, mut im) = (0.0, 0.0);
    for (i, s) in samples.iter().enumerate() {
        re += f64::from(*s) * angle(i).cos();
        im += f64::from(*s) * angle(i).sin();
    }
    let scale = 2.0 / samples.len() as f64;
    (re, im) = (re * scale, im * scale);
    let rest = |(i, s): (usize, &f32)| (f64::from(*s) - re * angle(i).cos() - im * angle(i).sin()).powi(2);
    let left: f64 = samples.iter().enumerate().map(rest).sum();
    let size = re.hypot(im);
    (size, db((left * scale).sqrt() / size))
}

const TIMES: usize = 8;
const REACH: usize = 48;

/// True peak in dBTP, oversampled 8 times by a sinc of 96 input samples under a Kaiser window (beta 9).
/// Where the file goes round, `samples` has to be the file twice in a row.
///
/// BS.1770-5 annex 2 asks for 4 times; the worst a peak can hide between 8 is 0.17 dB at a quarter of the
/// new rate and well under 0.1 dB below 15 kHz.
pub fn true_peak_db(samples: &[f32]) -> f64 {
    let filters: Vec<Vec<f64>> = (1..TIMES).map(|phase| taps(phase as f64 / TIMES as f64)).collect();
    let loud = peak(samples);
    let mut most = loud;
    let mut padded = vec![0.0f64; REACH];
    padded.extend(samples.iter().map(|s| f64::from(*s)));
    padded.extend(vec![0.0; REACH]);
    for at in 0..samples.len() {
        let around = &padded[at..at + 2 * REACH];
        // Between two samples far under the peak no peak over it can hide; the sinc's gain there is bounded.
        let near = around[REACH - 4..REACH + 4]
            .iter()
            .fold(0.0f64, |most, s| most.max(s.abs()));
        if near < 0.25 * loud {
            continue;
        }
        for filter in &filters {
            let sum: f64 = around.iter().zip(filter).map(|(s, tap)| s * tap).sum();
            most = most.max(sum.abs());
        }
    }
    db(most)
}

fn taps(phase: f64) -> Vec<f64> {
    (0..2 * REACH)
        .map(|i| {
            // Item REACH of a stretch is the sample at hand; the point sought lies `phase` after it.
            let x = i as f64 - REACH as f64 - phase;
            let sinc = if x.abs() < 1e-12 {
                1.0
            } else {
                (PI * x).sin() / (PI * x)
            };
            let w = x / (REACH as f64 + 0.5);
            sinc * bessel(9.0 * (1.0 - w * w).max(0.0).sqrt()) / bessel(9.0)
        })
        .collect()
}

/// The modified Bessel function of order 0, by its series.
fn bessel(x: f64) -> f64 {
    let (mut sum, mut term) = (1.0, 1.0);
    for k in 1..40 {
        term *= (x / (2.0 * f64::from(k))).powi(2);
        sum += term;
    }
    sum
}
