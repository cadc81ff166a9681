//! A kit of one folder or several.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::folder::{Found, choke_of, folder};
use super::index::{Index, Layer, Piece};
use super::manifest::About;
use crate::keys::Settings;
use crate::text::{Problem, Problems};

/// A kit: named pieces, and the files of their recordings.
#[derive(Debug)]
pub struct Kit {
    index: Index,
    defaults: BTreeMap<String, Settings>,
    files: Vec<File>,
    abouts: Vec<About>,
    keys: BTreeMap<u8, String>,
}

/// A recording's file, and which folder's it is; none for one that was swapped in.
#[derive(Debug)]
struct File {
    path: PathBuf,
    folder: Option<usize>,
}

impl Kit {
    /// Reads the names in some folders, and their `kit.toml`s; decodes nothing.
    ///
    /// The first folder that has a piece wins. Each of `swaps` replaces the recordings of a piece by one file.
    ///
    /// # Errors
    /// When a folder is not there or holds no WAV, a `kit.toml` has problems, or a swap names a piece or a file that is
    /// not there: all of these at once.
    pub fn open(folders: &[PathBuf], swaps: &[(String, PathBuf)]) -> Result<Kit, Problems> {
        let mut problems = Vec::new();
        let mut shelves = Shelves::default();
        for (number, path) in folders.iter().enumerate() {
            let mut own = Vec::new();
            let read = folder(path, &mut own);
            own.sort_by_key(|problem| problem.place.as_ref().map(|place| place.span.start));
            problems.extend(own);
            shelves.abouts.push(read.about);
            for (key, piece) in read.keys {
                shelves.keys.entry(key).or_insert(piece);
            }
            read.listed
                .into_iter()
                .for_each(|found| shelves.put(found, number, true));
            read.singles
                .into_iter()
                .for_each(|found| shelves.put(found, number, false));
        }
        let mut kit = shelves.kit();
        if problems.is_empty() {
            problems.extend(swaps.iter().filter_map(|(piece, file)| kit.swap(piece, file).err()));
        }
        if problems.is_empty() {
            Ok(kit)
        } else {
            Err(Problems(problems))
        }
    }

    /// What it holds, without its sound.
    pub fn index(&self) -> &Index {
        &self.index
    }

    /// What `kit.toml` says of the sound and strip of pieces (all but their choke group, which the index tells), by every name
    /// that they go by.
    pub fn defaults(&self) -> &BTreeMap<String, Settings> {
        &self.defaults
    }

    /// The pieces that MIDI keys play, where a `kit.toml` says so; of several folders the first that does.
    pub fn keys(&self) -> &BTreeMap<u8, String> {
        &self.keys
    }

    /// How many recordings it has; takes are numbered from 0 to below this.
    pub fn takes(&self) -> usize {
        self.files.len()
    }

    /// The file of a recording.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn file(&self, take: usize) -> &Path {
        &self.files[take].path
    }

    /// Whose a recording is and on what terms, as its folder's `kit.toml` says; none for one that was swapped in.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn about(&self, take: usize) -> Option<&About> {
        self.files[take].folder.map(|folder| &self.abouts[folder])
    }

    fn swap(&mut self, name: &str, file: &Path) -> Result<(), Problem> {
        if !file.is_file() {
            return Err(Problem::new(format!(
                "there is no file `{}` to put in the place of `{name}`",
                file.display()
            )));
        }
        let layers = vec![Layer {
            upto: 127.0,
            takes: vec![self.files.len()],
        }];
        // A piece that the kit lacks may be brought along.
        match self.index.find(name) {
            Some(piece) => self.index.pieces[piece].layers = layers,
            None => self.index.bring(Piece {
                name: name.to_string(),
                layers,
                choke: choke_of(name),
            }),
        }
        self.files.push(File {
            path: file.to_path_buf(),
            folder: None,
        });
        Ok(())
    }
}

/// Pieces of all folders as they are laid over one another.
#[derive(Default)]
struct Shelves {
    listed: Vec<Piece>,
    singles: Vec<Piece>,
    /// Names, and whether the piece is a listed one and which.
    names: BTreeMap<String, (bool, usize)>,
    defaults: BTreeMap<String, Settings>,
    files: Vec<File>,
    takes: BTreeMap<PathBuf, usize>,
    abouts: Vec<About>,
    keys: BTreeMap<u8, String>,
}

impl Shelves {
    /// Puts a piece under those of its names that are free; one that has none is passed over.
    fn put(&mut self, found: Found, folder: usize, listed: bool) {
        let names: Vec<String> = found
            .names
            .into_iter()
            .filter(|name| !self.names.contains_key(name))
            .collect();
        let Some(name) = names.first().cloned() else { return };
        let mut layers = Vec::new();
        for (upto, files) in found.layers {
            layers.push(Layer {
                upto,
                takes: files.into_iter().map(|file| self.take(file, folder)).collect(),
            });
        }
        let shelf = if listed { &mut self.listed } else { &mut self.singles };
        for name in names {
            if let Some(settings) = &found.defaults {
                self.defaults.insert(name.clone(), settings.clone());
            }
            self.names.insert(name, (listed, shelf.len()));
        }
        shelf.push(Piece {
            name,
            layers,
            choke: found.choke,
        });
    }

    /// The number of a file's recording.
    fn take(&mut self, path: PathBuf, folder: usize) -> usize {
        let files = &mut self.files;
        *self.takes.entry(path.clone()).or_insert_with(|| {
            files.push(File {
                path,
                folder: Some(folder),
            });
            files.len() - 1
        })
    }

    fn kit(self) -> Kit {
        let before = self.listed.len();
        let place = |(listed, at): (bool, usize)| if listed { at } else { before + at };
        let names = self
            .names
            .into_iter()
            .map(|(name, piece)| (name, place(piece)))
            .collect();
        Kit {
            index: Index::with_names(self.listed, self.singles, names),
            defaults: self.defaults,
            files: self.files,
            abouts: self.abouts,
            keys: self.keys,
        }
    }
}

#[cfg(test)]
#[path = "open_tests.rs"]
mod tests;
