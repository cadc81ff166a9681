//! A kit written down as `kit.toml`, as it is read now.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use super::choke_of;
use super::manifest::NAME;
use crate::harmony::{parse_pitch, pitch_name};
use crate::kit::index::{Layer, Piece};
use crate::kit::names::classify::{Decided, Reading};
use crate::kit::names::lexicon::GUESS;
use crate::kit::open::Kit;
use crate::kit::root::{MIDDLE, RootSource, nearest_takes};
use crate::kit::substitute::is_percussion;
use crate::schema::{LoopPoint, PlacedValue, kit, piece, sound};
use crate::text::{Problem, quoted, steers};

/// Recordings whose roots lie nearer to one another than this, in semitones, are taken in turn, as `nearest_takes` has it.
const TURN: f64 = 0.5;

/// Where a folder's `kit.toml` is, where it has one.
pub(crate) fn has_manifest(folder: &Path) -> Option<PathBuf> {
    Some(folder.join(NAME)).filter(|path| path.symlink_metadata().is_ok())
}

impl Kit {
    /// The text of a `kit.toml` that gives this kit again, of one folder. `told` says what there is to say of a recording, by its
    /// number, as a comment beside its file.
    ///
    /// Roots are written where they are known, but for those of percussion; see [`Kit::find_roots`], which finds them.
    ///
    /// # Errors
    /// When an earlier `kit.toml` says something of the sound that can't be taken over.
    pub fn as_toml(&self, folder: &Path, told: &dyn Fn(usize) -> String) -> Result<String, Problem> {
        let about = self.abouts.first().cloned().unwrap_or_default();
        let mut text = format!(
            "# What the folder holds, as pressroll reads it. Change what is wrong: what stands here holds, whatever files are called.\n\n\
             [kit]\ntitle = {}\n",
            quoted(&about.title)
        );
        for (key, said) in [(kit::MAKER, &about.maker), (kit::LICENCE, &about.licence)] {
            let _ = match said {
                Some(words) => writeln!(text, "{key} = {}", quoted(words)),
                None => writeln!(text, "# {key} = \"\""),
            };
        }
        if !self.keys().is_empty() {
            let keys = self.keys().iter();
            let keys: Vec<String> = keys.map(|(key, piece)| format!("{key} = {}", quoted(piece))).collect();
            let _ = writeln!(text, "keys = {{ {} }}", keys.join(", "));
        }
        for at in 0..self.index.listed().len() {
            let script = Script {
                kit: self,
                folder,
                piece: &self.index.listed()[at],
                told,
            };
            text.push('\n');
            script.write(self.reading(at), &self.also(at), &mut text)?;
        }
        Ok(text)
    }

    /// True for a piece whose recordings can have loop points in `kit.toml`, beside the one file or in zones.
    pub fn holds_loops(&self, piece: &Piece) -> bool {
        let script = Script {
            kit: self,
            folder: Path::new(""),
            piece,
            told: &|_| String::new(),
        };
        let mut takes = piece.layers.iter().flat_map(|layer| &layer.zones);
        let single = takes.next().is_some() && takes.next().is_none();
        single || matches!(script.pitches(), Pitches::Root(_) | Pitches::Zones(_))
    }

    /// The names that a piece goes by beside its own and those of its files, which it has anyhow.
    fn also(&self, piece: usize) -> Vec<&str> {
        let own = &self.index.listed()[piece];
        let takes = own.layers.iter().flat_map(|layer| &layer.zones);
        let of_files: Vec<String> = match takes.collect::<Vec<_>>().as_slice() {
            [only] => crate::kit::names::takes::file_names(self.file(**only)),
            _ => Vec::new(),
        };
        let names = self.index.names().filter(|(_, at)| *at == piece);
        names
            .map(|(name, _)| name)
            .filter(|name| *name != own.name && !of_files.iter().any(|file| file == name))
            .collect()
    }
}

/// One piece as it is written down.
struct Script<'a> {
    kit: &'a Kit,
    folder: &'a Path,
    piece: &'a Piece,
    told: &'a dyn Fn(usize) -> String,
}

/// How the pitches of a piece can be written.
enum Pitches {
    /// Not at all: there are none, or they are heard.
    Unsaid,
    /// All at one.
    Root(f64),
    /// Each at its own: the root of each recording.
    Zones(BTreeMap<usize, f64>),
    /// At several, and only some known: what file names say goes on holding.
    LeftToNames,
}

impl Script<'_> {
    fn write(&self, reading: Option<&Reading>, also: &[&str], text: &mut String) -> Result<(), Problem> {
        let pitches = self.pitches();
        let zoned = matches!(pitches, Pitches::Zones(_));
        let takes = self.piece.layers.iter().flat_map(|layer| &layer.zones);
        let writable = !self.piece.name.trim().is_empty() && takes.clone().all(|take| self.recording(*take).is_some());
        let settings = self.settings()?;
        let left = matches!(pitches, Pitches::LeftToNames) || !writable;
        if let Some(reading) = reading {
            text.push_str(&guess(reading));
        }
        if left {
            let why = if writable {
                "at several pitches, of which some are not known"
            } else {
                "by names that no text can hold"
            };
            let name = plain(&self.piece.name);
            let _ = writeln!(text, "# `{name}` lies there {why}: its files' names still decide it.");
            if settings.is_empty() || !writable {
                return Ok(());
            }
        }
        let _ = writeln!(text, "[[piece]]\nname = {}", quoted(&self.piece.name));
        if !also.is_empty() && !left {
            let also: Vec<String> = also.iter().map(|name| quoted(name)).collect();
            let _ = writeln!(text, "also = [{}]", also.join(", "));
        }
        match pitches {
            Pitches::LeftToNames => {}
            _ if left => {}
            Pitches::Zones(zones) => self.zones(&zones, text),
            Pitches::Root(root) => {
                self.recordings(text);
                let _ = writeln!(text, "root = {}", written_root(root));
            }
            Pitches::Unsaid => self.recordings(text),
        }
        if let ([take], false) = (takes.collect::<Vec<_>>().as_slice(), left || zoned) {
            self.sustain(**take).for_each(|line| _ = writeln!(text, "{line}"));
        }
        text.push_str(&settings);
        Ok(())
    }

    /// Files, or layers of them.
    fn recordings(&self, text: &mut String) {
        if let [layer] = self.piece.layers.as_slice() {
            let _ = writeln!(text, "files = [\n{}]", self.lines(&layer.zones, "  "));
            return;
        }
        text.push_str("layers = [\n");
        for layer in &self.piece.layers {
            let lines = self.lines(&layer.zones, "    ");
            let _ = writeln!(text, "  {{ upto = {}, files = [\n{lines}  ] }},", layer.upto);
        }
        text.push_str("]\n");
    }

    /// Zones, or layers of them.
    fn zones(&self, roots: &BTreeMap<usize, f64>, text: &mut String) {
        if let [layer] = self.piece.layers.as_slice() {
            let _ = writeln!(text, "zones = [\n{}]", self.zone_lines(&layer.zones, roots, "  "));
            return;
        }
        text.push_str("layers = [\n");
        for layer in &self.piece.layers {
            let lines = self.zone_lines(&layer.zones, roots, "    ");
            let _ = writeln!(text, "  {{ upto = {}, zones = [\n{lines}  ] }},", layer.upto);
        }
        text.push_str("]\n");
    }

    /// A line a zone, from the lowest up; those that are taken in turn stay in their order.
    fn zone_lines(&self, takes: &[usize], roots: &BTreeMap<usize, f64>, before: &str) -> String {
        let line = |take: usize| {
            let (root, file) = (written_root(roots[&take]), self.recording(take).unwrap_or_default());
            let sustain: String = self.sustain(take).map(|line| format!(", {line}")).collect();
            let line = format!("{before}{{ root = {root}, file = {file}{sustain} }},");
            format!("{}\n", self.noted(&line, take))
        };
        let turn = |take: usize| {
            let near = roots.values().filter(|root| (**root - roots[&take]).abs() < TURN);
            near.copied().fold(roots[&take], f64::min)
        };
        let mut takes = takes.to_vec();
        takes.sort_by(|a, b| turn(*a).total_cmp(&turn(*b)));
        takes.into_iter().map(line).collect()
    }

    /// A line a file.
    fn lines(&self, takes: &[usize], before: &str) -> String {
        let line = |take: &usize| {
            let line = format!("{before}{},", self.recording(*take).unwrap_or_default());
            format!("{}\n", self.noted(&line, *take))
        };
        takes.iter().map(line).collect()
    }

    fn noted(&self, line: &str, take: usize) -> String {
        match plain(&(self.told)(take)) {
            told if told.is_empty() => line.to_string(),
            told => format!("{line}  # {told}"),
        }
    }

    /// What is said of a recording's loop, beside what its file says.
    fn sustain(&self, take: usize) -> impl Iterator<Item = String> {
        let sustain = self.kit.files.get(take).and_then(|file| file.sustain.as_ref());
        let point = |point: LoopPoint| match point {
            LoopPoint::Frame(frame) => frame.to_string(),
            LoopPoint::Seconds(seconds) => quoted(&format!("{seconds} s")),
        };
        let points = sustain.map(|sustain| format!("sustain = [{}, {}]", point(sustain.start), point(sustain.end)));
        let fade = sustain.map(|sustain| sustain.crossfade).filter(|fade| *fade > 0.0);
        points.into_iter().chain(fade.map(|ms| format!("crossfade = {ms}")))
    }

    /// A recording as it is written: its file, or its two sides; none where a path is no text.
    fn recording(&self, take: usize) -> Option<String> {
        let sides = self.kit.sides(take);
        let left = self.path(&sides.left)?;
        match &sides.right {
            Some(right) => Some(format!("{{ left = {left}, right = {} }}", self.path(right)?)),
            None => Some(left),
        }
    }

    /// A file's path from the folder, with forward slashes and in quotes; none where it is no text.
    fn path(&self, file: &Path) -> Option<String> {
        let within = file.strip_prefix(self.folder).unwrap_or(file);
        let parts: Option<Vec<&str>> = within.components().map(|part| part.as_os_str().to_str()).collect();
        parts.map(|parts| quoted(&parts.join("/")))
    }

    fn pitches(&self) -> Pitches {
        let takes = || self.piece.layers.iter().flat_map(|layer| layer.zones.iter().copied());
        let written =
            |take: usize| matches!(self.kit.files.get(take), Some(file) if matches!(file.said, RootSource::Written(_)));
        let zoned = self.piece.layers.iter().any(|layer| layer.takes != layer.zones);
        let unsaid = || if zoned { Pitches::LeftToNames } else { Pitches::Unsaid };
        // What looks like a note in a drum's name is but a label, and a drum's pitch is no root.
        if is_percussion(&self.piece.name) && !takes().all(written) {
            return unsaid();
        }
        let root = |take: usize| {
            // Beyond these no root is read again.
            let root = self.kit.index.root(take).filter(|root| (0.0..=127.0).contains(root));
            Some((take, root?))
        };
        let roots: Option<BTreeMap<usize, f64>> = takes().map(root).collect();
        let Some(roots) = roots else { return unsaid() };
        let first = roots.values().copied().next();
        // Of several recordings each has its loop in a zone of its own.
        let looped = roots.len() > 1 && takes().any(|take| self.sustain(take).next().is_some());
        let plays_alike =
            |layer: &Layer| nearest_takes(&layer.zones, MIDDLE, |take| roots.get(&take).copied()) == layer.takes;
        match first {
            Some(first) if roots.values().all(|root| *root == first) && !zoned && !looped => Pitches::Root(first),
            // Takes in turn stay so as zones, as long as they are near enough to be one.
            Some(_) if zoned || self.piece.layers.iter().all(plays_alike) => Pitches::Zones(roots),
            _ => Pitches::Unsaid,
        }
    }

    /// What `kit.toml` says of the piece beside its files, in its own words.
    fn settings(&self) -> Result<String, Problem> {
        let mut text = String::new();
        let usual = choke_of(&self.piece.name);
        if self.piece.choke != usual {
            let choke = self.piece.choke.as_deref().unwrap_or("off");
            let _ = writeln!(text, "{} = {}", sound::CHOKE.name, quoted(choke));
        }
        let takes = self.piece.layers.iter().flat_map(|layer| &layer.zones);
        let files: Vec<_> = takes.filter_map(|take| self.kit.files.get(*take)).collect();
        let makers = files.iter().map(|file| &file.maker);
        let licences = files.iter().map(|file| &file.licence);
        for (key, said) in [(piece::MAKER, common(makers)), (piece::LICENCE, common(licences))] {
            if let Some(words) = said {
                let _ = writeln!(text, "{key} = {}", quoted(words));
            }
        }
        for (key, setting) in self
            .kit
            .defaults
            .get(&self.piece.name)
            .iter()
            .flat_map(|own| own.iter())
        {
            let _ = writeln!(text, "{}", self.taken_over(key, setting)?);
        }
        Ok(text)
    }

    fn taken_over(&self, key: &str, placed: &PlacedValue) -> Result<String, Problem> {
        let source = &placed.name.source.text;
        let (from, to) = (placed.name.span.end, placed.place.span.start);
        // A table under a header of its own has no sign between its name and what it says.
        let inline = source.get(from..to).is_some_and(|between| between.trim() == "=");
        match source.get(placed.place.span.clone()).filter(|_| inline) {
            Some(value) => Ok(format!("{key} = {value}")),
            None => {
                let what = format!("`{key}` of `{}` is a table under its own header", self.piece.name);
                Err(Problem::at(&placed.name, what)
                    .help("write it as key = { … }, so that it can be taken over, or add to the file by hand"))
            }
        }
    }
}

/// A root as it is written, so that it is read as the very same: by its note where it lies whole cents from it.
fn written_root(root: f64) -> String {
    let name = pitch_name(root);
    match parse_pitch(&name) == Ok(root) {
        true => quoted(&name),
        false => root.to_string(),
    }
}

/// What all say alike.
fn common<'a>(mut said: impl Iterator<Item = &'a Option<String>>) -> Option<&'a String> {
    let first = said.next()?.as_ref()?;
    said.all(|other| other.as_ref() == Some(first)).then_some(first)
}

/// What there is to say of how a piece was read, where it is not sure.
fn guess(reading: &Reading) -> String {
    let (Some(piece), words) = (reading.piece, plain(&reading.words.join(" "))) else {
        return String::new();
    };
    match reading.decided {
        Decided::Sound => format!("# `{piece}` by its sound: its name leaves it open.\n"),
        _ if reading.confidence >= GUESS => String::new(),
        _ => format!("# A guess, by \"{words}\": is this {piece}?\n"),
    }
}

/// Words for a comment: on one line.
fn plain(words: &str) -> String {
    let line = words.replace(steers, " ");
    line.trim().to_string()
}
