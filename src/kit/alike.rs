//! Takes: files whose names are alike but for a turn or a dynamic.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::names::{NUMBERED, Told, told};
use super::roots::Said;
use super::tell::{Folders, Reading};

/// Files whose names are alike but for turns and dynamics.
pub(super) struct Alike<'a> {
    /// What their names have in common, in lower case with hyphens.
    pub base: String,
    /// What the first one's name tells.
    pub reading: Reading,
    /// The rank and path of each.
    pub takes: Vec<(f64, &'a Path)>,
    /// What names say of pitches.
    pub roots: Vec<(&'a Path, Said)>,
    /// MIDI numbers, as long as every name has what may be one.
    numbers: Option<Vec<(&'a Path, i32)>>,
}

/// Groups files that lie in one folder and are alike but for turns and dynamics, in the order of their first.
///
/// `kit` is the name of the folder that all of them lie in.
pub(super) fn alike<'a>(wavs: impl Iterator<Item = &'a Path>, kit: &str) -> Vec<Alike<'a>> {
    let mut groups: Vec<Alike> = Vec::new();
    let mut places: BTreeMap<(Option<&Path>, String), usize> = BTreeMap::new();
    let mut within: Option<(&Path, Folders)> = None;
    for wav in wavs {
        let stem = stem(wav);
        let parent = wav.parent().unwrap_or(Path::new(""));
        // Files come folder by folder, so one folder's words are read once.
        let (_, folders) = match &within {
            Some(read) if read.0 == parent => read,
            _ => within.insert((parent, Folders::of(parent).within(kit))),
        };
        let told = told(&stem, folders);
        // Names without a letter or digit have nothing to be alike in.
        let base = if told.base.is_empty() { stem } else { told.base.clone() };
        let place = *places.entry((wav.parent(), base.clone())).or_insert_with(|| {
            groups.push(Alike {
                base,
                reading: told.telling.reading.clone(),
                takes: Vec::new(),
                roots: Vec::new(),
                numbers: Some(Vec::new()),
            });
            groups.len() - 1
        });
        groups[place].add(wav, &told);
    }
    groups.iter_mut().for_each(Alike::settle_numbers);
    groups
}

impl<'a> Alike<'a> {
    fn add(&mut self, wav: &'a Path, told: &Told) {
        self.takes.push((told.rank, wav));
        self.roots.extend(told.note.map(|note| (wav, Said::Named(note))));
        self.numbers = self.numbers.take().zip(told.number).map(|(mut numbers, number)| {
            numbers.push((wav, number));
            numbers
        });
    }

    /// Numbers that may be keys of a piano are, where every name of a group has one; a series of turns begins below them.
    fn settle_numbers(&mut self) {
        if self.roots.is_empty()
            && let Some(numbers) = self.numbers.take()
        {
            let numbers = numbers.into_iter();
            self.roots = numbers.map(|(wav, number)| (wav, Said::Numbered(number))).collect();
        }
    }
}

/// A file's name without its extension.
pub(super) fn stem(file: &Path) -> String {
    file.file_stem()
        .map_or(String::new(), |stem| stem.to_string_lossy().into_owned())
}

/// What the names of some files say of their pitches.
pub(super) fn named(files: &[PathBuf]) -> Vec<(PathBuf, Said)> {
    files
        .iter()
        .filter_map(|file| Some((file.clone(), Said::Named(named_note(file)?))))
        .collect()
}

/// The note that a file's own name names.
pub(super) fn named_note(file: &Path) -> Option<i32> {
    told(&stem(file), &Folders::default()).note
}

/// From this number on a layer is numbered by a velocity, not counted.
const VELOCITIES: f64 = 20.0;

/// The takes of each dynamic as a layer: up to its velocity where all names say theirs, else over even parts of the velocities
/// from 1 to 127.
pub(super) fn layers(takes: &[(f64, &Path)]) -> Vec<(f64, Vec<PathBuf>)> {
    let mut ranks: Vec<f64> = takes.iter().map(|(rank, _)| *rank).collect();
    ranks.sort_by(f64::total_cmp);
    ranks.dedup();
    let count = ranks.len();
    let velocities = ranks[0] > NUMBERED && ranks[count - 1] >= NUMBERED + VELOCITIES;
    let upto = |index: usize| match index + 1 {
        last if last == count => 127.0,
        _ if velocities => ranks[index] - NUMBERED,
        number => (127.0 * number as f64 / count as f64).round(),
    };
    let mut layers: Vec<(f64, Vec<PathBuf>)> = (0..count).map(|index| (upto(index), Vec::new())).collect();
    for (rank, file) in takes {
        let index = ranks.partition_point(|of| of < rank);
        layers[index].1.push(file.to_path_buf());
    }
    layers
}
