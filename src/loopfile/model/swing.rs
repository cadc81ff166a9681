//! Swing: pairs of notes whose first half takes more, or less, than half of the time.

use num_rational::Ratio;

use crate::loopfile::{Exact, Swing, Time};

/// Where swing moves a position, in bars from the loop's beginning.
///
/// Pairs are counted from each barline, and all that lies in a pair bends with it: its first half is stretched over
/// `share` of the pair, its second half over the rest. A pair that the barline cuts stays straight, since there is
/// no second half to give to or take from.
pub(crate) fn swung(at: Exact, swing: &Swing, time: &Time) -> Exact {
    let half = Ratio::new(1, 2);
    if swing.share == half {
        return at;
    }
    // Every step of exact arithmetic looks for a common divisor, and every stroke comes through here: few steps.
    let one = Exact::from_integer(1);
    let pair = swing.of * 2 / time.bar();
    let bar = at.floor();
    let place = (at - bar) / pair;
    let number = place.floor();
    if (number + one) * pair > one {
        return at;
    }
    let within = place - number;
    let bent = if within < half {
        within * (swing.share * 2)
    } else {
        one - (one - within) * ((one - swing.share) * 2)
    };
    bar + (number + bent) * pair
}

#[cfg(test)]
mod tests {
    use super::*;

    fn time(counts: u32, unit: u32) -> Time {
        Time {
            tempo: 120.0,
            beat: Ratio::new(1, 4),
            counts,
            unit,
        }
    }

    #[test]
    fn two_thirds_makes_triplets_of_eighths_and_bends_what_lies_between() {
        // [practice] 66.67 % is an exact triplet.
        let swing = Swing {
            share: Ratio::new(2, 3),
            of: Ratio::new(1, 8),
        };
        let four = time(4, 4);
        assert_eq!(swung(Ratio::new(0, 1), &swing, &four), Ratio::new(0, 1));
        assert_eq!(swung(Ratio::new(1, 8), &swing, &four), Ratio::new(1, 6));
        assert_eq!(swung(Ratio::new(1, 16), &swing, &four), Ratio::new(1, 12));
        assert_eq!(swung(Ratio::new(3, 16), &swing, &four), Ratio::new(5, 24));
        assert_eq!(swung(Ratio::new(9, 8), &swing, &four), Ratio::new(7, 6));
    }

    #[test]
    fn a_pair_cut_by_the_barline_stays_straight() {
        let swing = Swing {
            share: Ratio::new(3, 5),
            of: Ratio::new(1, 8),
        };
        let seven = time(7, 8);
        assert_eq!(swung(Ratio::new(1, 7), &swing, &seven), Ratio::new(2 * 3, 5 * 7));
        assert_eq!(swung(Ratio::new(13, 14), &swing, &seven), Ratio::new(13, 14));
    }
}
