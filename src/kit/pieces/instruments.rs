//! Files with notes in their names that sound at different pitches are an instrument's, whatever else their words mean.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::Ears;
use super::sets::is_of_a_set;
use crate::kit::names::classify::{Decided, Reading};
use crate::kit::names::takes::{Alike, Take};
use crate::kit::root::RootSource;

/// So many files with notes make an instrument.
pub(super) const LEAST: usize = 3;
/// Notes and pitches agree within so many semitones, whatever the octave is called.
const AGREE: f64 = 1.0;

/// The same groups, with those of instruments put together from groups that words took for percussion. A drum whose pitches differ
/// is one of a set, and stays.
pub(super) fn found<'a>(mut groups: Vec<Alike<'a>>, ears: &Ears) -> Vec<Alike<'a>> {
    let mut named: BTreeMap<(Option<&Path>, String), Vec<(usize, Take)>> = BTreeMap::new();
    for (at, group) in groups.iter().enumerate() {
        if group.reading.piece.is_none_or(is_of_a_set) {
            continue;
        }
        for take in &group.takes {
            if let Some((base, _)) = &take.melodic {
                let key = (take.file.parent(), base.clone());
                named.entry(key).or_default().push((at, take.clone()));
            }
        }
    }
    for ((parent, base), members) in named {
        let takes: Vec<Take> = members.iter().map(|(_, take)| take.clone()).collect();
        if !is_instrument(&takes, ears) {
            continue;
        }
        let gone: BTreeSet<&Path> = takes.iter().map(|take| take.file).collect();
        for (at, _) in &members {
            let left = groups[*at].takes.iter().filter(|take| !gone.contains(take.file));
            groups[*at] = groups[*at].part(left.cloned().collect());
        }
        let roots = takes
            .iter()
            .filter_map(|take| Some((take.file, RootSource::Named(take.melodic.as_ref()?.1))));
        let roots: Vec<_> = roots.collect();
        let same = |group: &&mut Alike| group.reading.piece.is_none() && group.base == base && group.folder() == parent;
        match groups.iter_mut().find(same) {
            Some(group) => {
                group.takes.extend(takes);
                group.roots.extend(roots);
            }
            None => {
                let whole = Alike::of_instrument(base, takes, roots, instrument());
                groups.insert(members[0].0, whole);
                // Its groups moved on by one; they are looked up by place no more, as each file has but one name.
                groups.retain(|group| !group.takes.is_empty());
                return found(groups, ears);
            }
        }
    }
    groups.retain(|group| !group.takes.is_empty());
    groups
}

fn instrument() -> Reading {
    Reading {
        confidence: 0.9,
        decided: Decided::Sound,
        ..Reading::default()
    }
}

/// True where at least three files sound at different pitches, as far from one another as their notes are.
fn is_instrument(takes: &[Take], ears: &Ears) -> bool {
    let known = takes.iter().filter_map(|take| {
        let (_, note) = take.melodic.as_ref()?;
        Some((*note, ears.key(take.file)?))
    });
    let known: Vec<(i32, f64)> = known.collect();
    let agree = |of: &(i32, f64)| {
        let off = |one: &(i32, f64)| (one.1 - f64::from(one.0) - (of.1 - f64::from(of.0)) + 6.0).rem_euclid(12.0) - 6.0;
        let notes: BTreeSet<i32> = known
            .iter()
            .filter(|one| off(one).abs() < AGREE)
            .map(|one| one.0)
            .collect();
        notes.len()
    };
    known
        .iter()
        .map(agree)
        .max()
        .is_some_and(|most| most >= LEAST && 2 * most >= known.len())
}
