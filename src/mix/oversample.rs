//! Tables for reading a signal between its frames: windowed sincs.

use std::f64::consts::PI;

/// Kaiser's window at `place` from -1 to 1, 0 beyond; `beta` sets how deep its stop band is.
///
/// J. F. Kaiser, "Nonrecursive digital filter design using the I0-sinh window function", ISCAS 1974: for a stop band of
/// A dB, beta is 0.1102·(A - 8.7) where A is above 50. [memory]
pub fn kaiser(place: f64, beta: f64) -> f64 {
    let inside = 1.0 - place * place;
    if inside < 0.0 {
        return 0.0;
    }
    bessel_i0(beta * inside.sqrt()) / bessel_i0(beta)
}

/// The modified Bessel function of the first kind and order zero, by its power series.
pub fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut sum, mut term, mut k) = (1.0, 1.0, 1.0);
    while term > sum * 1e-17 {
        term *= quarter / (k * k);
        sum += term;
        k += 1.0;
    }
    sum
}

/// sin(πx) / (πx).
pub fn sinc(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { libm::sin(PI * x) / (PI * x) }
}

/// One side of a half-band interpolator: what the neighbours at distances 1, 3, 5 … (in halves of a frame) weigh in the
/// value midway between two frames. Both sides together weigh 1.
pub fn half_band(pairs: usize, beta: f64) -> Vec<f32> {
    let reach = 2.0 * pairs as f64;
    let weights: Vec<f64> = (0..pairs)
        .map(|pair| {
            let distance = (2 * pair + 1) as f64;
            sinc(distance / 2.0) * kaiser(distance / reach, beta)
        })
        .collect();
    let sum: f64 = weights.iter().sum();
    weights.iter().map(|weight| (weight / sum / 2.0) as f32).collect()
}

/// One side of a low-pass, its middle first: `reach` taps beyond the middle, `cut` as a share of the rate it runs at, the
/// whole weighing 1.
pub fn low_pass(reach: usize, cut: f64, beta: f64) -> Vec<f32> {
    let weights: Vec<f64> = (0..=reach)
        .map(|tap| sinc(2.0 * cut * tap as f64) * kaiser(tap as f64 / (reach as f64 + 1.0), beta))
        .collect();
    let sum = weights[0] + 2.0 * weights[1..].iter().sum::<f64>();
    weights.iter().map(|weight| (weight / sum) as f32).collect()
}

/// Taps that read a signal `share` of a frame after a frame, from `reach - 1` frames before it to `reach` after it.
///
/// They keep constants and straight lines exactly as they are.
pub fn between(reach: usize, share: f64, beta: f64) -> Vec<f64> {
    let place = |tap: usize| tap as f64 - (reach as f64 - 1.0) - share;
    let mut taps: Vec<f64> = (0..2 * reach)
        .map(|tap| sinc(place(tap)) * kaiser(place(tap) / reach as f64, beta))
        .collect();
    let sum: f64 = taps.iter().sum();
    taps.iter_mut().for_each(|tap| *tap /= sum);
    let lean: f64 = taps.iter().enumerate().map(|(tap, weight)| weight * place(tap)).sum();
    taps[reach - 1] += lean;
    taps[reach] -= lean;
    taps
}
