//! The grid of a bar: how its counts are divided, and what the places are called.

use crate::loopfile::{Exact, Time};

/// Divisions of a count that a bar may have.
const DIVISIONS: [u32; 8] = [1, 2, 3, 4, 5, 6, 7, 8];
/// What a cell that does not fit costs, against one more division.
const ODD_CELL: usize = 3;

/// The division that suits some counts best; `needs` says for each part and count with strokes which division they need.
///
/// A finer grid costs columns, a cell that does not fit costs braces. Divisions that players count aloud (halves,
/// trip-lets, quarters) are cheaper than others.
pub(super) fn division(needs: &[u32]) -> u32 {
    let cost = |division: u32| {
        let uncommon = match division {
            ..=4 => 0,
            8 => 1,
            _ => 2,
        };
        unfit(division, needs) * ODD_CELL + division as usize + uncommon
    };
    DIVISIONS
        .into_iter()
        .min_by_key(|division| cost(*division))
        .unwrap_or(1)
}

/// How many of some needs a division does not suit.
pub(super) fn unfit(division: u32, needs: &[u32]) -> usize {
    needs.iter().filter(|need| !division.is_multiple_of(**need)).count()
}

/// The division that some places within a count (from 0 to below 1) need.
pub(super) fn need(places: impl Iterator<Item = Exact>) -> u32 {
    // Beyond a page's reach any number does.
    let lowest = |a: u32, b: i128| {
        let b = u32::try_from(b).unwrap_or(u32::MAX);
        let (mut x, mut y) = (a, b);
        while y != 0 {
            (x, y) = (y, x % y);
        }
        (a / x).saturating_mul(b)
    };
    places.fold(1, |need, place| lowest(need, *place.denom()))
}

/// Counts of a beat: three in compound metres, where a beat is dotted; else one.
pub(super) fn beat(time: &Time) -> u32 {
    let dotted = *time.beat.numer() == 3;
    let compound = time.counts > 3 && time.counts.is_multiple_of(3) && (time.unit >= 8 || dotted);
    if compound { 3 } else { 1 }
}

/// What a player says at a step of a count: the count itself, then `e & a`, or `t l` in trip-lets.
pub(super) fn syllable(count: u32, step: u32, division: u32) -> String {
    let said = |four: u32| ["", "e", "&", "a"][four as usize];
    match (step, division) {
        (0, _) => count.to_string(),
        (_, 1 | 2 | 4 | 8) if (step * 4).is_multiple_of(division) => said(step * 4 / division).into(),
        (_, 3 | 6) if (step * 3).is_multiple_of(division) => ["", "t", "l"][(step * 3 / division) as usize].into(),
        _ => ".".into(),
    }
}

/// The note value of a grid's steps: `1/16`, `1/8 triplets`.
pub(super) fn note_value(division: u32, time: &Time) -> String {
    match division {
        1 | 2 | 4 | 8 => format!("1/{}", time.unit * division),
        // Three in the time of two.
        3 | 6 => format!("1/{} triplets", time.unit * division * 2 / 3),
        _ => format!("{division} to a count"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(division: u32) -> String {
        (0..division)
            .map(|step| syllable(2, step, division))
            .collect::<Vec<_>>()
            .join(" ")
    }

    #[test]
    fn counts_are_said_as_players_say_them() {
        assert_eq!(said(1), "2");
        assert_eq!(said(2), "2 &");
        assert_eq!(said(3), "2 t l");
        assert_eq!(said(4), "2 e & a");
        assert_eq!(said(6), "2 . t . l .");
        assert_eq!(said(8), "2 . e . & . a .");
        assert_eq!(said(5), "2 . . . .");
    }

    #[test]
    fn a_grid_is_as_fine_as_its_bar_needs() {
        assert_eq!(division(&[]), 1);
        assert_eq!(division(&[1, 1]), 1);
        assert_eq!(division(&[1, 2]), 2);
        assert_eq!(division(&[2, 2, 2, 4]), 4);
        assert_eq!(division(&[3, 3, 1]), 3);
        // One trip-let among sixteenths goes between braces; so does one straight eighth among trip-lets.
        assert_eq!(division(&[4, 4, 3, 4]), 4);
        assert_eq!(division(&[3, 3, 2]), 3);
        assert_eq!(division(&[8, 8, 4]), 8);
        assert_eq!(
            need([Exact::new(0, 1), Exact::new(1, 4), Exact::new(2, 3)].into_iter()),
            12
        );
    }

    fn time(counts: u32, unit: u32) -> Time {
        Time {
            tempo: 100.0,
            beat: Exact::new(1, 4),
            counts,
            unit,
        }
    }

    #[test]
    fn compound_metres_have_dotted_beats() {
        for (counts, unit, expected) in [
            (4, 4, 1),
            (3, 4, 1),
            (3, 8, 1),
            (6, 8, 3),
            (15, 8, 3),
            (7, 8, 1),
            (6, 4, 1),
            (12, 16, 3),
        ] {
            assert_eq!(beat(&time(counts, unit)), expected, "{counts}/{unit}");
        }
        // Where the tempo counts dotted halves, six quarters are two of them.
        let dotted = Time {
            beat: Exact::new(3, 4),
            ..time(6, 4)
        };
        assert_eq!(beat(&dotted), 3);
    }

    #[test]
    fn note_values_are_named() {
        let time = |unit| time(4, unit);
        assert_eq!(note_value(4, &time(4)), "1/16");
        assert_eq!(note_value(3, &time(4)), "1/8 triplets");
        assert_eq!(note_value(6, &time(4)), "1/16 triplets");
        assert_eq!(note_value(2, &time(8)), "1/16");
    }
}
