//! Choke groups: hits of one group stop one another, across parts and round the loop's end.

use std::collections::BTreeMap;

use super::hit::{Hit, Stop};

/// Marks each hit with what stops it. `group` tells the group of a hit by its part and itself; `round` is the loop's
/// length in seconds. Hits at the very same time leave one another alone.
pub(super) fn resolve(parts: &mut [Vec<Hit>], round: f64, group: impl Fn(usize, &Hit) -> Option<String>) {
    let mut groups: BTreeMap<String, Vec<(usize, usize)>> = BTreeMap::new();
    for (part, hits) in parts.iter().enumerate() {
        for (number, hit) in hits.iter().enumerate() {
            if let Some(name) = group(part, hit) {
                groups.entry(name).or_default().push((part, number));
            }
        }
    }
    for mut members in groups.into_values() {
        members.sort_by(|a, b| parts[a.0][a.1].at.total_cmp(&parts[b.0][b.1].at).then(a.cmp(b)));
        let times: Vec<f64> = members.iter().map(|(part, number)| parts[*part][*number].at).collect();
        for (place, (part, number)) in members.into_iter().enumerate() {
            let at = times[place];
            let next = times[place..].partition_point(|time| *time <= at) + place;
            parts[part][number].stop = Some(match times.get(next) {
                Some(later) => Stop::Later(later - at),
                None => Stop::NextRound(times[0] + round - at),
            });
        }
    }
}
