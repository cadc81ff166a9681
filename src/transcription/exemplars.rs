//! Which of some sounds that the person struck first a hit is, or which two of them together.

use super::colour::{BANDS, Colour};

/// What lies so many dB under a colour's strongest is nothing.
const DEEPEST: f64 = 50.0;
/// Two sounds have to explain a hit better than one by so many dB.
const FOR_TWO: f64 = 1.5;
/// Levels of a second sound against the first's that are tried, in dB.
const LEVELS: [f64; 7] = [-9.0, -6.0, -3.0, 0.0, 3.0, 6.0, 9.0];
/// A sound that is so many dB nearer than the next is sure.
const SURE: f64 = 6.0;

/// The sounds of a hit, by their places among the exemplars: one or two, each with a confidence from 0 to 1.
pub(super) fn nearest(colour: &Colour, exemplars: &[Colour]) -> Vec<(usize, f64)> {
    let alone: Vec<f64> = exemplars.iter().map(|exemplar| apart(colour, exemplar)).collect();
    let by_nearness = |one: &usize, other: &usize| alone[*one].total_cmp(&alone[*other]);
    let Some(best) = (0..exemplars.len()).min_by(by_nearness) else {
        return Vec::new();
    };
    let others = (0..exemplars.len()).filter(|other| *other != best);
    let next = others
        .clone()
        .map(|other| alone[other])
        .fold(alone[best] + SURE, f64::min);
    let confidence = (0.5 + 0.5 * (next - alone[best]) / SURE).clamp(0.0, 1.0);
    let with = others.map(|other| {
        let mixed = LEVELS.map(|level| apart(colour, &both(&exemplars[best], &exemplars[other], level)));
        (mixed.into_iter().fold(f64::INFINITY, f64::min), other)
    });
    match with.min_by(|a, b| a.0.total_cmp(&b.0)) {
        Some((mixed, other)) if mixed + FOR_TWO < alone[best] => {
            vec![(best, confidence), (other, 0.5 * confidence + 0.25)]
        }
        _ => vec![(best, confidence)],
    }
}

/// How far two colours are apart, whatever their levels: the mean over all bands of what differs in dB.
pub(super) fn apart(one: &Colour, other: &Colour) -> f64 {
    let within = |colour: &Colour| {
        let top = colour.top();
        colour.0.map(|db| (db - top).max(-DEEPEST))
    };
    let (one, other) = (within(one), within(other));
    let differences: Vec<f64> = one.iter().zip(other).map(|(one, other)| one - other).collect();
    let mean = differences.iter().sum::<f64>() / differences.len() as f64;
    differences
        .iter()
        .map(|difference| (difference - mean).abs())
        .sum::<f64>()
        / differences.len() as f64
}

/// Two sounds at once, the second louder than the first by so many dB against how they were struck first.
fn both(one: &Colour, other: &Colour, level: f64) -> Colour {
    let power = |db: f64| libm::exp10(db / 10.0);
    let mut sum = [0.0; 2 * BANDS];
    for (band, sum) in sum.iter_mut().enumerate() {
        *sum = 10.0 * libm::log10(power(one.0[band]) + power(other.0[band] + level));
    }
    Colour(sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn colour(peak: usize, level: f64) -> Colour {
        Colour(std::array::from_fn(|band| {
            level - 8.0 * (band % BANDS).abs_diff(peak) as f64
        }))
    }

    #[test]
    fn a_hit_is_the_sound_that_it_is_like_or_two_of_them() {
        let exemplars = [colour(0, -20.0), colour(3, -30.0), colour(7, -40.0)];
        for (which, peak) in [0, 3, 7].into_iter().enumerate() {
            let told = nearest(&colour(peak, -55.0), &exemplars);
            assert_eq!(told.len(), 1);
            assert_eq!(told[0].0, which);
            assert!(told[0].1 > 0.9);
        }
        let together = nearest(&both(&exemplars[0], &exemplars[2], 3.0), &exemplars);
        let mut which: Vec<usize> = together.iter().map(|(which, _)| *which).collect();
        which.sort_unstable();
        assert_eq!(which, [0, 2]);
    }
}
