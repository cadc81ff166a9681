//! The buzz roll (the multiple-bounce roll of the Percussive Arts Society's International Drum Rudiments): presses of a
//! stick, each of which bounces until the next one takes over, so that the roll is sustained [practice].

use super::blow::{Blow, Touch};
use crate::base::random::Chance;
use crate::loopfile::Exact;

/// Seconds from bounce to bounce, on an average of one press: the least and the greatest.
const APART: (f64, f64) = (0.023, 0.03);
/// The longest that one press carries, in seconds. A longer step takes several, as the hands would.
const LONGEST_PRESS: f64 = 0.22;
/// How much shorter each distance is than the one before it, as bounces close up.
const CLOSING: f64 = 0.92;
/// How much a distance differs by chance, as a share of it, either way.
const UNEVEN: f64 = 0.1;
/// The first bounce after a press, as a share of its velocity.
const REBOUND: f64 = 0.87;
/// What each further bounce keeps of the velocity before it.
const FADING: f64 = 0.95;
/// How much a bounce's velocity differs by chance, as a share of it, either way.
const UNEVEN_LEVEL: f64 = 0.06;
/// A bounce's treble comes down by so many octaves at the most.
const DULLEST: f64 = 0.6;

/// The blows of a press from a place on, over so many seconds.
///
/// They fill the time exactly: the last is no further from where the next press comes than bounces are from one another.
pub(super) fn press(at: Exact, seconds: f64, chance: &mut Chance) -> Vec<Blow> {
    let presses = libm::ceil(seconds / LONGEST_PRESS).max(1.0);
    let lasts = seconds / presses;
    let mut blows = Vec::new();
    for number in 0..presses as usize {
        bounces(at, number as f64 * lasts, lasts, chance, &mut blows);
    }
    blows
}

fn bounces(at: Exact, from: f64, lasts: f64, chance: &mut Chance, blows: &mut Vec<Blow>) {
    let apart = APART.0 + (APART.1 - APART.0) * chance.share();
    let count = libm::round(lasts / apart).max(1.0) as usize;
    let mut closing = 1.0;
    let mut distances = Vec::with_capacity(count);
    for _ in 0..count {
        distances.push(closing * (1.0 + UNEVEN * chance.either_way()));
        closing *= CLOSING;
    }
    let whole: f64 = distances.iter().sum();
    let (mut after, mut share) = (from, 1.0);
    for (number, distance) in distances.into_iter().enumerate() {
        let level = if number == 0 {
            1.0
        } else {
            share * (1.0 + UNEVEN_LEVEL * chance.either_way())
        };
        blows.push(Blow {
            at,
            after,
            share: level,
            grace_note: None,
            touch: Touch::Bounce(chance.either_way(), DULLEST * chance.share()),
        });
        after += distance * lasts / whole;
        share *= if number == 0 { REBOUND } else { FADING };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn bounces_fill_a_press_and_soften(seconds in 0.005f64..2.0, seed in 0u64..1000) {
            let at = Exact::new(3, 4);
            let blows = press(at, seconds, &mut Chance::new(seed, "snare", "hand", 1));
            let mut times: Vec<f64> = blows.iter().map(|blow| blow.after).collect();
            prop_assert_eq!(times[0], 0.0);
            times.push(seconds);
            let gaps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
            // The widest distance is the first of a press, which is a fifth over the average at the most.
            prop_assert!(gaps.iter().all(|gap| *gap > 0.0 && *gap < 0.055), "{:?}", gaps);
            prop_assert!(blows.iter().all(|blow| blow.share > 0.4 && blow.share <= 1.0));
        }
    }
}
