//! One folder's pieces: what its `kit.toml` says, and what its file names tell of the rest.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::manifest::{About, Entry, manifest};
use super::names::{Told, hyphened, told};
use super::roots::Said;
use super::scan::scan;
use crate::keys::Settings;
use crate::text::{Problem, nearest};

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
    pub roots: Vec<(PathBuf, Said)>,
    /// True where its files are recordings at several pitches, not turns.
    pub zoned: bool,
}

impl Found {
    /// All files of all layers.
    fn files(&self) -> Vec<PathBuf> {
        self.layers.iter().flat_map(|(_, files)| files).cloned().collect()
    }

    /// Says that all files were recorded at one pitch.
    fn set_root(&mut self, root: i32) {
        let files = self.files();
        self.roots = files.into_iter().map(|file| (file, Said::Written(root))).collect();
    }
}

/// Reads a folder; what is wrong goes to the problems, and what could be read is given all the same.
pub(super) fn folder(path: &Path, problems: &mut Vec<Problem>) -> Folder {
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
        };
    }
    let manifest = manifest(path, &contents.wavs, problems);
    let (with_files, without): (Vec<Entry>, Vec<Entry>) =
        manifest.pieces.into_iter().partition(|entry| !entry.layers.is_empty());
    let mut shelf = Shelf::default();
    for entry in with_files {
        shelf.put_entry(entry);
    }
    shelf.put_told(&contents.wavs);
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
    }
}

/// Pieces as they are put beside one another, each name given once.
#[derive(Default)]
struct Shelf {
    listed: Vec<Found>,
    /// Single files, each with the listed piece that it is of.
    singles: Vec<(usize, Found)>,
    taken: BTreeSet<String>,
}

/// Files whose names are alike but for turns and dynamics.
struct Alike<'a> {
    told: Told,
    /// The rank and path of each.
    takes: Vec<(f64, &'a Path)>,
    /// What names say of pitches.
    roots: Vec<(&'a Path, Said)>,
    /// MIDI numbers, as long as every name has what may be one.
    numbers: Option<Vec<(&'a Path, i32)>>,
}

impl Shelf {
    /// A piece that `kit.toml` gives files.
    fn put_entry(&mut self, entry: Entry) {
        self.taken.insert(entry.name.text.clone());
        self.listed.push(Found {
            choke: entry.choke.unwrap_or_else(|| choke_of(&entry.name.text)),
            names: vec![entry.name.text],
            roots: Vec::new(),
            zoned: !entry.zones.is_empty(),
            layers: entry.layers,
            defaults: Some(entry.defaults),
        });
        let Some(found) = self.listed.last_mut() else { return };
        let zones = entry.zones.into_iter();
        found.roots = zones.map(|(file, root)| (file, Said::Written(root))).collect();
        match entry.root {
            Some(root) => found.set_root(root),
            None if !found.zoned => found.roots = named(&found.files()),
            None => {}
        }
    }

    /// The pieces that names tell of the files that `kit.toml` does not name.
    fn put_told(&mut self, wavs: &[PathBuf]) {
        let named: BTreeSet<&Path> = self
            .listed
            .iter()
            .flat_map(|found| &found.layers)
            .flat_map(|(_, files)| files)
            .map(PathBuf::as_path)
            .collect();
        let rest = wavs.iter().map(PathBuf::as_path).filter(|wav| !named.contains(wav));
        let groups = alike(rest);
        let mut own: BTreeSet<String> = groups.iter().map(|group| group.told.base.clone()).collect();
        own.extend(wavs.iter().flat_map(|wav| file_names(wav)));
        let mut names: Vec<Option<String>> = vec![None; groups.len()];
        // A file that is called what its piece is called comes before those that are called more.
        for (group, name) in groups.iter().zip(&mut names) {
            if group.told.piece.is_none_or(|piece| piece == group.told.base)
                && self.taken.insert(group.told.base.clone())
            {
                *name = Some(group.told.base.clone());
            }
        }
        for (group, name) in groups.iter().zip(names) {
            let name = name.unwrap_or_else(|| self.free(group.told.piece.unwrap_or(&group.told.base), &own));
            let mut found = Found {
                choke: choke_of(&name),
                names: vec![name],
                layers: layers(&group.takes),
                defaults: None,
                zoned: group.roots.len() > 1,
                roots: group
                    .roots
                    .iter()
                    .map(|(file, root)| (file.to_path_buf(), *root))
                    .collect(),
            };
            if self.taken.insert(group.told.base.clone()) {
                found.names.push(group.told.base.clone());
            }
            self.listed.push(found);
        }
    }

    /// The first free one of `snare`, `snare-2`, `snare-3`, leaving names that files have to those files.
    fn free(&mut self, name: &str, own: &BTreeSet<String>) -> String {
        let numbered = (2..).map(|number| format!("{name}-{number}"));
        let mut names = std::iter::once(name.to_string())
            .chain(numbered)
            .filter(|name| !own.contains(name));
        names.find(|name| self.taken.insert(name.clone())).unwrap_or_default()
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
                        },
                    );
                    self.singles.push(single);
                }
            }
        }
    }

    /// Defaults of an entry that has no files, for the piece that goes by its name and the single files of that piece.
    fn put_defaults(&mut self, entry: Entry) -> Result<(), Problem> {
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
            found.defaults = Some(entry.defaults.clone());
            if let Some(root) = entry.root {
                found.set_root(root);
            }
        }
        if meant.is_empty() {
            Err(self.unknown(&entry))
        } else {
            Ok(())
        }
    }

    fn unknown(&self, entry: &Entry) -> Problem {
        let name = &entry.name.text;
        let what = format!("no file's name tells a piece `{name}`, and it has no `files`");
        let problem = Problem::at(&entry.name.place(0..name.len()), what);
        match nearest(name, self.listed.iter().map(|found| found.names[0].as_str())) {
            Some(near) => problem.help(format!("did you mean `{near}`?")),
            None => problem.help("give it files = [\"…\"]"),
        }
    }
}

/// The name that a file has, with hyphens and as it is.
fn file_names(file: &Path) -> [String; 2] {
    let stem = stem(file);
    [hyphened(&stem), stem]
}

fn stem(file: &Path) -> String {
    file.file_stem()
        .map_or(String::new(), |stem| stem.to_string_lossy().into_owned())
}

/// Groups files that lie in one folder and are alike but for turns and dynamics, in the order of their first.
fn alike<'a>(wavs: impl Iterator<Item = &'a Path>) -> Vec<Alike<'a>> {
    let mut groups: Vec<Alike> = Vec::new();
    let mut places: BTreeMap<(Option<&Path>, String), usize> = BTreeMap::new();
    for wav in wavs {
        let stem = wav
            .file_stem()
            .map_or_else(Default::default, |stem| stem.to_string_lossy());
        let told = told(&stem);
        let within = wav.parent();
        let take = (told.rank, wav);
        // Names without a letter or digit have nothing to be alike in.
        let key = if told.base.is_empty() {
            stem.to_string()
        } else {
            told.base.clone()
        };
        let (note, number) = (told.note, told.number);
        let place = *places.entry((within, key.clone())).or_insert_with(|| {
            groups.push(Alike {
                told: Told { base: key, ..told },
                takes: Vec::new(),
                roots: Vec::new(),
                numbers: Some(Vec::new()),
            });
            groups.len() - 1
        });
        let group = &mut groups[place];
        group.takes.push(take);
        group.roots.extend(note.map(|note| (wav, Said::Named(note))));
        group.numbers = group.numbers.take().zip(number).map(|(mut numbers, number)| {
            numbers.push((wav, number));
            numbers
        });
    }
    // Numbers that may be keys of a piano are, where every name of a group has one; a series of turns begins below them.
    for group in &mut groups {
        if group.roots.is_empty()
            && let Some(numbers) = group.numbers.take()
        {
            group.roots = numbers
                .into_iter()
                .map(|(wav, number)| (wav, Said::Numbered(number)))
                .collect();
        }
    }
    groups
}

/// What the names of some files say of their pitches.
fn named(files: &[PathBuf]) -> Vec<(PathBuf, Said)> {
    let note = |file: &PathBuf| told(&file.file_stem()?.to_string_lossy()).note;
    files
        .iter()
        .filter_map(|file| Some((file.clone(), Said::Named(note(file)?))))
        .collect()
}

/// The takes of each dynamic as a layer, over even parts of the velocities from 1 to 127.
fn layers(takes: &[(f64, &Path)]) -> Vec<(f64, Vec<PathBuf>)> {
    let mut ranks: Vec<f64> = takes.iter().map(|(rank, _)| *rank).collect();
    ranks.sort_by(f64::total_cmp);
    ranks.dedup();
    let count = ranks.len() as f64;
    let files = |rank: f64| {
        takes
            .iter()
            .filter(|(of, _)| *of == rank)
            .map(|(_, file)| file.to_path_buf())
            .collect()
    };
    let upto = |index: usize| (127.0 * (index + 1) as f64 / count).round();
    ranks
        .iter()
        .enumerate()
        .map(|(index, rank)| (upto(index), files(*rank)))
        .collect()
}

/// Hats are one group: a foot that closes them, or a stroke on them closed, stops what rings of them open.
pub(super) fn choke_of(name: &str) -> Option<String> {
    name.starts_with("hat-").then(|| "hat".to_string())
}
