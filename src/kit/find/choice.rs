//! Some sounds that stand for many: the most typical first, then always the one that differs most from all before it.

/// The place of the point that lies nearest to all others, on the whole; of several the first. None where there is none.
pub(crate) fn most_typical(count: usize, distance: impl Fn(usize, usize) -> f64) -> Option<usize> {
    let far = |one: usize| (0..count).map(|other| distance(one, other)).sum::<f64>();
    let far = (0..count).map(|one| (one, far(one)));
    far.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(one, _)| one)
}

/// At most `wanted` of the places from 0 to below `count`, from `first` on: each is the one whose nearest chosen one is farthest
/// (the farthest-point choice of Gonzalez 1985, whose widest gap is at most twice the smallest possible). Of equally far ones the
/// first counts.
pub(crate) fn farthest(
    count: usize,
    wanted: usize,
    first: usize,
    distance: impl Fn(usize, usize) -> f64,
) -> Vec<usize> {
    let mut gaps = vec![f64::INFINITY; count];
    let mut chosen = Vec::new();
    let mut next = (first < count && wanted > 0).then_some(first);
    while let Some(one) = next {
        chosen.push(one);
        for (other, gap) in gaps.iter_mut().enumerate() {
            *gap = gap.min(distance(one, other));
        }
        gaps[one] = f64::NEG_INFINITY;
        let left = gaps.iter().enumerate().filter(|(_, gap)| **gap > f64::NEG_INFINITY);
        // The first of equals: `max_by` would give the last.
        let farthest = left.rev().max_by(|a, b| a.1.total_cmp(b.1));
        next = farthest.filter(|_| chosen.len() < wanted).map(|(other, _)| other);
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_middle_comes_first_and_then_the_ends() {
        let at: [f64; 6] = [0.0, 4.0, 5.0, 6.0, 10.0, 5.2];
        let distance = |a: usize, b: usize| (at[a] - at[b]).abs();
        assert_eq!(most_typical(6, distance), Some(2));
        assert_eq!(farthest(6, 3, 2, distance), [2, 0, 4]);
        assert_eq!(farthest(6, 99, 2, distance).len(), 6);
        assert_eq!(most_typical(0, distance), None);
    }

    proptest! {
        /// Whatever is left out lies no farther from its nearest chosen one than any two chosen ones lie apart.
        #[test]
        fn nothing_left_out_differs_more_than_what_was_chosen(at in prop::collection::vec(0u32..1000, 1..30), wanted in 1usize..8) {
            let distance = |a: usize, b: usize| f64::from(at[a].abs_diff(at[b]));
            let first = most_typical(at.len(), distance).unwrap();
            let chosen = farthest(at.len(), wanted, first, distance);
            prop_assert_eq!(chosen.len(), wanted.min(at.len()));
            let gap = |other: usize| chosen.iter().map(|one| distance(*one, other)).fold(f64::INFINITY, f64::min);
            let widest = (0..at.len()).map(gap).fold(0.0, f64::max);
            for (number, one) in chosen.iter().enumerate() {
                for other in &chosen[..number] {
                    prop_assert!(distance(*one, *other) >= widest);
                }
            }
        }
    }
}
