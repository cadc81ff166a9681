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

/// Files that have one name but for their notes, by their folder and that name.
type Named<'a> = BTreeMap<(Option<&'a Path>, String), Vec<Take<'a>>>;

/// The same groups, with those of instruments put together from groups that words took for percussion. A drum whose pitches differ
/// is one of a set, and stays.
pub(super) fn found<'a>(mut groups: Vec<Alike<'a>>, ears: &Ears) -> Vec<Alike<'a>> {
    let instruments: Named = named(&groups)
        .into_iter()
        .filter(|(_, takes)| is_instrument(takes, ears))
        .collect();
    for ((folder, base), takes) in instruments {
        let gone: BTreeSet<&Path> = takes.iter().map(|take| take.file).collect();
        let is_gone = |take: &Take| gone.contains(take.file);
        let first = groups
            .iter()
            .position(|group| group.takes.iter().any(is_gone))
            .unwrap_or(0);
        for group in groups.iter_mut().filter(|group| group.takes.iter().any(is_gone)) {
            *group = group.part(group.takes.iter().filter(|take| !is_gone(take)).cloned().collect());
        }
        let root = |take: &Take<'a>| Some((take.file, RootSource::Named(take.melodic.as_ref()?.1)));
        let roots: Vec<_> = takes.iter().filter_map(root).collect();
        let same = |group: &&mut Alike| group.reading.piece.is_none() && group.base == base && group.folder() == folder;
        match groups.iter_mut().find(same) {
            Some(group) => {
                group.takes.extend(takes);
                group.roots.extend(roots);
            }
            None => groups.insert(first, Alike::of_instrument(base, takes, roots, heard())),
        }
    }
    groups.retain(|group| !group.takes.is_empty());
    groups
}

/// Files with notes in their names that words take for percussion.
fn named<'a>(groups: &[Alike<'a>]) -> Named<'a> {
    let mut named: Named = BTreeMap::new();
    let taken_for_drums = groups
        .iter()
        .filter(|group| !group.reading.piece.is_none_or(is_of_a_set));
    for take in taken_for_drums.flat_map(|group| &group.takes) {
        if let Some((base, _)) = &take.melodic {
            named
                .entry((take.file.parent(), base.clone()))
                .or_default()
                .push(take.clone());
        }
    }
    named
}

fn heard() -> Reading {
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
