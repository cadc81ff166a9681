//! How far a signal differs from itself some samples later: the differences of the YIN estimator (de Cheveigné and Kawahara, "YIN,
//! a fundamental frequency estimator for speech and music", JASA 111(4), 2002) [memory].

use std::cell::RefCell;

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

/// The differences of YIN's equation 6 for the lags from 0 to `longest`, each summed over as many frames as are there for all.
///
/// A difference is the energy of both stretches less twice their correlation, which an FFT gives for all lags at once: in
/// `f64` it is as good as summing in time.
pub(crate) fn differences(look: &[f32], longest: usize) -> Vec<f64> {
    thread_local! {
        static PLANNER: RefCell<RealFftPlanner<f64>> = RefCell::new(RealFftPlanner::new());
    }
    let window = look.len() - longest;
    let points = look.len().next_power_of_two();
    let (forward, back) = PLANNER.with_borrow_mut(|planner| {
        let forward = planner.plan_fft_forward(points);
        (forward, planner.plan_fft_inverse(points))
    });
    let spectrum = |stretch: &[f32]| {
        let (mut padded, mut spectrum) = (forward.make_input_vec(), forward.make_output_vec());
        padded
            .iter_mut()
            .zip(stretch)
            .for_each(|(to, from)| *to = f64::from(*from));
        forward
            .process(&mut padded, &mut spectrum)
            .expect("the lengths are the plan's own");
        spectrum
    };
    let mut product: Vec<Complex<f64>> = spectrum(look);
    let early = spectrum(&look[..window]);
    product
        .iter_mut()
        .zip(&early)
        .for_each(|(all, early)| *all *= early.conj());
    let mut correlation = back.make_output_vec();
    // What stands at 0 Hz and at half the rate is real but for its last bit, which the transform minds.
    product[0].im = 0.0;
    product[points / 2].im = 0.0;
    back.process(&mut product, &mut correlation)
        .expect("the lengths are the plan's own");
    let square = |sample: f32| f64::from(sample) * f64::from(sample);
    let first: f64 = look[..window].iter().map(|sample| square(*sample)).sum();
    let mut moved = first;
    let mut differences = vec![0.0; longest + 1];
    for lag in 1..=longest {
        moved += square(look[lag + window - 1]) - square(look[lag - 1]);
        let both = first + moved - 2.0 * correlation[lag] / points as f64;
        differences[lag] = both.max(0.0);
    }
    differences
}

/// The differences as shares of their mean at all lags up to each (equation 8): 1 says nothing, 0 is a perfect period.
pub(crate) fn normalised(differences: &[f64]) -> Vec<f64> {
    let mut normal = vec![1.0; differences.len()];
    let mut sum = 0.0;
    for (lag, difference) in differences.iter().enumerate().skip(1) {
        sum += difference;
        if sum > 0.0 {
            normal[lag] = difference * lag as f64 / sum;
        }
    }
    normal
}

/// How far a value lies above the bottom of a parabola through it and its neighbours.
pub(crate) fn rise(values: &[f64], at: usize) -> f64 {
    let (before, here, after) = (values[at - 1], values[at], values[at + 1]);
    let bend = before - 2.0 * here + after;
    if bend > 0.0 {
        (before - after).powi(2) / (8.0 * bend)
    } else {
        0.0
    }
}

/// Where a parabola through a bottom and its neighbours is lowest.
pub(crate) fn vertex(values: &[f64], at: usize) -> f64 {
    let (before, here, after) = (values[at - 1], values[at], values[at + 1]);
    let bend = before - 2.0 * here + after;
    let shift = if bend > 0.0 { 0.5 * (before - after) / bend } else { 0.0 };
    at as f64 + shift.clamp(-1.0, 1.0)
}

/// A period measured over as many of them as there is room for: what a parabola misses shrinks by their number.
pub(crate) fn refined(differences: &[f64], first: f64, most: f64) -> f64 {
    let longest = differences.len() - 1;
    let mut period = first;
    let mut count = 2.0;
    while count * period + 2.0 < longest as f64 && count <= most {
        let near = (count * period).round() as usize;
        let Some(lag) = (near - 1..=near + 1).min_by(|a, b| differences[*a].total_cmp(&differences[*b])) else {
            break;
        };
        period = vertex(differences, lag) / count;
        count *= 2.0;
    }
    period
}
