//! A loop file's tables, put in their places and their names checked.

use std::collections::BTreeMap;

use super::Words;
use super::tab;
use crate::loopfile::limits::{LONGEST_NAME, MOST_BUSES, MOST_MIXES, MOST_PARTS, MOST_SPACES, MOST_SWEEPS};
use crate::schema;
use crate::schema::{AccentLine, Pattern, Setting, Settings, Table, bus, loop_file, mix, part};
use crate::text::{Place, Problem};

/// Names that stand for tables, and so for no part or bus.
const RESERVED: [&str; 10] = [
    loop_file::LOOP.name,
    loop_file::FEEL.name,
    loop_file::TAB.name,
    loop_file::CHORDS.name,
    loop_file::ACCENTS.name,
    loop_file::ROOM.name,
    loop_file::ROOMS.name,
    loop_file::DELAY.name,
    loop_file::DELAYS.name,
    loop_file::MASTER.name,
];

/// A loop file as it is written: checked values, still by key.
#[derive(Debug, Clone)]
pub(crate) struct LoopTables {
    pub song: Settings,
    pub feel: Settings,
    /// The chord chart's lines.
    pub chords: Vec<Pattern>,
    pub parts: Vec<PartTable>,
    pub buses: Vec<(Words, Settings)>,
    /// The first is `room`, the second `delay`.
    pub spaces: Vec<SpaceTable>,
    pub master: Settings,
    pub mixes: Vec<(Words, Settings)>,
    pub sweeps: Vec<Settings>,
    pub accents: Vec<AccentLine>,
}

/// A part with the lines that say what it plays.
#[derive(Debug, Clone)]
pub(crate) struct PartTable {
    pub name: Words,
    pub settings: Settings,
    pub lines: Vec<Pattern>,
}

/// Puts a loop file's tables in their places. `file` is what was read of [`Table::LoopFile`].
pub(crate) fn collect(mut file: Settings, problems: &mut Vec<Problem>) -> LoopTables {
    let beginning = file.place.clone();
    let mut table = |setting: Setting<Settings>, of: Table| {
        file.take(setting)
            .unwrap_or_else(|| Settings::empty(of, beginning.clone()))
    };
    let song = table(loop_file::LOOP, Table::Loop);
    let feel = table(loop_file::FEEL, Table::Feel);
    let master = table(loop_file::MASTER, Table::Master);
    let mut spaces = Vec::new();
    for (setting, of) in [(loop_file::ROOM, Table::Room), (loop_file::DELAY, Table::Delay)] {
        let described = file.get(setting).is_some();
        let settings = file
            .take(setting)
            .unwrap_or_else(|| Settings::empty(of, beginning.clone()));
        spaces.push(SpaceTable {
            name: Words::unwritten(setting.name, &settings.place),
            settings,
            described,
        });
    }
    for setting in [loop_file::ROOMS, loop_file::DELAYS] {
        let tables = file.take(setting).unwrap_or_default();
        spaces.extend(tables.into_iter().map(|(name, settings)| SpaceTable {
            name,
            settings,
            described: true,
        }));
    }
    let tab = file.take(loop_file::TAB).unwrap_or_default();
    let chords = file.take(loop_file::CHORDS).unwrap_or_default();
    if let Some(first) = spaces.get(MOST_SPACES) {
        problems.push(too_many(
            &first.name.whole(),
            spaces.len(),
            "rooms and delays",
            MOST_SPACES,
        ));
        spaces.truncate(MOST_SPACES);
    }
    let tables = named(file.take(loop_file::PART), part::NAME, ("parts", MOST_PARTS), problems);
    let mut parts = parts(tables, &tab, problems);
    if let Some(first) = parts.get(MOST_PARTS) {
        problems.push(too_many(&first.name.whole(), parts.len(), "parts", MOST_PARTS));
        parts.truncate(MOST_PARTS);
    }
    let buses = named(file.take(loop_file::BUS), bus::NAME, ("buses", MOST_BUSES), problems);
    let mixes = named(file.take(loop_file::MIX), mix::NAME, ("mixes", MOST_MIXES), problems);
    let mut sweeps = file.take(loop_file::SWEEP).unwrap_or_default();
    few(&mut sweeps, "sweeps", MOST_SWEEPS, problems);
    let accents = file.take(loop_file::ACCENTS).unwrap_or_default();
    let written = LoopTables {
        song,
        feel,
        chords,
        parts,
        buses,
        spaces,
        master,
        mixes,
        sweeps,
        accents,
    };
    names(&written, problems);
    written
}

/// The tables of a list that have a name. What one without lacks is reported here, since nothing can refer to it later.
fn named(
    tables: Option<Vec<Settings>>,
    name: Setting<Words>,
    (kind, most): (&str, usize),
    problems: &mut Vec<Problem>,
) -> Vec<(Words, Settings)> {
    let mut tables = tables.unwrap_or_default();
    few(&mut tables, kind, most, problems);
    let mut named = Vec::new();
    for settings in tables {
        match settings.get(name) {
            Some(name) => named.push((name.clone(), settings)),
            None => schema::complete(&settings, problems),
        }
    }
    named
}

/// Parts with their lines, in the order in which the file first names them.
fn parts(tables: Vec<(Words, Settings)>, tab: &[Pattern], problems: &mut Vec<Problem>) -> Vec<PartTable> {
    let mut tabbed: BTreeMap<String, (Words, Vec<Pattern>)> = BTreeMap::new();
    for block in tab {
        for (name, mut line) in block
            .texts()
            .iter()
            .flat_map(|text| tab::tab(text, &block.bars, problems))
        {
            line.swell = block.swell;
            let known = tabbed.entry(name.text.clone()).or_insert_with(|| (name, Vec::new()));
            known.1.push(line);
        }
    }
    let mut parts: Vec<PartTable> = Vec::new();
    for (name, settings) in tables {
        let own = settings.placed(part::HITS);
        let mut lines = settings.get(part::HITS).cloned().unwrap_or_default();
        let midi = settings.placed(part::MIDI);
        let mut first = name.clone();
        if let Some((tab_name, tab_lines)) = tabbed.remove(&name.text) {
            if let Some(own) = own {
                let what = format!("`{}` has hits in `[tab]` and of its own", name.text);
                problems.push(Problem::at(&own.name, what).help("keep them in one of the two places"));
            } else {
                lines = tab_lines;
            }
            if tab_name.start < first.start {
                first = tab_name;
            }
        }
        if let Some(midi) = midi.filter(|_| !lines.is_empty()) {
            let what = format!("`{}` has hits and a performance besides", name.text);
            problems.push(Problem::at(&midi.name, what).help("keep its hits or its `midi`"));
        }
        parts.push(PartTable {
            name: first,
            settings,
            lines,
        });
    }
    for (_, (name, lines)) in tabbed {
        let settings = Settings::empty(Table::Part, name.whole());
        parts.push(PartTable { name, settings, lines });
    }
    parts.sort_by_key(|part| part.name.start);
    parts
}

fn names(written: &LoopTables, problems: &mut Vec<Problem>) {
    let parts = written
        .parts
        .iter()
        .map(|part| ("part", part.settings.get(part::NAME).unwrap_or(&part.name)));
    let buses = written.buses.iter().map(|(name, _)| ("bus", name));
    let mut known: BTreeMap<&str, &str> = BTreeMap::new();
    for (kind, name) in parts.chain(buses) {
        spelling(kind, name, problems);
        if RESERVED.contains(&name.text.as_str()) {
            let what = format!("a {kind} can't be called `{}`, which is the name of a table", name.text);
            problems.push(Problem::at(&name.whole(), what).help("choose another name"));
        }
        if let Some(other) = known.insert(&name.text, kind) {
            let what = format!("there is a {other} called `{}` already", name.text);
            problems.push(
                Problem::at(&name.whole(), what).help("parts and buses share one set of names; give each its own"),
            );
        }
    }
    let mut known = Vec::new();
    for space in &written.spaces {
        let kind = if space.settings.table == Table::Room {
            "room"
        } else {
            "delay"
        };
        if known.len() >= 2 {
            spelling(kind, &space.name, problems);
        }
        if known.contains(&space.name.text.as_str()) {
            let what = format!("there is a room or delay called `{}` already", space.name.text);
            problems.push(Problem::at(&space.name.whole(), what).help("choose another name"));
        }
        known.push(&space.name.text);
    }
    let mut known = Vec::new();
    for (name, _) in &written.mixes {
        if known.contains(&name.text.as_str()) {
            problems.push(
                Problem::at(
                    &name.whole(),
                    format!("there is a mix called \"{}\" already", name.text),
                )
                .help("choose another name"),
            );
        }
        known.push(&name.text);
    }
}

/// Names become words of addresses (`snare.gain`), of lists (`kick,snare`) and of files.
fn spelling(kind: &str, name: &Words, problems: &mut Vec<Problem>) {
    let text = &name.text;
    let wrong = text
        .chars()
        .find(|letter| letter.is_control() || ".,=/\\:*?\"<>|".contains(*letter));
    let what = match wrong {
        Some(letter) => format!("the name of a {kind} can't hold {letter:?}"),
        None if text.trim() != text => format!("the name of a {kind} can't begin or end with a space"),
        None if text.chars().count() > LONGEST_NAME => {
            format!("the name of a {kind} can have {LONGEST_NAME} letters at most")
        }
        None => return,
    };
    problems.push(
        Problem::at(&name.whole(), what)
            .help("names become parts of addresses and of file names; letters, digits and - always do"),
    );
}

/// Takes no more of some tables than there may be; what is past them is a problem and is not looked at.
pub(crate) fn few(tables: &mut Vec<Settings>, kind: &str, most: usize, problems: &mut Vec<Problem>) {
    if let Some(first) = tables.get(most) {
        let place = first.get(part::NAME).map_or_else(|| first.place.clone(), Words::whole);
        problems.push(too_many(&place, tables.len(), kind, most));
        tables.truncate(most);
    }
}

/// The problem of more of something than there may be.
pub(crate) fn too_many(place: &Place, count: usize, kind: &str, most: usize) -> Problem {
    Problem::at(place, format!("these are {count} {kind}; {most} are the most"))
}

/// A room or delay; `described` is true where the file speaks of it.
#[derive(Debug, Clone)]
pub(crate) struct SpaceTable {
    pub name: Words,
    pub settings: Settings,
    pub described: bool,
}
