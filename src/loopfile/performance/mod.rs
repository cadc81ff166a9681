//! Performances: a part's MIDI file becomes strokes at exact places of the loop's bars.
//!
//! A file's own tempo and metre say nothing here: its quarter notes are the loop's. One that counts seconds (SMPTE)
//! keeps its seconds. What comes after the loop's last bar is left out; what ends before it is not repeated.
//!
//! - In: the path of a MIDI file, and what a kit's pieces are to its note numbers ([`Casting`]).
//! - Out: strokes, notices of what could not be played, and the groove template that `[feel] like` asks for.
//! - It knows nothing of how a kit is opened, and decodes no MIDI itself.

pub(crate) mod groove_template;
mod notices;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::limits::MOST_STROKES;
use super::rhythm::ReadPart;
use super::written::tables::PartTable;
use super::{Exact, Manner, Stroke, Time, Words, marks};
use crate::files::Refused;
use crate::midi::{self, Clock, Counts, MidiError, Note, PERCUSSION_CHANNEL, Performance};
use crate::schema::{Layers, NoteNumbers, Settings, part, playing};
use crate::text::{Place, Problem, did_you_mean, nearest};

/// Any key does to ask whether a piece has a root.
const MIDDLE_C: u8 = 60;

/// A part's performance, and how it is to be cast on a kit's pieces.
#[derive(Debug, Clone)]
pub(super) struct PartPerformance {
    /// The file, relative to the current folder.
    pub path: PathBuf,
    /// The file as the part names it.
    file: Words,
    performance: Arc<Performance>,
    /// From 0.
    pub channel: u8,
    /// The one track that it plays; all where none.
    track: Option<Words>,
    /// The piece that the part is for alone, where it says one.
    piece: Option<Words>,
    /// The pieces that parts with a piece play from this channel of the file, this one's among them.
    claimed: Vec<Words>,
    keys: NoteNumbers,
    /// Bars that a tick takes.
    tick: Exact,
    bar_seconds: f64,
    bars: u32,
    /// The first tick that is past the loop's end.
    end: u64,
    /// True for the first part that plays this channel of the file: notices on it are reported once.
    tells: bool,
}

/// Files that were read, each once.
#[derive(Default)]
pub(super) struct MidiFiles {
    read: BTreeMap<PathBuf, Result<Arc<Performance>, String>>,
}

impl MidiFiles {
    /// The performance in the file that some words name.
    pub(super) fn take(&mut self, folder: &Path, file: &Words) -> Result<(PathBuf, Arc<Performance>), Problem> {
        let path = super::written::paths::beside(folder, &file.text);
        let read = self.read.entry(path.clone()).or_insert_with(|| read(&path, &file.text));
        match read {
            Ok(performance) => Ok((path, performance.clone())),
            Err(what) => Err(Problem::at(&file.whole(), what.clone())),
        }
    }
}

fn read(path: &Path, shown: &str) -> Result<Arc<Performance>, String> {
    match midi::read(path) {
        Ok(performance) => Ok(Arc::new(performance)),
        Err(MidiError::Refused(Refused::Absent)) => Err(format!("there is no file `{}`", path.display())),
        Err(MidiError::Refused(refused)) => Err(format!("`{shown}` {refused}")),
        Err(error) => Err(format!("{shown}: {error}")),
    }
}

/// Reads the performances of all parts: one answer a part, none for one that has no `midi`.
pub(super) fn read_all(
    parts: &[PartTable],
    folder: &Path,
    time: &Time,
    bars: u32,
    shelf: &mut MidiFiles,
    problems: &mut Vec<Problem>,
) -> Vec<Option<PartPerformance>> {
    let mut told = BTreeSet::new();
    let mut strokes = 0;
    let mut takes = Vec::new();
    for part in parts {
        let Some(file) = part.settings.get(part::MIDI) else {
            lacks_midi(&part.settings, problems);
            takes.push(None);
            continue;
        };
        let (path, performance) = match shelf.take(folder, file) {
            Ok(found) => found,
            Err(problem) => {
                problems.push(problem);
                takes.push(None);
                continue;
            }
        };
        let track = part.settings.get(part::TRACK).cloned();
        let channel = match track_channel(&performance, track.as_ref(), file) {
            Ok(own) => own.filter(|_| !part.settings.writes(part::CHANNEL)),
            Err(problem) => {
                problems.push(problem);
                takes.push(None);
                continue;
            }
        };
        let layers = Layers::new([&part.settings]);
        let channel = channel.unwrap_or(layers.whole(part::CHANNEL).saturating_sub(1) as u8);
        let track_name = track.as_ref().map(|track| track.text.clone());
        let tick = bars_a_tick(&performance.clock, time);
        let end = (Exact::from_integer(bars.into()) / tick).ceil().to_integer();
        let take = PartPerformance {
            tick,
            bar_seconds: time.bar_seconds(),
            end: u64::try_from(end).unwrap_or(u64::MAX),
            tells: told.insert((path.clone(), channel, track_name)),
            path,
            file: file.clone(),
            performance,
            channel,
            track,
            piece: part.settings.get(playing::PIECE).cloned(),
            claimed: Vec::new(),
            keys: part.settings.get(part::KEYS).cloned().unwrap_or_default(),
            bars,
        };
        strokes += take.notes().filter(|note| take.is_within(note)).count();
        if strokes > MOST_STROKES {
            let what = format!(
                "with {} the loop has {strokes} notes; {MOST_STROKES} are the most",
                file.text
            );
            problems.push(Problem::at(&file.whole(), what).help("shorten the loop"));
            // Nothing is played any more: no need to cast what came before.
            return parts.iter().map(|_| None).collect();
        }
        takes.push(Some(take));
    }
    claim(&mut takes);
    takes
}

/// The channel of the first note of the track that a part names; none where it names none, or one without notes.
fn track_channel(performance: &Performance, track: Option<&Words>, file: &Words) -> Result<Option<u8>, Problem> {
    let Some(track) = track else { return Ok(None) };
    let named = || performance.tracks.iter().filter(|known| known.name == track.text);
    if named().next().is_none() {
        let played = performance.tracks.iter().filter(|known| !known.notes.is_empty());
        let names: Vec<&str> = played
            .map(|known| known.name.as_str())
            .filter(|name| !name.is_empty())
            .collect();
        let what = format!("{} has no track `{}`", file.text, track.text);
        return Err(
            Problem::at(&track.whole(), what).help(match nearest(&track.text, names.iter().copied()) {
                Some(near) => did_you_mean(near),
                None if names.is_empty() => "none of its tracks has a name: leave out `track`".into(),
                None => format!("its tracks are {}", names.join(", ")),
            }),
        );
    }
    Ok(named().flat_map(|track| &track.notes).next().map(|note| note.channel))
}

/// Tells each performance which pieces are played from it: a key with two names is the second one's where a part plays
/// that, and the first one's where none does.
fn claim(takes: &mut [Option<PartPerformance>]) {
    let mut claims: BTreeMap<(PathBuf, u8), Vec<Words>> = BTreeMap::new();
    for take in takes.iter().flatten() {
        let claimed = claims.entry((take.path.clone(), take.channel)).or_default();
        claimed.extend(take.piece.clone());
    }
    for take in takes.iter_mut().flatten() {
        take.claimed = claims
            .get(&(take.path.clone(), take.channel))
            .cloned()
            .unwrap_or_default();
    }
}

/// The keys that a part without a performance has no use for.
fn lacks_midi(settings: &Settings, problems: &mut Vec<Problem>) {
    if settings.writes(part::MIDI) {
        return;
    }
    for setting in [
        part::KEYS.any(),
        part::TRACK.any(),
        part::CHANNEL.any(),
        part::TIGHTEN.any(),
    ] {
        if let Some(placed) = settings.placed(setting) {
            let name = setting.name;
            let what = format!("`{name}` is of no use to a part without a `midi` file");
            problems.push(
                Problem::at(&placed.name, what)
                    .help(format!("name the file by midi = \"take.mid\", or leave out `{name}`")),
            );
        }
    }
}

/// The share of a bar that a tick takes.
pub(super) fn bars_a_tick(clock: &Clock, time: &Time) -> Exact {
    let notes = match clock.counts {
        Counts::Quarters => clock.tick / 4,
        // A tempo of up to six decimals, as it is written.
        Counts::Seconds => clock.tick * Exact::new(libm::round(time.tempo * 1e6) as i128, 60_000_000) * time.beat,
    };
    notes / time.bar()
}

/// What a key of a performance plays on a kit.
enum KeyTarget {
    /// A piece, by its place among the part's.
    Piece(usize),
    /// A piece that this part leaves to others.
    Others,
    /// Nothing that the kit has.
    Nobody,
}

impl PartPerformance {
    /// The notes of its track and channel.
    fn notes(&self) -> impl Iterator<Item = &Note> {
        self.on_track().filter(|note| note.channel == self.channel)
    }

    /// The notes of its track, on whatever channel.
    fn on_track(&self) -> impl Iterator<Item = &Note> {
        let tracks = self.performance.tracks.iter();
        let own = tracks.filter(|track| self.track.as_ref().is_none_or(|own| own.text == track.name));
        own.flat_map(|track| &track.notes)
    }

    /// A note's place in bars, within the loop.
    fn at(&self, note: &Note) -> Exact {
        self.tick * i128::from(note.start.min(self.end.saturating_sub(1)))
    }

    /// True for a note that starts before the loop's end. Where the file says what its keys are, and its music ends with the
    /// loop or before, what starts later was pushed there by a player, and is played late.
    fn is_within(&self, note: &Note) -> bool {
        let conductor = self.performance.tracks.first();
        let ends = conductor.filter(|_| self.performance.pieces.is_some());
        note.start < self.end || ends.is_some_and(|track| track.end <= self.end)
    }

    /// Seconds by which a note starts after the loop's last tick.
    fn late(&self, note: &Note) -> f64 {
        let ticks = (note.start + 1).saturating_sub(self.end.max(1));
        let bars = self.tick * i128::from(ticks);
        *bars.numer() as f64 / *bars.denom() as f64 * self.bar_seconds
    }

    /// Gives the notes to a kit's pieces: the strokes, and notices on them.
    pub(super) fn cast(&self, kit: &Casting) -> (ReadPart, Vec<Problem>) {
        let mut pieces: Vec<Words> = Vec::new();
        let mut casts: BTreeMap<u8, KeyTarget> = BTreeMap::new();
        let mut lacking: BTreeMap<u8, usize> = BTreeMap::new();
        let mut struck: Vec<(&Note, usize)> = Vec::new();
        let pitched = self.pitched(kit);
        let mut past = 0;
        for note in self.notes() {
            if !self.is_within(note) {
                past += 1;
                continue;
            }
            let mut cast = |key: u8| match pitched {
                Some(piece) if (kit.plays)(piece, key) == Some(false) => KeyTarget::Nobody,
                Some(_) => KeyTarget::Piece(0),
                None => self.cast_key(key, kit, &mut pieces),
            };
            match casts.entry(note.key).or_insert_with_key(|key| cast(*key)) {
                KeyTarget::Piece(piece) => struck.push((note, *piece)),
                KeyTarget::Others => {}
                KeyTarget::Nobody => *lacking.entry(note.key).or_default() += 1,
            }
        }
        // A key that is struck twice at once, as in doubled tracks, is struck once, as hard as the harder; but not where the file
        // says what its tracks play.
        struck.sort_by_key(|(note, _)| (note.start, note.key, 127 - note.velocity));
        if self.performance.pieces.is_none() {
            struck.dedup_by_key(|(note, _)| (note.start, note.key));
        }
        if let (Some(_), Some(piece)) = (pitched, &self.piece) {
            pieces.push(piece.clone());
        }
        let mark = |velocity: u8| match pitched {
            Some(_) => marks::note_mark(velocity.into()),
            None => marks::mark_for(velocity.into()),
        };
        let stroke = |(note, piece): &(&Note, usize)| Stroke {
            at: self.at(note),
            // A note that is let go at once sounds for a tick, as it is written.
            step: self.tick * i128::from(note.length.max(1)),
            piece: *piece,
            velocity: note.velocity.into(),
            plain: false,
            shift: self.late(note),
            pitch: pitched.map(|_| note.key.into()),
            sounds: None,
            word: None,
            expression: None,
            mark: mark(note.velocity),
            manner: Manner::Single,
            scale: 1.0,
        };
        let read = ReadPart {
            strokes: struck.iter().map(stroke).collect(),
            pieces,
            unnamed_bars: self.bars_behind(),
            accents: Default::default(),
        };
        let notices = self.notices(past, &lacking, (pitched, read.strokes.is_empty()));
        (read, notices)
    }

    /// The part's own piece, where it plays each key as a note of that pitch: where a root of the piece is known and no
    /// key of a map means it; in a file that says what its keys are, on every channel but that of percussion.
    pub(super) fn pitched(&self, kit: &Casting) -> Option<&str> {
        let own = &self.piece.as_ref()?.text;
        (kit.plays)(own, MIDDLE_C)?;
        if self.performance.pieces.is_some() {
            return (self.channel != PERCUSSION_CHANNEL).then_some(own.as_str());
        }
        let own_name = |name: &str| (kit.piece)(name).unwrap_or(name.into());
        let means = |name: &Words| own_name(&name.text) == own_name(own);
        let mapped = (0..=127).any(|key| self.names(key, kit).iter().any(means));
        (!mapped).then_some(own.as_str())
    }

    /// The pieces that a key may mean, the most particular first.
    fn names(&self, key: u8, kit: &Casting) -> Vec<Words> {
        let (source, span) = (self.file.source.clone(), self.file.literal.clone());
        let file = Place { source, span };
        let at_file = |name: &str| Words::unwritten(name, &file);
        let told = self.keys.iter().find(|(told, _)| *told == key);
        let said = self.performance.pieces.as_ref().and_then(|pieces| pieces.get(&key));
        match (told, said.or_else(|| kit.keys.get(&key))) {
            (Some((_, piece)), _) => vec![piece.clone()],
            (None, Some(piece)) => vec![at_file(piece)],
            (None, None) => midi::names_for(key).iter().map(|name| at_file(name)).collect(),
        }
    }

    /// What a key plays, its piece put among the part's.
    fn cast_key(&self, key: u8, kit: &Casting, pieces: &mut Vec<Words>) -> KeyTarget {
        let told = self.keys.iter().any(|(told, _)| *told == key);
        let names = self.names(key, kit);
        let own_name = |name: &str| (kit.piece)(name).unwrap_or(name.into());
        let name = match &self.piece {
            Some(own) => {
                let of = |name: &Words| {
                    self.claimed
                        .iter()
                        .find(|piece| own_name(&piece.text) == own_name(&name.text))
                };
                match names.iter().find_map(of) {
                    Some(piece) if own_name(&piece.text) == own_name(&own.text) => own.clone(),
                    _ => return KeyTarget::Others,
                }
            }
            // What the part itself asks for must be there; what a map says of a key may be lacking.
            None => match names.into_iter().find(|name| told || (kit.piece)(&name.text).is_some()) {
                Some(name) => name,
                None => return KeyTarget::Nobody,
            },
        };
        let place = pieces.iter().position(|piece| piece.text == name.text);
        KeyTarget::Piece(place.unwrap_or_else(|| {
            pieces.push(name);
            pieces.len() - 1
        }))
    }

    /// The bars after the performance has ended, counted from 1.
    fn bars_behind(&self) -> Vec<u32> {
        let ends = self.tick * i128::from(self.performance.end());
        let ends = ends.ceil().to_integer().clamp(0, self.bars.into()) as u32;
        (ends + 1..=self.bars).collect()
    }
}

/// What a kit's pieces are to the notes of a MIDI file.
#[derive(Clone, Copy)]
pub struct Casting<'a> {
    /// The kit's own name for the piece that goes by a name; none where it has no such piece.
    pub piece: &'a dyn Fn(&str) -> Option<String>,
    /// The pieces of keys, where the kit has a map of its own.
    pub keys: &'a BTreeMap<u8, String>,
    /// Whether a piece is recorded near enough to a MIDI key to play it as a note; none for a piece that has no root.
    pub plays: &'a dyn Fn(&str, u8) -> Option<bool>,
}
