//! A guitarist's hand: when, and how hard, each string of a stroke sounds.

use crate::base::random::Chance;

/// Strokes up take this share of the time of strokes down: they are the return of the hand [practice].
const UP: f64 = 0.75;
/// Strokes up are so many dB softer [practice].
const SOFTER: f64 = 2.0;
/// From the first string that a stroke meets to the last it loses so many dB [practice].
const FALL: f64 = 3.0;
/// The hand gets faster on its way over the strings: the share of the way is the time's share to one over this power [practice].
const HASTE: f64 = 0.8;
/// Times differ from stroke to stroke by up to this share of the time between two strings, and levels by up to so many dB, either
/// way [practice].
const UNEVEN: (f64, f64) = (0.12, 0.7);
/// Strokes up meet two strings of three, the highest ones [practice].
const MET: (usize, usize) = (2, 3);

/// How many of so many strings a stroke meets.
pub(super) fn met(strings: usize, up: bool) -> usize {
    match up {
        true => (strings * MET.0).div_ceil(MET.1),
        false => strings,
    }
}

/// For each string that a stroke meets, in the order in which it meets them: the seconds after its beginning, and a factor of its
/// velocity. `seconds` is what a stroke down over all strings takes.
pub(super) fn stroke(strings: usize, up: bool, seconds: f64, chance: &mut Chance) -> Vec<(f64, f64)> {
    let gaps = strings.saturating_sub(1).max(1) as f64;
    let seconds = seconds * if up { UP } else { 1.0 };
    let mut last = 0.0_f64;
    let met = (0..strings).map(|string| {
        let way = string as f64 / gaps;
        let time = libm::pow(way, HASTE) + UNEVEN.0 / gaps * chance.either_way();
        // The first string is the stroke's beginning, and no string sounds before the one that it lies behind.
        last = if string == 0 { 0.0 } else { last.max(seconds * time) };
        let db = -FALL * way - if up { SOFTER } else { 0.0 } + UNEVEN.1 * chance.either_way();
        (last, libm::exp10(db / 40.0))
    });
    met.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stroke_speeds_up_and_loses_level_and_one_up_is_quicker_and_softer() {
        let mut chance = Chance::new(1, "guitar", "strum", 1);
        let mean = |up: bool, chance: &mut Chance| {
            let mut sums = vec![(0.0, 0.0); 6];
            for _ in 0..400 {
                let strings = stroke(6, up, 0.03, chance);
                assert!(strings[0].0 == 0.0 && strings.is_sorted_by(|a, b| a.0 <= b.0));
                for (sum, (time, scale)) in sums.iter_mut().zip(strings) {
                    *sum = (sum.0 + time / 400.0, sum.1 + 40.0 * libm::log10(scale) / 400.0);
                }
            }
            sums
        };
        let (down, up) = (mean(false, &mut chance), mean(true, &mut chance));
        let gaps: Vec<f64> = down.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
        assert!(gaps.windows(2).all(|pair| pair[1] < pair[0] + 1e-4), "{gaps:?}");
        assert!((down[5].0 - 0.03).abs() < 0.0005 && (up[5].0 - 0.0225).abs() < 0.0005);
        assert!((down[0].1 - down[5].1 - FALL).abs() < 0.15, "{down:?}");
        assert!((down[2].1 - up[2].1 - SOFTER).abs() < 0.15);
        assert_eq!((met(6, true), met(4, true), met(1, true), met(6, false)), (4, 3, 1, 6));
    }
}
