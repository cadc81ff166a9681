//! Takes: files whose names are alike but for a turn or a dynamic.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use unicode_normalization::UnicodeNormalization;

use super::classify::{Folders, Reading};
use super::sides::without_side;
use super::words::{Drum, PLAIN};
use super::{NUMBERED, NameClues, hyphened, in_order, key_of, stem, told};
use crate::kit::root::RootSource;

/// One file of those that are alike.
#[derive(Debug, Clone)]
pub(crate) struct Take<'a> {
    pub file: &'a Path,
    /// The right side, where the file is the left of a stereo recording.
    pub right: Option<&'a Path>,
    /// How hard it is struck, as [`NameClues::rank`].
    pub rank: f64,
    /// As [`NameClues::counts`].
    pub counts: Vec<String>,
    /// As [`NameClues::melodic`].
    pub melodic: Option<(String, i32)>,
}

/// Files whose names are alike but for turns and dynamics.
#[derive(Debug, Clone)]
pub(crate) struct Alike<'a> {
    /// What their names have in common, in lower case with hyphens.
    pub base: String,
    /// What the first one's name tells.
    pub reading: Reading,
    /// Its files.
    pub takes: Vec<Take<'a>>,
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
/// `kit` is the name of the folder that all of them lie in; `pairs` are stereo recordings in two files, of which `wavs` has the
/// left ones.
pub(crate) fn alike<'a>(
    wavs: impl Iterator<Item = &'a Path>,
    kit: &str,
    pairs: &BTreeMap<&'a Path, &'a Path>,
) -> Vec<Alike<'a>> {
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
        let right = pairs.get(wav).copied();
        let read = right.and_then(|_| without_side(&stem)).unwrap_or_else(|| stem.clone());
        let mut told = told(&read, folders);
        // Names without a letter or digit have nothing to be alike in; those that are but a note have their folder's.
        let base = match (told.base.as_str(), above(parent)) {
            ("", _) => stem,
            (note, Some(folder)) if told.classified.reading.piece.is_none() && key_of(note).is_some() => {
                told.note = key_of(note);
                folder
            }
            (base, _) => base.to_string(),
        };
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
        groups[place].add(wav, right, &told);
    }
    settle_doubts(&mut groups, &places);
    groups.iter_mut().for_each(Alike::settle_letters);
    groups.iter_mut().for_each(Alike::settle_numbers);
    groups
}

/// The name of the folder that a file lies in, with hyphens; none for those that lie in the kit's own.
fn above(parent: &Path) -> Option<String> {
    let name = hyphened(&parent.file_name()?.to_string_lossy());
    (!name.is_empty()).then_some(name)
}

/// A diameter or a pedal's `p` is a turn or a dynamic after all where files beside it are counted or marked so: `tom 9` beside
/// `tom 10`, `hat f` beside `hat p`.
fn settle_doubts(groups: &mut Vec<Alike>, places: &BTreeMap<(Option<&Path>, String), usize>) {
    let mut moved = vec![false; groups.len()];
    for at in 0..groups.len() {
        let Some((base, rank)) = groups[at].otherwise.clone() else {
            continue;
        };
        let within = groups[at].takes[0].file.parent();
        let Some(to) = places.get(&(within, base)).copied().filter(|to| *to != at) else {
            continue;
        };
        let counted = |file: &Path| stem(file).ends_with(|last: char| last.is_ascii_digit());
        let same = match rank == PLAIN {
            true => groups[to].takes.iter().any(|take| counted(take.file)),
            false => groups[to].takes.iter().any(|take| take.rank != PLAIN),
        };
        if same {
            let takes = std::mem::take(&mut groups[at].takes);
            let into = &mut groups[to];
            into.letters.extend(vec![None; takes.len()]);
            into.takes.extend(takes.into_iter().map(|take| Take { rank, ..take }));
            into.takes
                .sort_by(|a, b| in_order(&a.file.to_string_lossy(), &b.file.to_string_lossy()));
            moved[at] = true;
        }
    }
    let mut moved = moved.into_iter();
    groups.retain(|_| !moved.next().unwrap_or(false));
}

impl<'a> Alike<'a> {
    fn add(&mut self, wav: &'a Path, right: Option<&'a Path>, told: &NameClues) {
        self.takes.push(Take {
            file: wav,
            right,
            rank: told.rank,
            counts: told.counts.clone(),
            melodic: told.melodic.clone(),
        });
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
            fs.for_each(|(take, _)| take.rank = PLAIN);
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

    /// The folder that its files lie in.
    pub(crate) fn folder(&self) -> Option<&'a Path> {
        self.takes.first().and_then(|take| take.file.parent())
    }

    /// An instrument's zones.
    pub(crate) fn of_instrument(
        base: String,
        takes: Vec<Take<'a>>,
        roots: Vec<(&'a Path, RootSource)>,
        reading: Reading,
    ) -> Alike<'a> {
        Alike {
            base,
            reading,
            letters: vec![None; takes.len()],
            takes,
            roots,
            bare: None,
            tied: Vec::new(),
            numbers: None,
            otherwise: None,
        }
    }

    /// Some of its takes by themselves.
    pub(crate) fn part(&self, takes: Vec<Take<'a>>) -> Alike<'a> {
        let own = |file: &&Path| takes.iter().any(|take| take.file == *file);
        Alike {
            base: self.base.clone(),
            reading: self.reading.clone(),
            roots: self.roots.iter().filter(|(file, _)| own(file)).copied().collect(),
            bare: self.bare,
            tied: self.tied.clone(),
            numbers: None,
            otherwise: None,
            letters: vec![None; takes.len()],
            takes,
        }
    }
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
pub(crate) fn layers(takes: &[Take]) -> Vec<(f64, Vec<PathBuf>)> {
    let mut ranks: Vec<f64> = takes.iter().map(|take| take.rank).collect();
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
    for take in takes {
        let index = ranks.partition_point(|of| *of < take.rank);
        layers[index].1.push(take.file.to_path_buf());
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
