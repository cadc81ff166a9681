//! `kit.toml`: what a kit says of itself.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Component, Path, PathBuf};

use crate::files::{self, Refused};
use crate::schema::{
    Layers, NoteNumbers, RecordingWords, Setting, Settings, Table, Value, complete, kit, kit_file, layer, parse, piece,
    read_table, sound, zone,
};
use crate::text::{Place, Problem, Source, Words, nearest};

/// The name of the file, in the kit's folder.
pub(crate) const NAME: &str = "kit.toml";

/// Whose kit it is and on what terms.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct About {
    /// What the kit is called; its folder's name unless `kit.toml` says otherwise.
    pub title: String,
    /// Who made it.
    pub maker: Option<String>,
    /// On what terms it may be used.
    pub licence: Option<String>,
}

/// What a `kit.toml` says.
#[derive(Debug, Default)]
pub(crate) struct Manifest {
    pub about: About,
    /// The pieces of MIDI keys.
    pub keys: NoteNumbers,
    pub pieces: Vec<Entry>,
    /// The right sides of recordings that lie in two files, by their left ones.
    pub pairs: BTreeMap<PathBuf, PathBuf>,
}

/// One `[[piece]]`.
#[derive(Debug)]
pub(crate) struct Entry {
    pub name: Words,
    /// Other names that it goes by, unless another piece is called so.
    pub also: Vec<String>,
    /// Its layers from the softest to the hardest, with files relative to the folder; none where the entry only puts defaults on a
    /// piece that file names give.
    pub layers: Vec<(f64, Vec<PathBuf>)>,
    /// Its choke group, or that it has none; nothing where the entry does not say.
    pub choke: Option<Option<String>>,
    /// The pitch at which all of its files were recorded, as a MIDI number.
    pub root: Option<i32>,
    /// The pitch of each file, where it is recorded at several.
    pub zones: Vec<(PathBuf, i32)>,
    /// What else it says of sound and strip.
    pub defaults: Settings,
}

/// Reads the `kit.toml` of a folder that holds some WAVs; without one, only a title.
pub(crate) fn manifest(folder: &Path, wavs: &[PathBuf], problems: &mut Vec<Problem>) -> Manifest {
    let path = folder.join(NAME);
    let read = files::read(&path, files::LONGEST_TEXT).map_err(|refused| match refused {
        Refused::Absent => None,
        refused => Some(Problem::new(format!("`{}` {refused}", path.display()))),
    });
    let text = read.and_then(|bytes| {
        let what = || Problem::new(format!("`{}` is not a text in UTF-8", path.display()));
        String::from_utf8(bytes).map_err(|_| Some(what()))
    });
    let text = match text {
        Ok(text) => text,
        Err(problem) => {
            problems.extend(problem);
            return Manifest {
                about: About {
                    title: folder_name(folder),
                    ..About::default()
                },
                ..Manifest::default()
            };
        }
    };
    let source = Source::new(&path, text);
    let before = problems.len();
    let entries = parse(&source, problems);
    let whole = Place { source, span: 0..0 };
    let mut file = read_table(Table::KitFile, &whole, &entries, problems);
    // What a text with errors lacks may be what the errors hide.
    if problems.len() == before {
        complete(&file, problems);
    }
    let own = file.get(kit_file::KIT);
    let said = |setting: Setting<Words>| own.and_then(|own| own.get(setting)).map(|words| words.text.clone());
    let about = About {
        title: said(kit::TITLE).unwrap_or_else(|| folder_name(folder)),
        maker: said(kit::MAKER),
        licence: said(kit::LICENCE),
    };
    let keys = own.and_then(|own| own.get(kit::KEYS)).cloned().unwrap_or_default();
    let tables = file.take(kit_file::PIECE).unwrap_or_default();
    let mut reader = ManifestReader {
        folder,
        wavs,
        problems,
        names: BTreeSet::new(),
        sides: WrittenSides::default(),
    };
    let pieces = tables.into_iter().filter_map(|table| reader.piece(table)).collect();
    Manifest {
        about,
        keys,
        pieces,
        pairs: reader.sides.pairs(),
    }
}

/// A folder's own name, also where its path is `.` or ends in `..`.
pub(crate) fn folder_name(folder: &Path) -> String {
    let whole = fs::canonicalize(folder).unwrap_or_else(|_| folder.to_path_buf());
    whole.file_name().map_or_else(
        || folder.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}

struct ManifestReader<'a> {
    folder: &'a Path,
    wavs: &'a [PathBuf],
    problems: &'a mut Vec<Problem>,
    names: BTreeSet<String>,
    sides: WrittenSides,
}

impl ManifestReader<'_> {
    fn piece(&mut self, mut table: Settings) -> Option<Entry> {
        let name = table.take(piece::NAME)?;
        let place = name.whole();
        if !self.names.insert(name.text.clone()) {
            self.problems.push(
                Problem::at(&place, format!("there are two pieces named `{}`", name.text))
                    .help("join the two, or rename one"),
            );
            return None;
        }
        let files = table.take_placed(piece::FILES);
        let layers = table.take_placed(piece::LAYERS);
        let (root, zones) = (table.take_placed(piece::ROOT), table.take_placed(piece::ZONES));
        if let (Some(_), Some(layers)) = (&files, &layers) {
            let what = format!("`{}` has both `files` and `layers`", name.text);
            self.problems
                .push(Problem::at(&layers.name, what).help("put the files into a layer of their own"));
        }
        let beside = [
            (piece::ROOT.name, &root),
            (piece::FILES.name, &files),
            (piece::LAYERS.name, &layers),
        ];
        if let (Some(zones), Some((other, _))) = (&zones, beside.iter().find(|(_, setting)| setting.is_some())) {
            let what = format!("`{}` has both `zones` and `{other}`", name.text);
            self.problems
                .push(Problem::at(&zones.name, what).help("each zone has a root and a file of its own"));
        }
        let zones = match zones.map(|setting| setting.value) {
            Some(Value::Tables(tables)) => self.zones(tables),
            _ => Vec::new(),
        };
        let layers = match (
            files.map(|setting| setting.value),
            layers.map(|setting| (setting.value, setting.place)),
        ) {
            (_, Some((Value::Tables(tables), place))) => self.layers(tables, &place)?,
            (Some(Value::Recordings(written)), _) => vec![(127.0, self.files(&written))],
            _ if !zones.is_empty() => vec![(127.0, zones.iter().map(|(file, _)| file.clone()).collect())],
            _ => Vec::new(),
        };
        let choke = table.take_placed(sound::CHOKE).map(|placed| match placed.value {
            Value::Text(words) => Some(words.text),
            _ => None,
        });
        let also = table.take(piece::ALSO).unwrap_or_default();
        Some(Entry {
            name,
            also: also.into_iter().map(|words| words.text).collect(),
            layers,
            choke,
            root: match root.map(|placed| placed.value) {
                Some(Value::Pitch(root)) => Some(root),
                _ => None,
            },
            zones,
            defaults: table,
        })
    }

    /// Zones, each with its root; their reading has asked for both.
    fn zones(&mut self, tables: Vec<Settings>) -> Vec<(PathBuf, i32)> {
        let mut zones = Vec::new();
        for mut table in tables {
            if let (Some(written), Some(root)) = (table.take(zone::FILE), table.take(zone::ROOT)) {
                let files = self.files(std::slice::from_ref(&written));
                zones.extend(files.into_iter().map(|file| (file, root)));
            }
        }
        zones
    }

    /// Layers must rise and the last reach 127; each needs files, which the reading of the table has asked for.
    fn layers(&mut self, tables: Vec<Settings>, place: &Place) -> Option<Vec<(f64, Vec<PathBuf>)>> {
        let mut layers: Vec<(f64, Vec<PathBuf>)> = Vec::new();
        if tables.is_empty() {
            self.problems.push(
                Problem::at(place, "`layers` is empty")
                    .help("leave it out, or write layers = [{ upto = 60, files = [\"soft.wav\"] }, …]"),
            );
            return None;
        }
        let last = tables.len() - 1;
        for (index, mut table) in tables.into_iter().enumerate() {
            let upto = Layers::new([&table]).number(layer::UPTO);
            let at = table
                .placed(layer::UPTO)
                .map_or(&table.place, |placed| &placed.place)
                .clone();
            if layers.last().is_some_and(|(before, _)| *before >= upto) {
                let what = format!("a layer up to {upto} comes after one that reaches as far");
                self.problems.push(
                    Problem::at(&at, what)
                        .help("write layers from the softest to the hardest; the last may leave `upto` out"),
                );
            }
            if index == last && upto < 127.0 {
                let what = format!("the last layer ends at {upto}, so nothing plays what is harder");
                self.problems.push(Problem::at(&at, what).help("leave its `upto` out"));
            }
            if let Some(written) = table.take(layer::FILES) {
                let files = self.files(&written);
                layers.push((upto, files));
            }
        }
        Some(layers)
    }

    /// Files of the folder, each of which must be there; of two sides the left one.
    fn files(&mut self, written: &[RecordingWords]) -> Vec<PathBuf> {
        let files = written.iter().map(|recording| {
            let left = self.file(&recording.left);
            let right = recording.right.as_ref().map(|words| (words, self.file(words)));
            self.problems
                .extend(self.sides.put(&recording.left, &left, right).err());
            left
        });
        files.collect()
    }

    fn file(&mut self, words: &Words) -> PathBuf {
        let file = plain(Path::new(&words.text));
        let problem = match files::check(&self.folder.join(&file), files::LONGEST) {
            Ok(()) => return file,
            Err(Refused::Absent) => {
                let known: Vec<String> = self.wavs.iter().map(|wav| wav.to_string_lossy().into_owned()).collect();
                let problem = Problem::at(&words.whole(), format!("the kit has no file `{}`", words.text));
                match nearest(&words.text, known.iter().map(String::as_str)) {
                    Some(near) => problem.help(format!("did you mean \"{near}\"?")),
                    None => problem.help(format!("paths are relative to `{}`", self.folder.display())),
                }
            }
            Err(refused) => Problem::at(&words.whole(), format!("`{}` {refused}", words.text)),
        };
        self.problems.push(problem);
        file
    }
}

/// The recordings of a `kit.toml`, by their files or those of their left sides: each has the same right side wherever it is named.
#[derive(Default)]
struct WrittenSides(BTreeMap<PathBuf, Option<PathBuf>>);

impl WrittenSides {
    /// Notes a recording at the place where its file, or that of its left side, is named.
    ///
    /// # Errors
    /// Both sides in one file; another right side than elsewhere, or none.
    fn put(&mut self, words: &Words, left: &Path, right: Option<(&Words, PathBuf)>) -> Result<(), Problem> {
        if let Some((words, _)) = right.as_ref().filter(|(_, right)| *right == left) {
            let what = format!("`{}` is both the left and the right side", words.text);
            return Err(Problem::at(&words.whole(), what).help("a stereo file is named alone"));
        }
        let right = right.map(|(_, right)| right);
        let before = self.0.entry(left.to_path_buf()).or_insert_with(|| right.clone());
        if *before == right {
            return Ok(());
        }
        let side = |right: &Option<PathBuf>| match right {
            Some(right) => format!("with `{}` as its right side", right.display()),
            None => "alone".to_string(),
        };
        let what = format!(
            "`{}` is named {} here and {} above",
            words.text,
            side(&right),
            side(before)
        );
        Err(Problem::at(&words.whole(), what).help("name it alike wherever it is named"))
    }

    fn pairs(self) -> BTreeMap<PathBuf, PathBuf> {
        let paired = self.0.into_iter();
        paired.filter_map(|(left, right)| Some((left, right?))).collect()
    }
}

/// A path without `.`, so that two ways of writing it are the same.
fn plain(path: &Path) -> PathBuf {
    path.components().filter(|part| *part != Component::CurDir).collect()
}
