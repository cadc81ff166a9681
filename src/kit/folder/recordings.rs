//! Recordings as `kit.toml` names them: files, pairs of them, zones.

use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};

use crate::files::{self, Refused};
use crate::kit::sustain::Sustain;
use crate::schema::{Layers, LoopPoint, RecordingWords, Setting, Settings, Value, zone};
use crate::text::{Problem, Words, did_you_mean_text, nearest};

/// A recording and its pitch.
#[derive(Debug)]
pub(crate) struct Zone {
    /// The file, or that of the left side, relative to the folder.
    pub file: PathBuf,
    /// The MIDI key at which it sounds as recorded: its root, less what it is tuned by.
    pub root: f64,
}

/// The recordings of a folder that its `kit.toml` names.
pub(super) struct Recordings<'a> {
    folder: &'a Path,
    wavs: &'a [PathBuf],
    sides: WrittenSides,
    sustains: BTreeMap<PathBuf, Sustain>,
}

impl<'a> Recordings<'a> {
    /// None yet, of a folder that holds some WAVs.
    pub(super) fn of(folder: &'a Path, wavs: &'a [PathBuf]) -> Recordings<'a> {
        Recordings {
            folder,
            wavs,
            sides: WrittenSides::default(),
            sustains: BTreeMap::new(),
        }
    }

    /// Files of the folder, each of which must be there; of two sides the left one.
    pub(super) fn files(&mut self, written: &[RecordingWords], problems: &mut Vec<Problem>) -> Vec<PathBuf> {
        let files = written.iter().map(|recording| {
            let left = self.file(&recording.left, problems);
            let right = recording
                .right
                .as_ref()
                .map(|words| (words, self.file(words, problems)));
            problems.extend(self.sides.put(&recording.left, &left, right).err());
            left
        });
        files.collect()
    }

    /// Zones, each with its file and its root, which the reading of their tables has asked for.
    pub(super) fn zones(&mut self, tables: Vec<Settings>, problems: &mut Vec<Problem>) -> Vec<Zone> {
        let mut zones = Vec::new();
        for mut table in tables {
            let tune = Layers::new([&table]).number(zone::TUNE);
            let Some((written, root)) = table.take(zone::FILE).zip(table.take(zone::ROOT)) else {
                continue;
            };
            let root = root - tune;
            if !(0.0..=127.0).contains(&root) {
                let what = format!("tuned by {tune} semitones, this sounds as recorded beyond the keys of MIDI");
                problems.push(Problem::at(&table.place, what).help("its root less its `tune` lies from 0 to 127"));
            }
            let sustain = self.sustain(&mut table, (zone::SUSTAIN, zone::CROSSFADE), problems);
            for file in self.files(std::slice::from_ref(&written), problems) {
                if let Some(sustain) = &sustain {
                    self.put_sustain(&file, sustain.clone(), problems);
                }
                zones.push(Zone { file, root });
            }
        }
        zones
    }

    /// What a table says of a loop.
    pub(super) fn sustain(
        &self,
        table: &mut Settings,
        (points, crossfade): (Setting<(LoopPoint, LoopPoint)>, Setting<f64>),
        problems: &mut Vec<Problem>,
    ) -> Option<Sustain> {
        let fade = table.take_placed(crossfade);
        let refused = table.placed(points).is_none() && table.writes(points);
        match (
            table.take_placed(points).map(|points| (points.value, points.place)),
            fade,
        ) {
            (Some((Value::LoopPoints((start, end)), place)), fade) => Some(Sustain {
                start,
                end,
                crossfade: match fade.map(|fade| fade.value) {
                    Some(Value::Number(ms)) => ms,
                    _ => 0.0,
                },
                place: Some(place),
            }),
            (None, Some(fade)) if !refused => {
                let what = "`crossfade` stands here without `sustain`";
                problems.push(Problem::at(&fade.name, what).help("write sustain = [\"0.4 s\", \"1.2 s\"] beside it"));
                None
            }
            _ => None,
        }
    }

    /// Notes the loop of a recording, which has but one wherever it is named.
    pub(super) fn put_sustain(&mut self, file: &Path, sustain: Sustain, problems: &mut Vec<Problem>) {
        let before = self
            .sustains
            .entry(file.to_path_buf())
            .or_insert_with(|| sustain.clone());
        if *before != sustain {
            let what = format!("`{}` has another `sustain` above", file.display());
            problems.push(
                sustain
                    .problem(what)
                    .help("a recording has one loop, wherever it is named"),
            );
        }
    }

    /// The right sides of recordings that lie in two files, by their left ones, and the loops of recordings.
    pub(super) fn named(self) -> (BTreeMap<PathBuf, PathBuf>, BTreeMap<PathBuf, Sustain>) {
        (self.sides.pairs(), self.sustains)
    }

    fn file(&self, words: &Words, problems: &mut Vec<Problem>) -> PathBuf {
        let file = plain(Path::new(&words.text));
        let problem = match files::check(&self.folder.join(&file), files::LONGEST) {
            Ok(()) => return file,
            Err(Refused::Absent) => {
                let known: Vec<String> = self.wavs.iter().map(|wav| wav.to_string_lossy().into_owned()).collect();
                let problem = Problem::at(&words.whole(), format!("the kit has no file `{}`", words.text));
                match nearest(&words.text, known.iter().map(String::as_str)) {
                    Some(near) => problem.help(did_you_mean_text(near)),
                    None => problem.help(format!("paths are relative to `{}`", self.folder.display())),
                }
            }
            Err(refused) => Problem::at(&words.whole(), format!("`{}` {refused}", words.text)),
        };
        problems.push(problem);
        file
    }
}

/// The problem of a loop that is said of several recordings.
pub(super) fn only_one(name: &Words, sustain: &Sustain) -> Problem {
    let what = format!("`{}` has several recordings, and `sustain` is for one", name.text);
    sustain.problem(what).help("write it into each of the piece's `zones`")
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
