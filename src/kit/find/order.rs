//! Sounds in an order in which those that sound alike lie beside one another.

/// The places from 0 to below `count` in an order that begins with the first and goes on to the nearest that is left (the nearest
/// neighbour's way through the points; Rosenkrantz, Stearns and Lewis 1977). Of equally near ones the first counts.
pub(crate) fn chain(count: usize, distance: impl Fn(usize, usize) -> f64) -> Vec<usize> {
    let mut left: Vec<usize> = (1..count).collect();
    let mut order: Vec<usize> = (0..count.min(1)).collect();
    while let Some(last) = order.last().copied().filter(|_| !left.is_empty()) {
        let far = left.iter().map(|place| distance(last, *place));
        let nearest = far.enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
        // Taken out in order: which of equals counts must not depend on what was taken before.
        order.extend(nearest.map(|(at, _)| left.remove(at)));
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn neighbours_lie_beside_one_another() {
        let at: [f64; 5] = [5.0, 1.0, 9.0, 2.0, 6.0];
        assert_eq!(chain(5, |a, b| (at[a] - at[b]).abs()), [0, 4, 2, 3, 1]);
        assert_eq!(chain(0, |_, _| 0.0), [0; 0]);
    }

    proptest! {
        #[test]
        fn each_comes_once_and_equals_keep_their_order(at in prop::collection::vec(0u8..4, 0..40)) {
            let order = chain(at.len(), |a, b| f64::from(at[a].abs_diff(at[b])));
            let mut sorted = order.clone();
            sorted.sort_unstable();
            prop_assert_eq!(sorted, (0..at.len()).collect::<Vec<_>>());
            for pair in order.windows(2).filter(|pair| at[pair[0]] == at[pair[1]] && pair[0] != 0) {
                prop_assert!(pair[0] < pair[1]);
            }
        }
    }
}
