//! What stands between a file that was read and a loop that can be played: everything but what its kit says.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::Range;
use std::path::PathBuf;
use std::sync::Arc;

use super::performance::{Casting, PartPerformance};
use super::pitched::{BarSettings, ChangedBars, Chart, DoubleVoice, Phrase, PhraseContext, doubles};
use super::rhythm::ReadPart;
use super::written::tables::SpaceTable;
use super::{AsWritten, BandAccents, Ending, Exact, GrooveTemplate, Stroke, Time, Words};
use crate::harmony::Key;
use crate::schema::{Layers, STAND_IN, Settings, playing};
use crate::text::{Place, Problem, Source};

/// A value for a key, as an option of the command line gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct Given {
    /// What was given, under the option's name.
    pub source: Arc<Source>,
    /// Where the address of the key stands in it.
    pub key: Range<usize>,
    /// Where the value does.
    pub value: Range<usize>,
}

impl Given {
    /// A value that `--set` gives.
    pub fn set(key: &str, value: &str) -> Given {
        let (key, value) = (key.trim(), value.trim());
        let text = format!("{key}={value}");
        Given {
            key: 0..key.len(),
            value: key.len() + 1..text.len(),
            source: Source::new("--set", text),
        }
    }
}

/// `KEY=VALUE`.
impl fmt::Display for Given {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = &self.source.text;
        write!(out, "{}={}", &text[self.key.clone()], &text[self.value.clone()])
    }
}

/// What the command line changes in a file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Changes {
    /// Values by the address of their key, in the order in which they were given.
    pub set: Vec<Given>,
    /// The mix to read the loop with.
    pub mix: Option<String>,
    /// A kit in place of the loop's own, relative to the current folder.
    pub kit: Option<PathBuf>,
    /// A seed in place of the loop's own.
    pub seed: Option<u64>,
    /// An ending in place of the file's own.
    pub ending: Option<Ending>,
    /// Names of parts and buses: where there are any, all others are silenced.
    pub only: Vec<String>,
    /// Names of parts and buses to silence.
    pub without: Vec<String>,
}

/// A file that was read and checked.
// There is one draft a run: its size is no matter.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Clone)]
pub enum Draft {
    /// A loop.
    Loop(LoopDraft),
    /// A form.
    Form(FormDraft),
}

impl Draft {
    /// Plays all of it at so many times its tempo.
    pub(crate) fn change_tempo(&mut self, times: f64) {
        match self {
            Draft::Loop(draft) => draft.time.tempo *= times,
            Draft::Form(draft) => draft.loops_mut().for_each(|draft| draft.time.tempo *= times),
        }
    }
}

/// A loop, read and checked, but for what its kit says.
#[derive(Debug, Clone)]
pub struct LoopDraft {
    pub(super) title: String,
    pub(super) kits: Vec<PathBuf>,
    pub(super) folder: PathBuf,
    pub(super) time: Time,
    pub(super) bars: u32,
    pub(super) key: Option<String>,
    pub(super) chart: Chart,
    pub(super) accents: Vec<BandAccents>,
    pub(super) seed: u64,
    pub(super) harmony_hints: bool,
    pub(super) ending: Ending,
    pub(super) feel: Settings,
    /// The drummer that it is played like, with the file.
    pub(super) like: Option<(PathBuf, Arc<GrooveTemplate>)>,
    /// Notices on the file.
    pub(super) notices: Vec<Problem>,
    /// What may not be meant in how its bars are written.
    pub(super) hints: Vec<Problem>,
    pub(super) parts: Vec<PartDraft>,
    pub(super) buses: Vec<BusDraft>,
    pub(super) spaces: Vec<SpaceTable>,
    pub(super) master: Settings,
    pub(super) mixes: Vec<String>,
    pub(super) sweeps: Vec<SweepDraft>,
    pub(super) as_written: Arc<AsWritten>,
}

/// One stretch of a sweep: the table that it changes, as it is at its beginning and at its end.
#[derive(Debug, Clone)]
pub(super) struct SweepDraft {
    /// Whose table: `master`, or the name of a part, bus, room or delay.
    pub whose: String,
    pub from: Settings,
    pub to: Settings,
    /// In bars.
    pub start: Exact,
    pub end: Exact,
    pub every: Option<Exact>,
    /// Where the file names the key.
    pub place: Place,
}

/// A part, its hits read.
#[derive(Debug, Clone)]
pub(super) struct PartDraft {
    pub name: Words,
    pub settings: Settings,
    pub read: ReadPart,
    /// The performance that `read` was made from, where the part has one.
    pub take: Option<PartPerformance>,
    /// Notices on it.
    pub notices: Vec<Problem>,
    pub silenced: bool,
    /// What it plays where it is written in notes, degrees or comping.
    pub phrase: Option<Phrase>,
    /// Its keys of playing that differ in some bars.
    pub changed: ChangedBars,
    /// One for each voice of its doubles: true where it is silenced.
    pub silenced_doubles: Vec<bool>,
}

impl PartDraft {
    /// How it plays, bar by bar.
    pub(super) fn habits(&self) -> BarSettings<'_> {
        BarSettings {
            own: &self.settings,
            changed: &self.changed,
        }
    }

    fn cast(&mut self, kit: &Casting) {
        if let Some(take) = &self.take {
            let accents = std::mem::take(&mut self.read.accents);
            (self.read, self.notices) = take.cast(kit);
            self.read.accents = accents;
        }
    }

    /// The piece that its plain marks play; a performance has none unless the part names one.
    pub(super) fn own_piece(&self) -> &str {
        match self.settings.get(playing::PIECE) {
            Some(piece) => &piece.text,
            None if self.take.is_some() => "",
            None => &self.name.text,
        }
    }
}

/// A bus.
#[derive(Debug, Clone)]
pub(super) struct BusDraft {
    pub name: Words,
    pub settings: Settings,
    pub silenced: bool,
}

impl LoopDraft {
    /// The key of the music, where the file says one.
    pub(super) fn tonality(&self) -> Option<Key> {
        self.key.as_ref().and_then(|key| Key::parse(key).ok())
    }

    /// What the notes of its parts depend on.
    pub(super) fn stage<'a>(&'a self, key: Option<&'a Key>) -> PhraseContext<'a> {
        PhraseContext {
            chart: &self.chart,
            key,
            time: &self.time,
            seed: self.seed,
            round: self.ending == Ending::Repeat,
            bars: self.bars,
        }
    }

    /// Gives the notes of its MIDI files to the pieces that a kit has. Until then each goes to the piece that General
    /// MIDI has for its key.
    pub fn cast(&mut self, kit: &Casting) {
        self.parts.iter_mut().for_each(|part| part.cast(kit));
    }

    /// The pieces that play performances note by note, at the pitches of their keys.
    pub fn pitched_pieces(&self, kit: &Casting) -> Vec<&str> {
        let takes = self.parts.iter().filter_map(|part| part.take.as_ref());
        takes.filter_map(|take| take.pitched(kit)).collect()
    }

    /// The folders of its kit, the first that has a piece wins; relative to the current folder. None where every part plays
    /// the stand-in, which needs no folder.
    pub fn kits(&self) -> &[PathBuf] {
        if !self.parts.is_empty() && self.parts.iter().all(|part| self.stands_in(part)) {
            return &[];
        }
        &self.kits
    }

    /// True for a part that plays nothing but the stand-in.
    fn stands_in(&self, part: &PartDraft) -> bool {
        self.names_of_pieces(part).iter().all(|piece| piece == STAND_IN)
    }

    /// The names of all pieces that it may ask a kit for; none where MIDI is played, which takes what the kit has.
    pub fn pieces(&self) -> Option<Vec<String>> {
        let performed = self.parts.iter().any(|part| part.take.is_some());
        let names = || self.parts.iter().flat_map(|part| self.names_of_pieces(part));
        (!performed).then(|| names().collect())
    }

    fn names_of_pieces(&self, part: &PartDraft) -> Vec<String> {
        let doubles = all_doubles(part);
        let doubled = doubles.iter().filter_map(|double| double.piece());
        let played = self.played(part).0;
        let pieces = played.iter().chain(doubled).map(|piece| piece.text.clone());
        pieces.chain([part.own_piece().to_string()]).collect()
    }

    /// Lets a part, which the file leaves silent, play strokes on its own piece, in the order of time.
    pub(crate) fn strike(&mut self, part: usize, strokes: Vec<Stroke>) {
        let part = &mut self.parts[part];
        part.read = ReadPart {
            pieces: vec![part.settings.get(playing::PIECE).unwrap_or(&part.name).clone()],
            strokes,
            unnamed_bars: Vec::new(),
            accents: BTreeMap::new(),
        };
        // They are of a silent part.
        self.hints.clear();
    }

    /// Its title.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// The bars, counted from 1, that no line of a part names, by the part's name.
    pub fn unnamed_bars(&self) -> impl Iterator<Item = (&str, &[u32])> {
        self.parts
            .iter()
            .map(|part| (part.name.text.as_str(), part.read.unnamed_bars.as_slice()))
    }
}

/// A form, read and checked, but for what its loops' kits say.
#[derive(Debug, Clone)]
pub struct FormDraft {
    pub(super) title: String,
    pub(super) place: Place,
    pub(super) ending: Ending,
    pub(super) sections: Vec<SectionDraft>,
    /// Its own master, else the first section's.
    pub(super) master: Settings,
    /// What moves in the master.
    pub(super) sweeps: Vec<SweepDraft>,
    pub(super) pickup: Option<Exact>,
    pub(super) last_hit: bool,
    pub(super) fades: (f64, f64),
    pub(super) as_written: Arc<AsWritten>,
}

/// A section of a form.
#[derive(Debug, Clone)]
pub(super) struct SectionDraft {
    pub name: String,
    /// The addresses that its `set` names.
    pub sets: Vec<String>,
    pub place: Place,
    pub file: PathBuf,
    pub plays: LoopDraft,
    pub times: u32,
    pub window: (u32, u32),
}

impl FormDraft {
    /// The loops of its sections, in order, for whoever looks up their kits.
    pub fn loops(&self) -> impl Iterator<Item = &LoopDraft> {
        self.sections.iter().map(|section| &section.plays)
    }

    /// The same, to be changed.
    pub fn loops_mut(&mut self) -> impl Iterator<Item = &mut LoopDraft> {
        self.sections.iter_mut().map(|section| &mut section.plays)
    }
}

/// The voices that a part has anywhere: its own, and those of changed bars beyond them.
pub(crate) fn all_doubles(part: &PartDraft) -> Vec<DoubleVoice<'_>> {
    let mut all = doubles(&Layers::new([&part.settings]));
    for (_, settings) in &part.changed {
        let more = doubles(&Layers::new([settings]));
        all.extend(more.into_iter().skip(all.len()));
    }
    all
}
