//! From a path to a draft: reading, changing, checking.
//!
//! - In: the path of a loop or form file, and the changes of a command line.
//! - Out: a [`Draft`], in which references are known to lead somewhere and hits, notes and chords are read; or all problems.
//! - Each mix is judged as the loop itself is, whether or not it was asked for.
//! - It knows nothing of kits: what depends on them is for `resolve`.

mod echoes;
pub(crate) mod form;
pub(crate) mod references;
pub(crate) mod sweep;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use echoes::drop_echoes;

use super::changes;
use super::performance::Casting;
use super::performance::groove_template;
use super::performance::{self, MidiFiles, PartPerformance};
use super::pitched::{self, Chart, double_name};
use super::resolve::players;
use super::rhythm::{accents, uneven_bars};
use super::unresolved::{BusDraft, Changes, Draft, LoopDraft, PartDraft, all_doubles};
use super::written::paths::{beside, open, stem};
use super::written::tables;
use super::written::tables::{LoopTables, PartTable};
use super::{AsWritten, Ending, HitPart, Time, Words, rhythm};
use crate::schema;
use crate::schema::{Entry, Layers, PiecesByMark, Settings, Table, form_file, loop_table, part, playing};
use crate::text::{Place, Problem, Problems, Source, did_you_mean, did_you_mean_text, nearest};

/// Reads a loop file or, where it has a `[form]` or `[[section]]`, a form file, with the changes of a command line.
///
/// # Errors
/// Everything that is wrong with the file, its mixes and the changes, in the order of the text.
pub fn read(path: &Path, changes: &Changes) -> Result<Draft, Problems> {
    read_source(path, open(path)?, changes)
}

/// The same for a text that is in no file; what it names lies beside the path.
///
/// # Errors
/// As [`read`].
pub(crate) fn read_text(path: &Path, text: String, changes: &Changes) -> Result<Draft, Problems> {
    read_source(path, Source::new(path, text), changes)
}

fn read_source(path: &Path, source: Arc<Source>, changes: &Changes) -> Result<Draft, Problems> {
    let mut problems = Vec::new();
    let entries = schema::parse(&source, &mut problems);
    let draft = if is_form(&entries) {
        form::read(path, &source, &entries, changes, &mut problems).map(Draft::Form)
    } else {
        let written = written(&source, &entries, &mut problems);
        let draft = written.and_then(|written| read_loop(path, written, changes, &mut problems));
        if let Some(draft) = &draft {
            known_names(&draft.names(), changes, &mut problems);
        }
        draft.map(Draft::Loop)
    };
    match draft {
        Some(draft) if problems.is_empty() => Ok(draft),
        _ => Err(sorted(problems, path)),
    }
}

pub(super) fn is_form(entries: &[Entry]) -> bool {
    entries
        .iter()
        .any(|entry| entry.key.text == form_file::FORM.name || entry.key.text == form_file::SECTION.name)
}

/// The problems in the order of the text, each once; the file's own first.
fn sorted(mut problems: Vec<Problem>, path: &Path) -> Problems {
    problems.sort_by_key(|problem| {
        problem
            .place
            .as_ref()
            .map(|place| (place.source.path != path, place.source.path.clone(), place.span.start))
    });
    let mut once: Vec<Problem> = Vec::new();
    for problem in problems {
        // Mixes find again what the loop itself has; sorted, the same problems stand side by side.
        let here = once.iter().rev().take_while(|other| other.place == problem.place);
        if !here.into_iter().any(|other| *other == problem) {
            once.push(problem);
        }
    }
    Problems(once)
}

/// Reads a loop file's tables. Where the text is not TOML throughout, only what stands there is judged, and not what
/// it lacks.
pub(super) fn written(source: &Arc<Source>, entries: &[Entry], problems: &mut Vec<Problem>) -> Option<LoopTables> {
    let syntax = problems.len();
    let beginning = Place {
        source: source.clone(),
        span: 0..0,
    };
    let file = schema::read_table(Table::LoopFile, &beginning, entries, problems);
    drop_echoes(problems, syntax);
    (syntax == 0).then(|| tables::collect(file, problems))
}

/// Checks a loop as it is written, with each of its mixes, and with the changes asked for; gives the last.
pub(super) fn read_loop(
    path: &Path,
    written: LoopTables,
    changes: &Changes,
    problems: &mut Vec<Problem>,
) -> Option<LoopDraft> {
    let mut shelf = MidiFiles::default();
    let base = judge(path, &written, &mut shelf, problems);
    let mut chosen = written.clone();
    for (name, mix) in &written.mixes {
        schema::complete(mix, problems);
        let mut mixed = written.clone();
        for edit in changes::from_mix(mix) {
            changes::apply(&mut mixed, &edit, problems);
        }
        judge(path, &mixed, &mut shelf, problems);
        if changes.mix.as_ref() == Some(&name.text) {
            chosen = mixed;
        }
    }
    if let Some(mix) = &changes.mix {
        let names: Vec<&str> = written.mixes.iter().map(|(name, _)| name.text.as_str()).collect();
        known_mix(mix, &names, path, problems);
    }
    for edit in changes::from_command_line(&changes.set) {
        changes::apply(&mut chosen, &edit, problems);
    }
    let mut draft = if changes.mix.is_none() && changes.set.is_empty() {
        base
    } else {
        judge(path, &chosen, &mut shelf, problems)
    }?;
    if problems.is_empty() {
        draft.hints = uneven_bars::hints(&chosen, &draft.time, draft.bars);
    }
    draft.silence(&changes.only, &changes.without);
    if let Some(kit) = &changes.kit {
        draft.kits = vec![kit.clone()];
    }
    draft.seed = changes.seed.unwrap_or(draft.seed);
    draft.ending = changes.ending.unwrap_or(draft.ending);
    Some(draft)
}

/// Checks that there is a mix of a name.
pub(super) fn known_mix(mix: &str, names: &[&str], path: &Path, problems: &mut Vec<Problem>) {
    if names.contains(&mix) {
        return;
    }
    let problem = Problem::new(format!("{} has no mix called \"{mix}\"", path.display()));
    problems.push(match nearest(mix, names.iter().copied()) {
        Some(near) => problem.help(did_you_mean_text(near)),
        None if names.is_empty() => problem.help("it has no mixes at all"),
        None => problem.help(format!("it has \"{}\"", names.join("\", \""))),
    });
}

/// Checks all that is said against all else, and reads the hits.
fn judge(path: &Path, written: &LoopTables, shelf: &mut MidiFiles, problems: &mut Vec<Problem>) -> Option<LoopDraft> {
    references::check(written, problems);
    let song = Layers::new([&written.song]);
    let (time, bars) = time(&song).zip(
        u32::try_from(song.whole(loop_table::BARS))
            .ok()
            .filter(|bars| *bars > 0),
    )?;
    let place = references::place_of(&written.song, loop_table::BARS);
    if let Some(problem) = references::too_long(time.bar_seconds() * f64::from(bars), &place) {
        problems.push(problem);
        return None;
    }
    let parts: Vec<HitPart> = written.parts.iter().map(|part| written_part(part, bars)).collect();
    let (read, band) = accents::read_with(&written.accents, parts, &time, bars, problems);
    let chart = Chart::read(&written.chords, &time, bars, problems);
    let sweeps = sweep::read(written, &time, bars, problems);
    let folder = path.parent().unwrap_or(Path::new("")).to_path_buf();
    let takes = performance::read_all(&written.parts, &folder, &time, bars, shelf, problems);
    let mut notices = Vec::new();
    let like = groove_template::read(&written.feel, &folder, &time, shelf, &mut notices, problems);
    let parts: Vec<PartDraft> = written
        .parts
        .iter()
        .zip(read)
        .zip(takes)
        .map(|((part, read), take)| part_draft(part, (read, take), (&time, bars), problems))
        .collect();
    let buses = written.buses.iter().cloned();
    let mut draft = LoopDraft {
        title: song.text(loop_table::TITLE).map_or_else(|| stem(path), str::to_string),
        kits: kits(&written.song, &folder),
        folder,
        time,
        bars,
        key: song.text(loop_table::KEY).map(str::to_string),
        chart,
        accents: band,
        seed: song.whole(loop_table::SEED),
        harmony_hints: song.switch(loop_table::HINTS),
        ending: Ending::named(song.text(loop_table::ENDING)),
        feel: written.feel.clone(),
        like,
        notices,
        hints: Vec::new(),
        parts,
        buses: buses
            .map(|(name, settings)| BusDraft {
                name,
                settings,
                silenced: false,
            })
            .collect(),
        spaces: written.spaces.clone(),
        master: written.master.clone(),
        mixes: written.mixes.iter().map(|(name, _)| name.text.clone()).collect(),
        sweeps,
        as_written: Arc::new(AsWritten::of(written)),
    };
    draft.check_people(problems);
    draft.rehearse(problems);
    draft.cast(&Casting {
        piece: &|name| Some(name.into()),
        keys: &Default::default(),
        plays: &|name, _| (name == schema::STAND_IN).then_some(true),
    });
    Some(draft)
}

/// A part as the rest of the reading takes it.
fn part_draft(
    part: &PartTable,
    (mut read, take): (rhythm::ReadPart, Option<PartPerformance>),
    (time, bars): (&Time, u32),
    problems: &mut Vec<Problem>,
) -> PartDraft {
    let phrase = players::phrase(part, time, bars, problems);
    let mut unnamed = phrase
        .as_ref()
        .map_or(read.unnamed_bars.clone(), |phrase| phrase.unnamed());
    let strikes: Vec<i128> = accents::strikes(&read.accents)
        .map(|(at, _)| at.to_integer() + 1)
        .collect();
    unnamed.retain(|bar| !strikes.contains(&(*bar).into()));
    read.unnamed_bars = unnamed;
    if take.is_some()
        && let Some(place) = read.accents.values().find_map(|accent| accent.strikes.as_ref())
    {
        let what = format!(
            "`{}` plays a performance, in which nothing gives way to a strike",
            part.name.text
        );
        problems.push(Problem::at(place, what).help("let parts strike that have hits, notes, degrees or comp"));
    } else if phrase.is_none() {
        accents::strike(&mut read);
    }
    PartDraft {
        name: part.name.clone(),
        settings: part.settings.clone(),
        read,
        take,
        notices: Vec::new(),
        silenced: false,
        phrase,
        changed: pitched::changes(&part.settings, bars, problems),
        silenced_doubles: Vec::new(),
    }
}

fn time(song: &Layers<'_>) -> Option<Time> {
    let (counts, unit) = *song.get(loop_table::METRE).unwrap_or(&(4, 4));
    Some(Time {
        tempo: song.level(loop_table::TEMPO)?,
        beat: song.notes(loop_table::BEAT)?,
        counts,
        unit,
    })
}

fn kits(song: &Settings, folder: &Path) -> Vec<PathBuf> {
    match song.get(loop_table::KIT) {
        Some(paths) => paths.iter().map(|path| beside(folder, &path.text)).collect(),
        None => vec![beside(folder, ".")],
    }
}

/// The name of the piece that a part plays.
fn piece(part: &PartTable) -> &Words {
    part.settings.get(playing::PIECE).unwrap_or(&part.name)
}

fn written_part(part: &PartTable, bars: u32) -> HitPart {
    // What is wrong with the bars of a change is reported where all of it is read.
    let changed = pitched::changes(&part.settings, bars, &mut Vec::new());
    HitPart {
        name: part.name.clone(),
        piece: piece(part).clone(),
        marks: marks(&part.settings),
        changed_marks: changed
            .iter()
            .map(|(bars, settings)| (bars.clone(), marks(settings)))
            .filter(|(_, marks)| !marks.is_empty())
            .collect(),
        lines: part.lines.clone(),
    }
}

fn marks(settings: &Settings) -> PiecesByMark {
    settings.get(playing::MARKS).cloned().unwrap_or_default()
}

impl LoopDraft {
    /// The names of its parts, their doubles and its buses.
    pub(super) fn names(&self) -> Vec<String> {
        let parts = self.parts.iter().map(|part| part.name.text.clone());
        let doubles = self.parts.iter().flat_map(|part| {
            let count = all_doubles(part).len();
            (1..=count).map(|nth| double_name(&part.name.text, nth))
        });
        parts
            .chain(doubles)
            .chain(self.buses.iter().map(|bus| bus.name.text.clone()))
            .collect()
    }

    /// Silences all but `only`, where it names something, and what `without` names, beside what is silent already; a bus
    /// stands for all that goes through it.
    pub(super) fn silence(&mut self, only: &[String], without: &[String]) {
        let chains: Vec<Vec<String>> = self.parts.iter().map(|part| self.chain(part)).collect();
        let named = |names: &[String], chain: &[String]| names.iter().any(|name| chain.contains(name));
        for (part, chain) in self.parts.iter_mut().zip(&chains) {
            let silent = |chain: &[String]| named(without, chain) || !(only.is_empty() || named(only, chain));
            let voices = (1..=all_doubles(part).len()).map(|nth| {
                let own = vec![double_name(&part.name.text, nth)];
                silent(&[own, chain.clone()].concat())
            });
            let before = part.silenced_doubles.iter().copied().chain(std::iter::repeat(false));
            let doubles = before.zip(voices).map(|(before, silent)| before || silent).collect();
            part.silenced |= silent(chain);
            part.silenced_doubles = doubles;
        }
        for bus in &mut self.buses {
            bus.silenced |= without.contains(&bus.name.text);
        }
    }

    /// A part's name and those of the buses that it goes through.
    fn chain(&self, part: &PartDraft) -> Vec<String> {
        let mut chain = vec![part.name.text.clone()];
        let bus = |settings: &Settings| {
            let name = settings.get(part::BUS)?;
            self.buses.iter().find(|bus| bus.name.text == name.text)
        };
        let mut next = bus(&part.settings);
        // A circle of buses is a problem by now, but must not keep this from coming to an end.
        while let Some(through) = next.filter(|through| !chain.contains(&through.name.text)) {
            chain.push(through.name.text.clone());
            next = bus(&through.settings);
        }
        chain
    }
}

/// Checks the names that `--only` and `--without` give.
pub(super) fn known_names(names: &[String], changes: &Changes, problems: &mut Vec<Problem>) {
    for (option, asked) in [("--only", &changes.only), ("--without", &changes.without)] {
        for name in asked.iter().filter(|name| !names.contains(name)) {
            let place = Place {
                source: Source::new(option, name.as_str()),
                span: 0..name.len(),
            };
            let problem = Problem::at(&place, format!("there is no part or bus called `{name}`"));
            problems.push(match nearest(name, names.iter().map(String::as_str)) {
                Some(near) => problem.help(did_you_mean(near)),
                None => problem.help(format!("there are {}", names.join(", "))),
            });
        }
    }
}
