//! Where a stroke lies before chance: swung, or pulled to the grid.

use crate::loopfile::{Exact, Playing, Swing, Tighten, Time, swung};

/// Where swing and tightening move a position, in bars from the loop's beginning.
pub(super) fn placed(at: Exact, playing: &Playing, time: &Time) -> Exact {
    let here = swung(at, &playing.swing, time);
    match &playing.tighten {
        Some(Tighten { by, swing }) => here + (nearest(at, here, swing, time) - here) * by,
        None => here,
    }
}

/// The sixteenth, counted from each barline and swung, that lies nearest to `here`; the earlier of two that lie as near.
/// `at` is the same place unswung. The last one of a bar is the next barline.
fn nearest(at: Exact, here: Exact, swing: &Swing, time: &Time) -> Exact {
    let step = Exact::new(1, 16) / time.bar();
    let bar = at.floor();
    let below = bar + ((at - bar) / step).floor() * step;
    let [below, above] = [below, (below + step).min(bar + 1)].map(|grid| swung(grid, swing, time));
    let away = |grid: Exact| (here - grid).max(grid - here);
    if away(above) < away(below) { above } else { below }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loopfile::Loose;

    const TIME: Time = Time {
        tempo: 120.0,
        beat: Exact::new_raw(1, 4),
        counts: 4,
        unit: 4,
    };

    fn pulled(at: (i128, i128), by: (i128, i128), share: (i128, i128)) -> Exact {
        let swing = |share: (i128, i128)| Swing {
            share: Exact::new(share.0, share.1),
            of: Exact::new(1, 16),
        };
        let tighten = Tighten {
            by: Exact::new(by.0, by.1),
            swing: swing(share),
        };
        let playing = Playing {
            behind: 0.0,
            swing: swing((1, 2)),
            tighten: Some(tighten),
            like: None,
            velocity: None,
            odds: 0.5,
            loose: Loose {
                time: 0.0,
                velocity: 0.0,
                together: 0.0,
            },
        };
        placed(Exact::new(at.0, at.1), &playing, &TIME)
    }

    #[test]
    fn a_share_of_the_way_to_the_nearest_sixteenth() {
        // 65/960 of a bar lie 5/960 behind the first sixteenth of 60/960.
        assert_eq!(pulled((65, 960), (1, 2), (1, 2)), Exact::new(125, 1920));
        assert_eq!(pulled((65, 960), (1, 1), (1, 2)), Exact::new(60, 960));
        assert_eq!(pulled((115, 960), (1, 1), (1, 2)), Exact::new(120, 960));
        // At the end of a bar the barline is near.
        assert_eq!(pulled((1950, 1952), (1, 1), (1, 2)), Exact::from_integer(1));
    }

    #[test]
    fn the_grid_swings() {
        // At 66.7 % of a pair of 120/960 the second sixteenth lies at 80/960.
        assert_eq!(pulled((65, 960), (1, 1), (2, 3)), Exact::new(80, 960));
        assert_eq!(pulled((35, 960), (1, 1), (2, 3)), Exact::from_integer(0));
        assert_eq!(pulled((70, 960), (1, 2), (2, 3)), Exact::new(75, 960));
    }
}
