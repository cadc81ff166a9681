//! A kit of one folder or several.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::audio::decode::Sides;
use super::audio::stand_in;
use super::folder::manifest::{About, NAME};
use super::folder::{Found, choke_of, folder};
use super::index::{Index, Layer, Piece};
use super::names::classify::{Decided, Reading};
use super::names::takes::named_note;
use super::root::{MIDDLE, RootSource, nearest_takes};
use super::sustain::Sustain;
use crate::files::{self, Refused};
use crate::schema::{STAND_IN, Setting, Settings, piece};
use crate::text::Words;
use crate::text::{Problem, Problems};

/// A kit: named pieces, and the files of their recordings.
///
/// A clone is for as long as its files stay as they are.
#[derive(Debug, Clone)]
pub struct Kit {
    pub(super) index: Index,
    pub(super) defaults: BTreeMap<String, Settings>,
    pub(super) files: Vec<File>,
    /// By the places of pieces: what names tell of them.
    readings: Vec<Reading>,
    pub(super) abouts: Vec<About>,
    /// The folders that it was read from.
    pub(super) folders: Vec<PathBuf>,
    keys: BTreeMap<u8, String>,
    pub(super) notices: Vec<Problem>,
    skipped: Vec<Problem>,
}

/// A recording's file, or those of its two sides.
#[derive(Debug, Clone)]
pub(super) struct File {
    pub sides: Sides,
    /// What `kit.toml` says of its loop, in the place of its file.
    pub(super) sustain: Option<Sustain>,
    /// Which folder's it is; none for one that was swapped in.
    pub(super) folder: Option<usize>,
    /// Who made it and on what terms it may be used, where its piece says so.
    pub(super) maker: Option<String>,
    pub(super) licence: Option<String>,
    /// What is said of its pitch without decoding it.
    pub said: RootSource,
    /// True once its pitch is settled.
    pub settled: bool,
}

impl Kit {
    /// Reads the names in some folders, and their `kit.toml`s; decodes nothing but what names leave open.
    ///
    /// The first folder that has a piece wins. Each of `swaps` replaces the recordings of a piece by one file.
    ///
    /// # Errors
    /// When a folder is not there or holds no WAV, a `kit.toml` has problems, or a swap names a piece or a file that is
    /// not there: all of these at once.
    pub fn open(folders: &[PathBuf], swaps: &[(String, PathBuf)]) -> Result<Kit, Problems> {
        Kit::read(folders, swaps, None)
    }

    /// The same for whoever asks for no piece but these: what names leave open of others is not heard, and such a piece may go
    /// by its file's name alone.
    ///
    /// # Errors
    /// As [`Kit::open`].
    pub fn open_for(folders: &[PathBuf], swaps: &[(String, PathBuf)], pieces: &[String]) -> Result<Kit, Problems> {
        match Kit::read(folders, swaps, Some(pieces)) {
            Ok(kit) if pieces.iter().all(|piece| kit.index.find(piece).is_some()) => Ok(kit),
            // A name that nothing has may be near to that of a piece which has yet to be heard.
            _ => Kit::open(folders, swaps),
        }
    }

    fn read(folders: &[PathBuf], swaps: &[(String, PathBuf)], wanted: Option<&[String]>) -> Result<Kit, Problems> {
        let mut problems = Vec::new();
        let mut shelves = Shelves::default();
        for (number, path) in folders.iter().enumerate() {
            let mut own = Vec::new();
            let read = folder(path, wanted, &mut own);
            own.sort_by_key(|problem| problem.place.as_ref().map(|place| place.span.start));
            problems.extend(own);
            shelves.abouts.push(read.about);
            shelves.notices.extend(read.notices);
            shelves.skipped.extend(read.skipped);
            (shelves.pairs, shelves.sustains) = (read.pairs, read.sustains);
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
        kit.folders = folders.to_vec();
        if problems.is_empty() {
            problems.extend(swaps.iter().filter_map(|(piece, file)| kit.swap(piece, file).err()));
        }
        kit.add_stand_in();
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

    /// What decided that the piece at a place of [`Index::pieces`] is what it is, and how surely; none for one that was
    /// swapped in and for the stand-in. Its files by layer are the takes of its [`Layer`]s, by [`Kit::file`].
    pub fn reading(&self, piece: usize) -> Option<&Reading> {
        self.readings.get(piece)
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

    /// How many recordings it has; takes are numbered from 0 to below this. The last are the stand-in's, one a MIDI key.
    pub fn takes(&self) -> usize {
        self.files.len() + stand_in::KEYS
    }

    /// The MIDI key that a recording of the stand-in sounds at; none for one that has a file.
    pub(super) fn stand_in_key(&self, take: usize) -> Option<usize> {
        take.checked_sub(self.files.len())
    }

    /// The file of a recording, that of its left side where it has two; the stand-in's have but a name.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn file(&self, take: usize) -> &Path {
        match self.files.get(take) {
            Some(file) => &file.sides.left,
            None if take < self.takes() => Path::new(STAND_IN),
            None => panic!("the kit has no recording {take}"),
        }
    }

    /// The file of a recording, or those of its two sides; the stand-in's have but a name.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub(crate) fn sides(&self, take: usize) -> Sides {
        let file = self.files.get(take);
        file.map_or_else(|| self.file(take).into(), |file| file.sides.clone())
    }

    /// The files of all its recordings, those of both sides.
    pub fn files(&self) -> impl Iterator<Item = &Path> {
        self.files.iter().flat_map(|file| file.sides.files())
    }

    /// The files that its `kit.toml`s name, and these.
    pub fn written_files(&self) -> Vec<PathBuf> {
        let pieces = self.index.listed().iter().zip(&self.readings);
        let written = pieces.filter(|(_, reading)| reading.decided == Decided::Written);
        let takes = written.flat_map(|(piece, _)| piece.layers.iter().flat_map(|layer| &layer.zones));
        let files = takes.flat_map(|take| self.sides(*take).into_files());
        files
            .chain(self.folders.iter().map(|folder| folder.join(NAME)))
            .collect()
    }

    /// The folders that it was read from.
    pub fn folders(&self) -> &[PathBuf] {
        &self.folders
    }

    /// Whose a recording is and on what terms, as its folder's `kit.toml` says; none for one that was swapped in.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn about(&self, take: usize) -> Option<&About> {
        let folder = self.files.get(take)?.folder?;
        self.abouts.get(folder)
    }

    /// What of its folders was left out that is no file and no folder, such as pipes and links that lead out of them. A loop misses
    /// nothing of it, so that this is for whoever asks what a folder holds.
    pub(crate) fn skipped(&self) -> &[Problem] {
        &self.skipped
    }

    fn swap(&mut self, name: &str, file: &Path) -> Result<(), Problem> {
        files::check(file, files::LONGEST).map_err(|refused| {
            let shown = file.display();
            Problem::new(match refused {
                Refused::Absent => format!("there is no file `{shown}` to put in the place of `{name}`"),
                refused => format!("`{shown}` {refused}, so it can't take the place of `{name}`"),
            })
        })?;
        let layers = vec![Layer::new(127.0, vec![self.files.len()])];
        // A piece that the kit lacks may be brought along.
        match self.index.find(name) {
            Some(piece) => self.index.pieces[piece].layers = layers,
            None => self.index.add_single(Piece {
                name: name.to_string(),
                layers,
                choke: choke_of(name),
            }),
        }
        self.files.push(File::new(file.into(), None));
        Ok(())
    }
}

/// Pieces of all folders as they are laid over one another.
#[derive(Default)]
struct Shelves {
    listed: Vec<(Piece, Reading)>,
    singles: Vec<(Piece, Reading)>,
    /// Names, and whether the piece is a listed one and which.
    names: BTreeMap<String, (bool, usize)>,
    defaults: BTreeMap<String, Settings>,
    files: Vec<File>,
    takes: BTreeMap<Sides, usize>,
    /// The right sides of the folder that is being laid, by their left ones.
    pairs: BTreeMap<PathBuf, PathBuf>,
    /// What it says of loops, by the files or the left ones of two.
    sustains: BTreeMap<PathBuf, Sustain>,
    abouts: Vec<About>,
    keys: BTreeMap<u8, String>,
    notices: Vec<Problem>,
    skipped: Vec<Problem>,
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
        let mut defaults = found.defaults;
        // Whose the recordings are is no default of their sound.
        let mut said = |setting: Setting<Words>| Some(defaults.as_mut()?.take(setting)?.text);
        let (maker, licence) = (said(piece::MAKER), said(piece::LICENCE));
        let mut layers = Vec::new();
        for (upto, files) in found.layers {
            let takes: Vec<usize> = files.into_iter().map(|file| self.take(file, folder)).collect();
            for take in &takes {
                let file = &mut self.files[*take];
                file.maker = file.maker.take().or_else(|| maker.clone());
                file.licence = file.licence.take().or_else(|| licence.clone());
            }
            layers.push(Layer::new(upto, takes));
        }
        for (file, said) in found.roots {
            let take = self.take(file, folder);
            self.files[take].said = said;
        }
        if found.zoned {
            let root = |take: usize| self.files[take].said.key();
            layers
                .iter_mut()
                .for_each(|layer| layer.takes = nearest_takes(&layer.zones, MIDDLE, root));
        }
        let shelf = if listed { &mut self.listed } else { &mut self.singles };
        for name in names {
            if let Some(settings) = &defaults {
                self.defaults.insert(name.clone(), settings.clone());
            }
            self.names.insert(name, (listed, shelf.len()));
        }
        let piece = Piece {
            name,
            layers,
            choke: found.choke,
        };
        shelf.push((piece, found.reading));
    }

    /// The number of a file's recording.
    fn take(&mut self, path: PathBuf, folder: usize) -> usize {
        let files = &mut self.files;
        let sides = Sides {
            right: self.pairs.get(&path).cloned(),
            left: path,
        };
        *self.takes.entry(sides.clone()).or_insert_with(|| {
            let sustain = self.sustains.get(&sides.left).cloned();
            files.push(File {
                sustain,
                ..File::new(sides, Some(folder))
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
        let (listed, mut readings): (Vec<_>, Vec<_>) = self.listed.into_iter().unzip();
        let (singles, of_singles): (Vec<_>, Vec<_>) = self.singles.into_iter().unzip();
        readings.extend(of_singles);
        Kit {
            index: Index::with_names(listed, singles, names),
            readings,
            defaults: self.defaults,
            files: self.files,
            abouts: self.abouts,
            folders: Vec::new(),
            keys: self.keys,
            notices: self.notices,
            skipped: self.skipped,
        }
    }
}

impl File {
    fn new(sides: Sides, folder: Option<usize>) -> File {
        // Of a file by itself a number is more likely its turn than its key.
        let said = named_note(&sides.left).map_or(RootSource::Nothing, RootSource::Named);
        File {
            sides,
            sustain: None,
            folder,
            maker: None,
            licence: None,
            said,
            settled: false,
        }
    }
}

#[cfg(test)]
#[path = "open_tests.rs"]
mod tests;
