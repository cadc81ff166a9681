//! When a note begins, by its own partials.
//!
//! A bowed or a blown note comes up slowly, while the one before rings on in the room: the measure of all onsets misses it, and a
//! pitch is only heard where it is the louder. Partials that the note before has not say more.

use std::f64::consts::TAU;

use super::RATE;
use crate::harmony::frequency;

/// Samples of a window, and from one to the next.
const WINDOW: usize = 1536;
const STEP: usize = 192;
/// Partials that are listened to, and the highest, in Hz.
const PARTIALS: u32 = 8;
const HIGHEST: f64 = 12_000.0;
/// Seconds before and after the moment at which a pitch is heard in which its note begins, and reaches its level.
const BEFORE: f64 = 0.12;
const AFTER: f64 = 0.12;
/// A note begins where it has come so far from the least before it to the most.
const BEGUN: f64 = 0.15;

/// The second at which a note begins whose pitch is heard from `begin` to `end`, after a note of the pitch `before`.
pub(super) fn begins(samples: &[f32], (begin, end): (f64, f64), pitch: f64, before: Option<f64>) -> f64 {
    let rate = f64::from(RATE);
    let partials = partials(pitch, before);
    let first = ((begin - BEFORE).max(0.0) * rate) as usize;
    let heard = (begin * rate) as usize;
    let last = ((begin + (end - begin).clamp(0.0, AFTER)) * rate) as usize;
    let centres: Vec<usize> = (first..=last).step_by(STEP).collect();
    let shape: Vec<f64> = (0..WINDOW)
        .map(|n| 0.5 - 0.5 * libm::cos(TAU * (n as f64 + 0.5) / WINDOW as f64))
        .collect();
    let levels: Vec<f64> = centres
        .iter()
        .map(|centre| {
            let sample = |n: usize| (centre + n).checked_sub(WINDOW / 2).and_then(|at| samples.get(at));
            let look: Vec<f64> = (0..WINDOW)
                .map(|n| shape[n] * f64::from(sample(n).copied().unwrap_or(0.0)))
                .collect();
            libm::sqrt(partials.iter().map(|hertz| power(&look, *hertz)).sum())
        })
        .collect();
    let middle = centres.iter().position(|centre| *centre >= heard).unwrap_or(0);
    let (most, top) = (middle..levels.len()).fold((middle, 0.0), |best, at| match levels[at] > best.1 {
        true => (at, levels[at]),
        false => best,
    });
    // Of equals the last: silence ends where the note begins.
    let low = (0..=middle).fold(0, |low, at| if levels[at] <= levels[low] { at } else { low });
    let begun = levels[low] + BEGUN * (top - levels[low]);
    let under = (low..=most).rev().find(|at| levels[*at] < begun).unwrap_or(low);
    centres[under] as f64 / rate
}

/// The frequencies of a note's partials, without those that lie on one of the note before, where two are left.
fn partials(pitch: f64, before: Option<f64>) -> Vec<f64> {
    let first = frequency(pitch);
    let all: Vec<f64> = (1..=PARTIALS)
        .map(|number| f64::from(number) * first)
        .filter(|hertz| *hertz < HIGHEST)
        .collect();
    let width = 1.5 * f64::from(RATE) / WINDOW as f64;
    let is_free = |hertz: &f64| {
        before.is_none_or(|before| {
            let other = frequency(before);
            let nearest = libm::round(hertz / other).max(1.0) * other;
            (before - pitch).abs() < 0.5 || (nearest - hertz).abs() > width
        })
    };
    let free: Vec<f64> = all.iter().copied().filter(is_free).collect();
    if free.len() >= 2 { free } else { all }
}

/// The power of a stretch at a frequency, by Goertzel's recursion [memory].
fn power(look: &[f64], hertz: f64) -> f64 {
    let factor = 2.0 * libm::cos(TAU * hertz / f64::from(RATE));
    let (last, before) = look.iter().fold((0.0, 0.0), |(last, before), sample| {
        (sample + factor * last - before, last)
    });
    (last * last + before * before - factor * last * before).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two notes, the second of which comes up slowly while the first dies away.
    fn slurred(keys: [f64; 2], rises: f64) -> Vec<f32> {
        let rate = f64::from(RATE);
        let tone = |key: f64, t: f64| -> f64 {
            let partial = |n: u32| libm::sin(TAU * f64::from(n) * frequency(key) * t) / f64::from(n);
            (1..=6).map(partial).sum()
        };
        let sample = |n: usize| {
            let t = n as f64 / rate;
            let first = 10f64.powf(-5.0 * (t - 0.5).max(0.0)) * tone(keys[0], t);
            let second = ((t - 0.5) / rises).clamp(0.0, 1.0) * tone(keys[1], t);
            (0.2 * (first + second)) as f32
        };
        (0..RATE as usize).map(sample).collect()
    }

    #[test]
    fn a_slow_attack_under_the_note_before_is_found() {
        for keys in [[60.0, 62.0], [67.0, 60.0], [72.0, 79.0]] {
            for rises in [0.005, 0.03, 0.08] {
                let found = begins(&slurred(keys, rises), (0.56, 0.9), keys[1], Some(keys[0]));
                assert!((found - 0.5).abs() < 0.02, "{keys:?} in {rises} s: {found}");
            }
        }
    }

    #[test]
    fn silence_and_the_ends_of_a_recording_are_no_harm() {
        for samples in [vec![], vec![0.0; 100], vec![0.5; 48_000]] {
            for (begin, end) in [(0.0, 0.0), (0.0, 0.5), (0.9, 3.0)] {
                let found = begins(&samples, (begin, end), 60.0, None);
                assert!((0.0..=end).contains(&found), "{found}");
            }
        }
    }
}
