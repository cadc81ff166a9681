//! Where columns and bars stand along a system.
//!
//! A column is whatever begins at one time. The space behind it grows with the root of its time, so that twice the time gets
//! 1.4 times the space: about what E. Gould gives ("Behind Bars", spacing symbols) [memory]. What would touch is put further
//! apart. All space is stretched alike until the system is full.

use crate::loopfile::Exact;

/// Space behind a quarter, in staff spaces, before it is stretched.
const QUARTER: f64 = 3.6;
/// The least space between things of a lane.
const GAP: f64 = 0.18;
/// The least space between two chord symbols.
const OVER: f64 = 0.7;
/// The least space between two columns.
const COLUMNS: f64 = 0.45;
/// Space between what opens a bar and its first column.
const BEGIN: f64 = 0.7;
/// Space before the bar's end.
const END: f64 = 0.5;

/// Something in a lane: when, and how far it reaches to the left and the right of its column.
#[derive(Debug, Clone, Copy)]
pub(super) struct Extent {
    pub at: Exact,
    pub left: f64,
    pub right: f64,
}

/// What takes space in a bar.
#[derive(Debug, Clone)]
pub(super) struct BarSpace {
    /// Clef, key, metre, and a repeat's beginning.
    pub opening: f64,
    /// Room of its own before the barline.
    pub closing: f64,
    /// Its length in whole notes.
    pub length: Exact,
    /// Lanes in which nothing may touch its neighbours; in order of time.
    pub lanes: Vec<Vec<Extent>>,
    /// The same, for what may reach over barlines: chord symbols.
    pub over: Vec<Extent>,
}

/// Where a bar stands, in staff spaces from the system's left.
#[derive(Debug, Clone)]
pub(super) struct BarPlace {
    pub left: f64,
    /// Where its first column may stand.
    pub begins: f64,
    pub right: f64,
    columns: Vec<(Exact, f64)>,
}

impl BarPlace {
    /// Where a column stands; between two columns, in proportion.
    pub(super) fn column(&self, at: Exact) -> f64 {
        let place = self.columns.partition_point(|(time, _)| *time < at);
        match (
            place.checked_sub(1).and_then(|before| self.columns.get(before)),
            self.columns.get(place),
        ) {
            (_, Some((time, x))) if *time == at => *x,
            (Some((from, left)), Some((to, right))) => left + (right - left) * number((at - from) / (to - from)),
            (Some((_, x)), None) | (None, Some((_, x))) => *x,
            (None, None) => self.begins,
        }
    }
}

/// A time or length in floats.
pub(super) fn number(time: Exact) -> f64 {
    *time.numer() as f64 / *time.denom() as f64
}

/// Bars side by side from a place on, with all space stretched by a factor; and where they end.
pub(super) fn place(bars: &[BarSpace], start: f64, stretch: f64) -> (Vec<BarPlace>, f64) {
    let mut left = start;
    let mut over_end = f64::NEG_INFINITY;
    let mut places = Vec::with_capacity(bars.len());
    for bar in bars {
        let place = place_bar(bar, left, stretch, &mut over_end);
        left = place.right;
        places.push(place);
    }
    // What would reach over the last barline makes its bar longer.
    let end = left.max(over_end + END);
    if let Some(last) = places.last_mut() {
        last.right = last.right.max(end);
    }
    (places, end)
}

fn place_bar(bar: &BarSpace, left: f64, stretch: f64, over_end: &mut f64) -> BarPlace {
    let begins = left + bar.opening + BEGIN;
    let mut times: Vec<Exact> = bar
        .lanes
        .iter()
        .flatten()
        .chain(&bar.over)
        .map(|thing| thing.at)
        .collect();
    times.sort_unstable();
    times.dedup();
    let mut ends = vec![begins - GAP; bar.lanes.len()];
    let mut next = vec![0; bar.lanes.len() + 1];
    let mut columns: Vec<(Exact, f64)> = Vec::with_capacity(times.len());
    for time in times {
        let mut x = match columns.last() {
            Some((before, x)) => x + COLUMNS.max(space(time - before) * stretch),
            None => begins,
        };
        let here = |lane: &[Extent], next: &mut usize| {
            let thing = lane.get(*next).filter(|thing| thing.at == time).copied();
            *next += usize::from(thing.is_some());
            thing
        };
        let mut things = Vec::new();
        for (lane, extents) in bar.lanes.iter().enumerate() {
            while let Some(thing) = here(extents, &mut next[lane]) {
                x = x.max(ends[lane] + GAP + thing.left);
                things.push((lane, thing));
            }
        }
        while let Some(thing) = here(&bar.over, &mut next[bar.lanes.len()]) {
            x = x.max(*over_end + OVER + thing.left);
            *over_end = x + thing.right;
        }
        for (lane, thing) in things {
            ends[lane] = ends[lane].max(x + thing.right);
        }
        columns.push((time, x));
    }
    let (time, x) = columns.last().copied().unwrap_or((Exact::new(0, 1), begins));
    let rest = x + space(bar.length - time) * stretch;
    let full = ends.iter().fold(rest, |right, end| right.max(end + GAP));
    BarPlace {
        left,
        begins,
        right: full + END + bar.closing,
        columns,
    }
}

/// Space for a time, before it is stretched.
fn space(time: Exact) -> f64 {
    QUARTER * (number(time).max(0.0) * 4.0).sqrt()
}

/// The stretch that lets bars end at a place; none where they don't fit even at `least`. At most `most`.
pub(super) fn fit(bars: &[BarSpace], start: f64, end: f64, least: f64, most: f64) -> Option<f64> {
    let ends = |stretch: f64| place(bars, start, stretch).1;
    if ends(least) > end {
        return None;
    }
    if ends(most) <= end {
        return Some(most);
    }
    let (mut low, mut high) = (least, most);
    for _ in 0..50 {
        let middle = (low + high) / 2.0;
        match ends(middle) <= end {
            true => low = middle,
            false => high = middle,
        }
    }
    Some(low)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn bar(lanes: Vec<Vec<Extent>>, over: Vec<Extent>) -> BarSpace {
        BarSpace {
            opening: 0.0,
            closing: 0.0,
            length: Exact::new(1, 1),
            lanes,
            over,
        }
    }

    fn lane() -> impl Strategy<Value = Vec<Extent>> {
        let thing = (0i128..16, 0.0..3.0, 0.5..6.0);
        proptest::collection::vec(thing, 0..12).prop_map(|things| {
            let mut things: Vec<Extent> = things
                .into_iter()
                .map(|(step, left, right)| Extent {
                    at: Exact::new(step, 16),
                    left,
                    right,
                })
                .collect();
            things.sort_by_key(|thing| thing.at);
            things.dedup_by_key(|thing| thing.at);
            things
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn nothing_in_a_lane_touches_and_all_stands_within_its_bar(
            lanes in proptest::collection::vec(proptest::collection::vec(lane(), 2), 1..4),
            over in lane(),
            stretch in 0.0..3.0,
        ) {
            let bars: Vec<BarSpace> = lanes.into_iter().map(|lanes| bar(lanes, over.clone())).collect();
            let (places, end) = place(&bars, 4.0, stretch);
            let mut over_end = f64::NEG_INFINITY;
            for (bar, place) in bars.iter().zip(&places) {
                for lane in &bar.lanes {
                    let mut lane_end = place.left;
                    for thing in lane {
                        let x = place.column(thing.at);
                        prop_assert!(x - thing.left >= lane_end - 1e-9);
                        lane_end = x + thing.right;
                        prop_assert!(lane_end <= place.right);
                    }
                }
                for thing in &bar.over {
                    let x = place.column(thing.at);
                    prop_assert!(x - thing.left > over_end);
                    over_end = x + thing.right;
                    prop_assert!(over_end <= end);
                }
            }
        }

        #[test]
        fn a_system_is_filled(lanes in proptest::collection::vec(lane(), 2)) {
            let bars = [bar(lanes, Vec::new())];
            let least = place(&bars, 0.0, 0.0).1;
            prop_assert_eq!(fit(&bars, 0.0, least - 1.0, 0.0, 9.0), None);
            let stretch = fit(&bars, 0.0, least + 10.0, 0.0, 1000.0).expect("it fits");
            prop_assert!((place(&bars, 0.0, stretch).1 - least - 10.0).abs() < 1e-6);
        }
    }

    #[test]
    fn twice_the_time_gets_less_than_twice_the_space() {
        assert!((space(Exact::new(1, 4)) - QUARTER).abs() < 1e-12);
        let ratio = space(Exact::new(1, 2)) / space(Exact::new(1, 4));
        assert!((ratio - 1.414).abs() < 1e-3);
    }
}
