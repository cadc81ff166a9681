//! One folder of a kit: its pieces, from its `kit.toml` and, for the rest, from its file names.
//!
//! In: a folder. Out: pieces with their files, settings and credits, or problems with their places. It knows nothing of other
//! folders and of loops.

pub(crate) mod credit;
pub(crate) mod manifest;
pub(crate) mod one_shots;
mod recordings;
pub(crate) mod scan;
pub(crate) mod skipped;
pub(crate) mod write_manifest;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::names::classify::{Decided, Reading};
use super::names::lexicon::GUESS;
use super::names::stem;
use super::names::takes::{file_names, layers, named};
use super::pieces::pieces;
use super::root::RootSource;
use super::sustain::Sustain;
use crate::schema::Settings;
use crate::text::{Problem, did_you_mean, nearest};
use manifest::{About, Entry, folder_name, manifest};
use recordings::only_one;
use scan::scan;

/// One folder of a kit.
#[derive(Debug)]
pub(super) struct Folder {
    pub about: About,
    /// The pieces of MIDI keys.
    pub keys: Vec<(u8, String)>,
    /// The pieces it is made of.
    pub listed: Vec<Found>,
    /// Single files of pieces that have several.
    pub singles: Vec<Found>,
    /// The right sides of recordings that lie in two files, by their left ones.
    pub pairs: BTreeMap<PathBuf, PathBuf>,
    /// What `kit.toml` says of the loops of recordings, by their files or the left ones of two.
    pub sustains: BTreeMap<PathBuf, Sustain>,
    /// What was found odd about the folder.
    pub notices: Vec<Problem>,
    /// What of it was left out that is no file and no folder; no matter to a loop.
    pub skipped: Option<Problem>,
}

/// A piece as one folder has it.
#[derive(Debug, Clone)]
pub(super) struct Found {
    /// The names it goes by, its own first; no two pieces of the folder share one.
    pub names: Vec<String>,
    /// Layers from the softest up: the highest velocity of each, and its files.
    pub layers: Vec<(f64, Vec<PathBuf>)>,
    /// The group in which hits stop one another.
    pub choke: Option<String>,
    /// What `kit.toml` says of its sound and strip.
    pub defaults: Option<Settings>,
    /// What is said of the pitches of its files.
    pub roots: Vec<(PathBuf, RootSource)>,
    /// True where its files are recordings at several pitches, not turns.
    pub zoned: bool,
    /// What its names tell of it.
    pub reading: Reading,
}

impl Found {
    /// All files of all layers.
    fn files(&self) -> Vec<PathBuf> {
        self.layers.iter().flat_map(|(_, files)| files).cloned().collect()
    }

    /// Says that all files were recorded at one pitch.
    fn set_root(&mut self, root: f64) {
        let files = self.files();
        self.roots = files
            .into_iter()
            .map(|file| (file, RootSource::Written(root)))
            .collect();
    }
}

/// Reads a folder; what is wrong goes to the problems, and what could be read is given all the same. Where only some pieces
/// are wanted, what names leave open of others stays so.
pub(super) fn folder(path: &Path, wanted: Option<&[String]>, problems: &mut Vec<Problem>) -> Folder {
    let contents = scan(path).unwrap_or_else(|problem| {
        problems.push(problem);
        Default::default()
    });
    if contents.wavs.is_empty() {
        if problems.is_empty() {
            problems.push(contents.no_wavs(path));
        }
        return Folder {
            about: About::default(),
            keys: Vec::new(),
            listed: Vec::new(),
            singles: Vec::new(),
            pairs: BTreeMap::new(),
            sustains: BTreeMap::new(),
            notices: contents.notices,
            skipped: None,
        };
    }
    let manifest = manifest(path, &contents.wavs, problems);
    let (with_files, without): (Vec<Entry>, Vec<Entry>) = manifest
        .pieces
        .into_iter()
        .partition(|entry| !entry.recordings.layers.is_empty());
    let mut shelf = Shelf {
        sustains: manifest.sustains,
        ..Shelf::default()
    };
    // No piece goes by a name that another one has.
    shelf
        .taken
        .extend(with_files.iter().map(|entry| entry.name.text.clone()));
    for entry in with_files {
        shelf.put_entry(entry);
    }
    // What kit.toml says of a piece has to find it too.
    let said = without.iter().map(|entry| entry.name.text.as_str());
    let wanted = wanted.map(|names| names.iter().map(String::as_str).chain(said).collect::<Vec<_>>());
    let mut pairs = manifest.pairs;
    let mut wavs = contents.wavs;
    let right: BTreeSet<&PathBuf> = pairs.values().collect();
    wavs.retain(|wav| !right.contains(wav));
    let told = shelf.put_told(&wavs, path, wanted.as_deref());
    pairs.extend(told);
    shelf.put_file_names();
    for entry in without {
        if let Err(problem) = shelf.put_defaults(entry) {
            problems.push(problem);
        }
    }
    let in_folder = |mut found: Found| {
        let files = found.layers.iter_mut().flat_map(|(_, files)| files);
        for file in files.chain(found.roots.iter_mut().map(|(file, _)| file)) {
            *file = path.join(&*file);
        }
        found
    };
    Folder {
        about: manifest.about,
        keys: manifest
            .keys
            .into_iter()
            .map(|(key, piece)| (key, piece.text))
            .collect(),
        listed: shelf.listed.into_iter().map(in_folder).collect(),
        singles: shelf.singles.into_iter().map(|(_, found)| in_folder(found)).collect(),
        skipped: contents.skipped.told(),
        sustains: shelf
            .sustains
            .into_iter()
            .map(|(file, sustain)| (path.join(file), sustain))
            .collect(),
        pairs: pairs
            .into_iter()
            .map(|(left, right)| (path.join(left), path.join(right)))
            .collect(),
        notices: contents.notices,
    }
}

/// Pieces as they are put beside one another, each name given once.
#[derive(Default)]
struct Shelf {
    /// What `kit.toml` says of loops, by files.
    sustains: BTreeMap<PathBuf, Sustain>,
    listed: Vec<Found>,
    /// Single files, each with the listed piece that it is of.
    singles: Vec<(usize, Found)>,
    taken: BTreeSet<String>,
    /// The next number of pieces that share a name.
    numbers: BTreeMap<String, usize>,
}

/// What `kit.toml` says is sure.
fn written() -> Reading {
    Reading {
        confidence: 1.0,
        decided: Decided::Written,
        ..Reading::default()
    }
}

impl Shelf {
    /// A piece that `kit.toml` gives files.
    fn put_entry(&mut self, entry: Entry) {
        let also = entry.also.into_iter().filter(|name| self.taken.insert(name.clone()));
        let also: Vec<String> = also.collect();
        self.listed.push(Found {
            choke: entry.choke.unwrap_or_else(|| choke_of(&entry.name.text)),
            names: std::iter::once(entry.name.text).chain(also).collect(),
            roots: Vec::new(),
            zoned: !entry.recordings.zones.is_empty(),
            reading: written(),
            layers: entry.recordings.layers,
            defaults: Some(entry.defaults),
        });
        let Some(found) = self.listed.last_mut() else { return };
        let zones = entry.recordings.zones.into_iter();
        found.roots = zones.map(|zone| (zone.file, RootSource::Written(zone.root))).collect();
        match entry.recordings.root {
            Some(root) => found.set_root(root),
            None if !found.zoned => found.roots = named(&found.files()),
            None => {}
        }
    }

    /// The pieces that names and sounds tell of the files that `kit.toml` does not name. Gives the right sides of recordings that lie
    /// in two files, by their left ones.
    fn put_told(&mut self, wavs: &[PathBuf], folder: &Path, wanted: Option<&[&str]>) -> BTreeMap<PathBuf, PathBuf> {
        let named: BTreeSet<&Path> = self
            .listed
            .iter()
            .flat_map(|found| &found.layers)
            .flat_map(|(_, files)| files)
            .map(PathBuf::as_path)
            .collect();
        let rest = wavs.iter().map(PathBuf::as_path).filter(|wav| !named.contains(wav));
        let groups = pieces(rest, folder, &folder_name(folder), wanted);
        let mut own: BTreeSet<String> = groups.iter().map(|group| group.base.clone()).collect();
        // What a file is called is its own, unless its number counts different sounds.
        let mut parts: BTreeMap<(Option<&Path>, &str), usize> = BTreeMap::new();
        for group in &groups {
            *parts.entry((group.folder(), &group.base)).or_default() += 1;
        }
        let whole = groups
            .iter()
            .filter(|group| parts[&(group.folder(), group.base.as_str())] == 1);
        own.extend(
            whole
                .flat_map(|group| &group.takes)
                .flat_map(|take| file_names(take.file)),
        );
        let mut names: Vec<Option<String>> = vec![None; groups.len()];
        // A file that is called what its piece is called comes before those that are called more.
        for (group, name) in groups.iter().zip(&mut names) {
            if group.reading.piece.is_none_or(|piece| piece == group.base) && self.taken.insert(group.base.clone()) {
                *name = Some(group.base.clone());
            }
        }
        // What is sure comes before what is guessed, whatever their names.
        let (sure, guessed): (Vec<usize>, Vec<usize>) =
            (0..groups.len()).partition(|at| groups[*at].reading.confidence >= GUESS);
        for at in sure.into_iter().chain(guessed) {
            if names[at].is_none() {
                let name = groups[at].reading.piece.unwrap_or(&groups[at].base);
                names[at] = Some(self.free(name, &own));
            }
        }
        let takes = groups.iter().flat_map(|group| &group.takes);
        let pairs = takes.filter_map(|take| Some((take.file.to_path_buf(), take.right?.to_path_buf())));
        let pairs = pairs.collect();
        for (group, name) in groups.into_iter().zip(names.into_iter().flatten()) {
            let roots = group.roots.into_iter();
            let mut found = Found {
                choke: choke_of(&name),
                names: vec![name],
                layers: layers(&group.takes),
                defaults: None,
                zoned: roots.len() > 1,
                roots: roots.map(|(file, root)| (file.to_path_buf(), root)).collect(),
                reading: group.reading,
            };
            if self.taken.insert(group.base.clone()) {
                found.names.push(group.base);
            }
            self.listed.push(found);
        }
        pairs
    }

    /// The first free one of `snare`, `snare-2`, `snare-3`, leaving names that files have to those files.
    fn free(&mut self, name: &str, own: &BTreeSet<String>) -> String {
        // Counted on from the last one given: a folder may have thousands of kicks.
        let mut number = self.numbers.get(name).copied().unwrap_or(1);
        loop {
            let free = match number {
                1 => name.to_string(),
                more => format!("{name}-{more}"),
            };
            number += 1;
            if !own.contains(&free) && self.taken.insert(free.clone()) {
                self.numbers.insert(name.to_string(), number);
                return free;
            }
        }
    }

    /// The names that files have: of a piece with one file they are names of the piece, else each file is a piece of its own.
    fn put_file_names(&mut self) {
        let files = |found: &Found| {
            found
                .layers
                .iter()
                .flat_map(|(_, files)| files.clone())
                .collect::<Vec<_>>()
        };
        // What a file is called belongs to it before it may be another's name with hyphens.
        let stems: BTreeSet<String> = self.listed.iter().flat_map(files).map(|file| stem(&file)).collect();
        for at in 0..self.listed.len() {
            let files = self.listed[at].files();
            for file in &files {
                let own = stem(file);
                let may_have = |name: &String| !name.is_empty() && (*name == own || !stems.contains(name));
                let free = file_names(file)
                    .into_iter()
                    .filter(|name| may_have(name) && self.taken.insert(name.clone()));
                let names: Vec<String> = free.collect();
                if files.len() == 1 {
                    self.listed[at].names.extend(names);
                } else if !names.is_empty() {
                    let found = &self.listed[at];
                    let layers = vec![(127.0, vec![file.clone()])];
                    let (choke, defaults) = (found.choke.clone(), found.defaults.clone());
                    let single = (
                        at,
                        Found {
                            names,
                            layers,
                            choke,
                            defaults,
                            roots: found.roots.iter().filter(|(of, _)| of == file).cloned().collect(),
                            zoned: false,
                            reading: found.reading.clone(),
                        },
                    );
                    self.singles.push(single);
                }
            }
        }
    }

    /// Defaults of an entry that has no files, for the piece that goes by its name and the single files of that piece.
    fn put_defaults(&mut self, entry: Entry) -> Result<(), Problem> {
        let also = entry.also.iter().filter(|name| self.taken.insert((*name).clone()));
        let mut also: Vec<String> = also.cloned().collect();
        let goes_by = |found: &Found| found.names.contains(&entry.name.text);
        let listed = self.listed.iter().position(goes_by);
        let piece = listed.map(|at| &mut self.listed[at]).into_iter();
        let singles = self
            .singles
            .iter_mut()
            .filter(|(of, found)| Some(*of) == listed || goes_by(found));
        let mut meant: Vec<&mut Found> = piece.chain(singles.map(|(_, found)| found)).collect();
        for found in &mut meant {
            if let Some(choke) = &entry.choke {
                found.choke = choke.clone();
            }
            found.names.append(&mut also);
            found.defaults = Some(entry.defaults.clone());
            if let Some(root) = entry.recordings.root {
                found.set_root(root);
            }
        }
        let files: BTreeSet<PathBuf> = meant.iter().flat_map(|found| found.files()).collect();
        if meant.is_empty() {
            return Err(self.unknown(&entry));
        }
        match entry.recordings.sustain {
            Some(sustain) if files.len() > 1 => Err(only_one(&entry.name, &sustain)),
            Some(sustain) => {
                self.sustains
                    .extend(files.into_iter().map(|file| (file, sustain.clone())));
                Ok(())
            }
            None => Ok(()),
        }
    }

    fn unknown(&self, entry: &Entry) -> Problem {
        let name = &entry.name.text;
        let what = format!("no file's name means a piece `{name}`, and it has no `files`");
        let problem = Problem::at(&entry.name.place(0..name.len()), what);
        match nearest(name, self.listed.iter().map(|found| found.names[0].as_str())) {
            Some(near) => problem.help(did_you_mean(near)),
            None => problem.help("give it files = [\"…\"]"),
        }
    }
}

/// Hats are one group: a foot that closes them, or a stroke on them closed, stops what rings of them open.
pub(super) fn choke_of(name: &str) -> Option<String> {
    name.starts_with("hat-").then(|| "hat".to_string())
}

#[cfg(test)]
#[path = "folder_tests.rs"]
mod tests;
