//! Notes that are struck again at the same pitch.

use super::RATE;

/// Seconds to either side of a moment in which levels are compared, and from one level to the next.
const ABOUT: f64 = 0.053;
const STEP: usize = 128;
/// Samples over which a level is taken, at the least: so many whole periods as it takes.
const LEVEL: f64 = 512.0;
/// At an onset the level comes back by so many dB; where none was found it dips by so many, and has come back half of the way.
const COMES_BACK: f64 = 3.0;
const DIPS: f64 = 9.0;
/// Seconds that a note lasts before it is struck again, and after.
const LASTS: f64 = 0.043;

/// The seconds within a note at which it is struck again: where the level dips and comes back, as far as onsets are there less
/// far. The note is heard from `begin` to `end` at a frequency in Hz.
pub(super) fn struck_again(samples: &[f32], onsets: &[f64], (begin, end): (f64, f64), hertz: f64) -> Vec<f64> {
    let seconds = STEP as f64 / f64::from(RATE);
    let levels = levels(samples, (begin, end), hertz);
    let at = |place: usize| begin + place as f64 * seconds;
    let onset = |place: &usize| onsets.iter().any(|onset| (onset - at(*place)).abs() <= 0.5 * seconds);
    let struck = (0..levels.len()).filter(|place| onset(place) && comes_back(&levels, *place) > COMES_BACK);
    let mut struck: Vec<f64> = struck.map(at).collect();
    let dipped = dips(&levels).into_iter().map(at);
    let alone: Vec<f64> = dipped
        .filter(|dip| struck.iter().all(|other| (other - dip).abs() > 2.0 * LASTS))
        .collect();
    struck.extend(alone);
    struck.sort_by(f64::total_cmp);
    let mut last = begin;
    struck.retain(|at| {
        let lasts = at - last > LASTS && at + LASTS < end;
        last = if lasts { *at } else { last };
        lasts
    });
    struck
}

/// The level in dB at every step of a note.
fn levels(samples: &[f32], (begin, end): (f64, f64), hertz: f64) -> Vec<f64> {
    let rate = f64::from(RATE);
    let period = rate / hertz;
    // Whole periods: a low note's level would waver from one wave to the next otherwise.
    let window = (libm::ceil(LEVEL / period) * period) as usize;
    let level = |centre: usize| {
        let from = centre.saturating_sub(window / 2).min(samples.len());
        let near = &samples[from..(from + window).min(samples.len())];
        let power: f64 = near.iter().map(|sample| f64::from(*sample).powi(2)).sum();
        10.0 * libm::log10((power / near.len().max(1) as f64).max(1e-12))
    };
    let (from, to) = ((begin * rate) as usize, (end * rate) as usize);
    (from..to).step_by(STEP).map(level).collect()
}

/// Steps to either side in which levels are compared.
const ABOUT_STEPS: usize = (ABOUT * RATE as f64) as usize / STEP;

fn lowest(levels: &[f64]) -> f64 {
    levels.iter().copied().fold(f64::INFINITY, f64::min)
}

fn highest(levels: &[f64]) -> f64 {
    levels.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

/// By how many dB the level comes back about a step.
fn comes_back(levels: &[f64], at: usize) -> f64 {
    let before = &levels[at.saturating_sub(ABOUT_STEPS)..=at];
    let after = &levels[at..(at + ABOUT_STEPS).min(levels.len())];
    highest(after) - lowest(before)
}

/// Where the level comes back from dips that are as deep on either side.
fn dips(levels: &[f64]) -> Vec<usize> {
    let about = |at: usize| (at.saturating_sub(ABOUT_STEPS), (at + ABOUT_STEPS + 1).min(levels.len()));
    let is_bottom = |at: &usize| {
        let (from, to) = about(*at);
        // Of equals the last, from which it comes back.
        let least =
            lowest(&levels[from..=*at]) >= levels[*at] && levels[*at + 1..to].iter().all(|next| *next > levels[*at]);
        least && highest(&levels[from..=*at]).min(highest(&levels[*at..to])) > levels[*at] + DIPS
    };
    let back = |at: usize| {
        let (_, to) = about(at);
        let half = 0.5 * (levels[at] + highest(&levels[at..to]));
        (at..to).find(|place| levels[*place] > half).unwrap_or(at)
    };
    (0..levels.len()).filter(is_bottom).map(back).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A second of a tone whose level is told of each moment.
    fn tone(hertz: f64, level: impl Fn(f64) -> f64) -> Vec<f32> {
        let sample = |n: usize| {
            let t = n as f64 / f64::from(RATE);
            (0.3 * level(t) * libm::sin(std::f64::consts::TAU * hertz * t)) as f32
        };
        (0..RATE as usize).map(sample).collect()
    }

    #[test]
    fn a_note_is_struck_again_where_its_level_dips() {
        for hertz in [41.2, 110.0, 440.0, 1760.0] {
            let found =
                |level: fn(f64) -> f64| struck_again(&tone(hertz, level), &[0.01, 0.3, 0.5, 0.98], (0.0, 1.0), hertz);
            // Plucked twice; stopped for 20 ms; a tremolo of 1 dB.
            let once = |level: fn(f64) -> f64| {
                let again = found(level);
                assert!(again.len() == 1 && (again[0] - 0.5).abs() < 0.015, "{hertz}: {again:?}");
            };
            once(|t| libm::exp(-4.0 * (t % 0.5)));
            once(|t| if (0.47..0.495).contains(&t) { 0.0 } else { 1.0 });
            let tremolo = found(|t| 1.0 + 0.06 * libm::sin(36.0 * t));
            assert!(tremolo.is_empty(), "{hertz}: {tremolo:?}");
            // A dip without an onset.
            once(|t| if (0.44..0.49).contains(&t) { 0.2 } else { 1.0 });
        }
    }

    #[test]
    fn moments_outside_of_the_recording_are_no_harm() {
        assert!(struck_again(&[], &[0.5], (0.0, 1.0), 440.0).is_empty());
        assert!(struck_again(&[0.5; 10], &[0.5, 2.0], (0.0, 3.0), 440.0).is_empty());
    }
}
