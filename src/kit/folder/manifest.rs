//! `kit.toml`: what a kit says of itself.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use super::recordings::{Recordings, Zone, only_one};
use crate::files::{self, Refused};
use crate::kit::sustain::Sustain;
use crate::schema::{
    Layers, NoteNumbers, Setting, Settings, Table, Value, complete, kit, kit_file, layer, parse, piece, read_table,
    sound,
};
use crate::text::{Place, Problem, Source, Words};

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
    /// What it says of the loops of recordings, by their files or the left ones of two.
    pub sustains: BTreeMap<PathBuf, Sustain>,
}

/// One `[[piece]]`.
#[derive(Debug)]
pub(crate) struct Entry {
    pub name: Words,
    /// Other names that it goes by, unless another piece is called so.
    pub also: Vec<String>,
    /// Its choke group, or that it has none; nothing where the entry does not say.
    pub choke: Option<Option<String>>,
    pub recordings: NamedRecordings,
    /// What else it says of sound and strip.
    pub defaults: Settings,
}

/// The recordings that an entry names.
#[derive(Debug, Default)]
pub(crate) struct NamedRecordings {
    /// Its layers from the softest to the hardest, with files relative to the folder; none where the entry only puts defaults on a
    /// piece that file names give.
    pub layers: Vec<(f64, Vec<PathBuf>)>,
    /// The pitch at which all of its files were recorded, as a MIDI number.
    pub root: Option<f64>,
    /// Where its files were recorded at several pitches, those of all layers.
    pub zones: Vec<Zone>,
    /// What is said of its loop, where that is said of the piece.
    pub sustain: Option<Sustain>,
}

impl NamedRecordings {
    fn add_zones(&mut self, upto: f64, zones: Vec<Zone>) {
        let files = zones.iter().map(|zone| zone.file.clone()).collect();
        self.layers.push((upto, files));
        self.zones.extend(zones);
    }
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
        problems,
        names: BTreeSet::new(),
        recordings: Recordings::of(folder, wavs),
    };
    let pieces = tables.into_iter().filter_map(|table| reader.piece(table)).collect();
    let (pairs, sustains) = reader.recordings.named();
    Manifest {
        about,
        keys,
        pieces,
        pairs,
        sustains,
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
    problems: &'a mut Vec<Problem>,
    names: BTreeSet<String>,
    recordings: Recordings<'a>,
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
        let recordings = self.recordings(&name, &mut table)?;
        let choke = table.take_placed(sound::CHOKE).map(|placed| match placed.value {
            Value::Text(words) => Some(words.text),
            _ => None,
        });
        let also = table.take(piece::ALSO).unwrap_or_default();
        Some(Entry {
            name,
            also: also.into_iter().map(|words| words.text).collect(),
            choke,
            recordings,
            defaults: table,
        })
    }

    /// The recordings of a piece, by one of the ways in which they can be named.
    fn recordings(&mut self, name: &Words, table: &mut Settings) -> Option<NamedRecordings> {
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
        let mut named = NamedRecordings::default();
        match (
            files.map(|setting| setting.value),
            layers,
            zones.map(|setting| setting.value),
        ) {
            (_, Some(layers), _) => {
                if let Value::Tables(tables) = layers.value {
                    named = self.layers(tables, &layers.place)?;
                }
            }
            (Some(Value::Recordings(written)), ..) => {
                named
                    .layers
                    .push((127.0, self.recordings.files(&written, self.problems)));
            }
            (.., Some(Value::Tables(tables))) => named.add_zones(127.0, self.recordings.zones(tables, self.problems)),
            _ => {}
        }
        if let Some(root) = root {
            if !named.zones.is_empty() {
                let what = format!("`{}` has both a `root` and zones", name.text);
                self.problems
                    .push(Problem::at(&root.name, what).help("each zone has a root of its own; take this one out"));
            }
            if let Value::Number(root) = root.value {
                named.root = Some(root);
            }
        }
        named.sustain = self
            .recordings
            .sustain(table, (piece::SUSTAIN, piece::CROSSFADE), self.problems);
        if let Some(sustain) = &named.sustain {
            let mut files = named.layers.iter().flat_map(|(_, files)| files);
            match (files.next(), files.next()) {
                (Some(file), None) => self.recordings.put_sustain(file, sustain.clone(), self.problems),
                (Some(_), Some(_)) => self.problems.push(only_one(name, sustain)),
                // Which files are meant is for their names to say.
                (None, _) => {}
            }
        }
        Some(named)
    }

    /// Layers must rise and the last reach 127; each has files, or each has zones.
    fn layers(&mut self, tables: Vec<Settings>, place: &Place) -> Option<NamedRecordings> {
        let mut named = NamedRecordings::default();
        let mut rest: Option<(&str, &str)> = None;
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
            if named.layers.last().is_some_and(|(before, _)| *before >= upto) {
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
            let place = table.place.clone();
            let (own, other) = match (table.take(layer::FILES), table.take(layer::ZONES)) {
                (Some(written), None) => {
                    let files = self.recordings.files(&written, self.problems);
                    named.layers.push((upto, files));
                    (layer::FILES.name, layer::ZONES.name)
                }
                (None, Some(zones)) => {
                    named.add_zones(upto, self.recordings.zones(zones, self.problems));
                    (layer::ZONES.name, layer::FILES.name)
                }
                (Some(_), Some(_)) => {
                    let what = "a layer has both `files` and `zones`";
                    self.problems
                        .push(Problem::at(&place, what).help("each zone has a file of its own"));
                    continue;
                }
                (None, None) if table.writes(layer::FILES) || table.writes(layer::ZONES) => continue,
                (None, None) => {
                    self.problems.push(
                        Problem::at(&place, "a layer lacks `files`").help("write files = [\"soft.wav\"], or zones"),
                    );
                    continue;
                }
            };
            if rest.get_or_insert((own, other)).0 != own {
                let what = format!("this layer has `{own}`, and one before it `{other}`");
                self.problems
                    .push(Problem::at(&place, what).help("give each layer files, or each layer zones"));
            }
        }
        Some(named)
    }
}
