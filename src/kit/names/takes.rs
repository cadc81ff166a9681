//! Takes: files whose names are alike but for a turn or a dynamic.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use unicode_normalization::UnicodeNormalization;

use super::classify::{Folders, Reading};
use super::words::{Drum, PLAIN};
use super::{NUMBERED, NameClues, hyphened, in_order, told};
use crate::kit::root::RootSource;

/// Files whose names are alike but for turns and dynamics.
pub(crate) struct Alike<'a> {
    /// What their names have in common, in lower case with hyphens.
    pub base: String,
    /// What the first one's name tells.
    pub reading: Reading,
    /// The rank and path of each.
    pub takes: Vec<(f64, &'a Path)>,
    /// What names say of pitches.
    pub roots: Vec<(&'a Path, RootSource)>,
    /// The instrument, where no name tells which of its pieces is meant.
    pub bare: Option<Drum>,
    /// Instruments between which the names leave it open.
    pub tied: Vec<Drum>,
    /// MIDI numbers, as long as every name has what may be one.
    numbers: Option<Vec<(&'a Path, i32)>>,
    /// What it is where a word of its names is a turn or a dynamic after all: its base and its rank.
    otherwise: Option<(String, f64)>,
    /// The letters behind its names.
    letters: Vec<Option<char>>,
}

/// Groups files that lie in one folder and are alike but for turns and dynamics, in the order of their first.
///
/// `kit` is the name of the folder that all of them lie in.
pub(crate) fn alike<'a>(wavs: impl Iterator<Item = &'a Path>, kit: &str) -> Vec<Alike<'a>> {
    let mut groups: Vec<Alike> = Vec::new();
    let mut places: BTreeMap<(Option<&Path>, String), usize> = BTreeMap::new();
    let mut within: Option<(&Path, Folders)> = None;
    for wav in wavs {
        let stem = stem(wav);
        let parent = wav.parent().unwrap_or(Path::new(""));
        // Files come folder by folder, so one folder's words are read once.
        if within.as_ref().is_none_or(|(of, _)| *of != parent) {
            within = Some((parent, Folders::of(parent).within(kit)));
        }
        let Some((_, folders)) = &within else { continue };
        let told = told(&stem, folders);
        // Names without a letter or digit have nothing to be alike in.
        let base = if told.base.is_empty() { stem } else { told.base.clone() };
        let place = *places.entry((wav.parent(), base.clone())).or_insert_with(|| {
            groups.push(Alike {
                base,
                reading: told.classified.reading.clone(),
                takes: Vec::new(),
                roots: Vec::new(),
                bare: told.classified.bare,
                tied: told.classified.tied.clone(),
                numbers: Some(Vec::new()),
                otherwise: told.otherwise.clone(),
                letters: Vec::new(),
            });
            groups.len() - 1
        });
        groups[place].add(wav, &told);
    }
    settle_doubts(&mut groups, &places);
    groups.iter_mut().for_each(Alike::settle_letters);
    groups.iter_mut().for_each(Alike::settle_numbers);
    groups
}

/// A diameter or a pedal's `p` is a turn or a dynamic after all where files beside it are counted or marked so: `tom 9` beside
/// `tom 10`, `hat f` beside `hat p`.
fn settle_doubts(groups: &mut Vec<Alike>, places: &BTreeMap<(Option<&Path>, String), usize>) {
    let mut moved = vec![false; groups.len()];
    for at in 0..groups.len() {
        let Some((base, rank)) = groups[at].otherwise.clone() else {
            continue;
        };
        let within = groups[at].takes[0].1.parent();
        let Some(to) = places.get(&(within, base)).copied().filter(|to| *to != at) else {
            continue;
        };
        let counted = |file: &Path| stem(file).ends_with(|last: char| last.is_ascii_digit());
        let same = match rank == PLAIN {
            true => groups[to].takes.iter().any(|(_, file)| counted(file)),
            false => groups[to].takes.iter().any(|(of, _)| *of != PLAIN),
        };
        if same {
            let takes = std::mem::take(&mut groups[at].takes);
            let into = &mut groups[to];
            into.letters.extend(vec![None; takes.len()]);
            into.takes.extend(takes.into_iter().map(|(_, file)| (rank, file)));
            into.takes
                .sort_by(|(_, a), (_, b)| in_order(&a.to_string_lossy(), &b.to_string_lossy()));
            moved[at] = true;
        }
    }
    let mut moved = moved.into_iter();
    groups.retain(|_| !moved.next().unwrap_or(false));
}

impl<'a> Alike<'a> {
    fn add(&mut self, wav: &'a Path, told: &NameClues) {
        self.takes.push((told.rank, wav));
        self.letters.push(told.letter);
        self.roots.extend(told.note.map(|note| (wav, RootSource::Named(note))));
        self.numbers = self.numbers.take().zip(told.number).map(|(mut numbers, number)| {
            numbers.push((wav, number));
            numbers
        });
    }

    /// After `e` an `f` counts on and is no forte.
    fn settle_letters(&mut self) {
        if self.reading.piece.is_some() && self.letters.contains(&Some('e')) {
            let fs = self
                .takes
                .iter_mut()
                .zip(&self.letters)
                .filter(|(_, letter)| **letter == Some('f'));
            fs.for_each(|((rank, _), _)| *rank = PLAIN);
        }
    }

    /// Numbers that may be keys of a piano are, where every name of a group has one; a series of turns begins below them.
    fn settle_numbers(&mut self) {
        if self.roots.is_empty()
            && let Some(numbers) = self.numbers.take()
        {
            let numbers = numbers.into_iter();
            self.roots = numbers
                .map(|(wav, number)| (wav, RootSource::Numbered(number)))
                .collect();
        }
    }

    /// True where its names may count drums of a set and not turns: `tom 1` to `tom 4` at the most, one file each.
    pub(crate) fn counts_drums(&self) -> bool {
        let number = |file: &Path| {
            let stem = stem(file);
            let digits = stem.len() - stem.bytes().rev().take_while(u8::is_ascii_digit).count();
            stem[digits..].to_string()
        };
        let counted =
            |(index, (rank, file)): (usize, &(f64, &Path))| *rank == PLAIN && number(file) == (index + 1).to_string();
        (2..=4).contains(&self.takes.len()) && self.takes.iter().enumerate().all(counted)
    }

    /// Its takes as pieces of their own, each by its file's name.
    pub(crate) fn apart(self) -> Vec<Alike<'a>> {
        let one = |(rank, file): (f64, &'a Path)| Alike {
            base: hyphened(&stem(file)),
            reading: self.reading.clone(),
            takes: vec![(rank, file)],
            roots: Vec::new(),
            bare: self.bare,
            tied: Vec::new(),
            numbers: None,
            otherwise: None,
            letters: vec![None],
        };
        self.takes.iter().copied().map(one).collect()
    }
}

/// A file's name without its extension.
pub(crate) fn stem(file: &Path) -> String {
    file.file_stem()
        .map_or(String::new(), |stem| stem.to_string_lossy().into_owned())
}

/// What the names of some files say of their pitches.
pub(crate) fn named(files: &[PathBuf]) -> Vec<(PathBuf, RootSource)> {
    files
        .iter()
        .filter_map(|file| Some((file.clone(), RootSource::Named(named_note(file)?))))
        .collect()
}

/// The note that a file's own name names.
pub(crate) fn named_note(file: &Path) -> Option<i32> {
    told(&stem(file), &Folders::default()).note
}

/// From this number on a layer is numbered by a velocity, not counted.
const VELOCITIES: f64 = 20.0;

/// The takes of each dynamic as a layer: up to its velocity where all names say theirs, else over even parts of the velocities
/// from 1 to 127.
pub(crate) fn layers(takes: &[(f64, &Path)]) -> Vec<(f64, Vec<PathBuf>)> {
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

/// The names that a file has: with hyphens, as it is, and as people type it where the disk writes accents as letters of their own.
pub(crate) fn file_names(file: &Path) -> Vec<String> {
    let stem = stem(file);
    let mut names = vec![hyphened(&stem)];
    names.extend((!stem.is_ascii()).then(|| stem.nfc().collect()));
    names.push(stem);
    names
}
