//! A loop file's tables, put in their places and their names checked.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use super::tab;
use super::{Words, WrittenBars, WrittenPlay};
use crate::loopfile::limits::{LONGEST_NAME, MOST_BUSES, MOST_MIXES, MOST_PARTS, MOST_SPACES, MOST_SWEEPS};
use crate::schema;
use crate::schema::{Line, Settings, Table, Value};
use crate::text::{Place, Problem, Source};

/// Names that stand for tables, and so for no part or bus.
const RESERVED: [&str; 10] = [
    "loop", "feel", "tab", "chords", "accents", "room", "rooms", "delay", "delays", "master",
];

/// A loop file as it is written: checked values, still by key.
#[derive(Debug, Clone)]
pub(crate) struct Written {
    pub song: Settings,
    pub feel: Settings,
    /// The chord chart's lines.
    pub chords: Vec<Line>,
    pub parts: Vec<Lines>,
    pub buses: Vec<(Words, Settings)>,
    /// The first is `room`, the second `delay`.
    pub spaces: Vec<SpaceDraft>,
    pub master: Settings,
    pub mixes: Vec<(Words, Settings)>,
    pub sweeps: Vec<Settings>,
    pub accents: Vec<Accent>,
}

/// Where the band plays accents.
#[derive(Debug, Clone)]
pub(crate) struct Accent {
    pub line: WrittenBars,
    /// The parts that play them; all where none.
    pub parts: Option<Vec<Words>>,
}

/// A part with the lines that say what it plays.
#[derive(Debug, Clone)]
pub(crate) struct Lines {
    pub name: Words,
    pub settings: Settings,
    pub lines: Vec<WrittenBars>,
}

/// A name that no text has.
pub(crate) fn unwritten(source: &Arc<Source>, text: &str, at: Range<usize>) -> Words {
    Words {
        text: text.into(),
        source: source.clone(),
        start: at.start,
        literal: at,
        plain: false,
    }
}

/// Where some words stand.
pub(crate) fn whole(words: &Words) -> Place {
    words.place(0..words.text.len())
}

/// Puts a loop file's tables in their places. `file` is what was read of [`Table::LoopFile`].
pub(crate) fn gather(source: &Arc<Source>, mut file: Settings, problems: &mut Vec<Problem>) -> Written {
    let beginning = file.place.clone();
    let mut table = |name: &str, of: Table| match file.take(name).map(|setting| setting.value) {
        Some(Value::Table(settings)) => (settings, true),
        _ => (Settings::empty(of, beginning.clone()), false),
    };
    let (song, _) = table("loop", Table::Loop);
    let (feel, _) = table("feel", Table::Feel);
    let (master, _) = table("master", Table::Master);
    let mut spaces = Vec::new();
    for (name, of) in [("room", Table::Room), ("delay", Table::Delay)] {
        let (settings, described) = table(name, of);
        spaces.push(SpaceDraft {
            name: unwritten(source, name, settings.place.span.clone()),
            settings,
            described,
        });
    }
    for name in ["rooms", "delays"] {
        if let Some(Value::Named(tables)) = file.take(name).map(|setting| setting.value) {
            spaces.extend(tables.into_iter().map(|(name, settings)| SpaceDraft {
                name,
                settings,
                described: true,
            }));
        }
    }
    let tab = match file.take("tab").map(|setting| setting.value) {
        Some(Value::Lines(lines)) => lines,
        _ => Vec::new(),
    };
    let chords = match file.take("chords").map(|setting| setting.value) {
        Some(Value::Lines(lines)) => lines,
        _ => Vec::new(),
    };
    if let Some(first) = spaces.get(MOST_SPACES) {
        problems.push(too_many(
            &whole(&first.name),
            spaces.len(),
            "rooms and delays",
            MOST_SPACES,
        ));
        spaces.truncate(MOST_SPACES);
    }
    let tables = named(&mut file, "part", MOST_PARTS, problems);
    let mut parts = parts(tables, &tab, problems);
    if let Some(first) = parts.get(MOST_PARTS) {
        problems.push(too_many(&whole(&first.name), parts.len(), "parts", MOST_PARTS));
        parts.truncate(MOST_PARTS);
    }
    let buses = named(&mut file, "bus", MOST_BUSES, problems);
    let mixes = named(&mut file, "mix", MOST_MIXES, problems);
    let mut sweeps = match file.take("sweep").map(|setting| setting.value) {
        Some(Value::Tables(sweeps)) => sweeps,
        _ => Vec::new(),
    };
    few(&mut sweeps, "sweeps", MOST_SWEEPS, problems);
    let accents = match file.take("accents").map(|setting| setting.value) {
        Some(Value::Accents(accents)) => accents,
        _ => Vec::new(),
    };
    let accents = accents.into_iter().map(|(line, parts)| Accent {
        line: written_bars(&line),
        parts,
    });
    let accents = accents.collect();
    let written = Written {
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

/// The tables of a list that have a name. What one without lacks is told here, since nothing can refer to it later.
fn named(file: &mut Settings, name: &str, most: usize, problems: &mut Vec<Problem>) -> Vec<(Words, Settings)> {
    let Some(Value::Tables(mut tables)) = file.take(name).map(|setting| setting.value) else {
        return Vec::new();
    };
    let kind = match name {
        "bus" => "buses",
        "mix" => "mixes",
        _ => "parts",
    };
    few(&mut tables, kind, most, problems);
    let mut named = Vec::new();
    for settings in tables {
        match settings.text("name") {
            Some(name) => named.push((name.clone(), settings)),
            None => schema::complete(&settings, problems),
        }
    }
    named
}

/// Parts with their lines, in the order in which the file first names them.
fn parts(tables: Vec<(Words, Settings)>, tab: &[Line], problems: &mut Vec<Problem>) -> Vec<Lines> {
    let mut tabbed: BTreeMap<String, (Words, Vec<WrittenBars>)> = BTreeMap::new();
    for Line { bars, play, swell, .. } in tab {
        for (name, mut line) in play.iter().flat_map(|block| tab::tab(block, bars, problems)) {
            line.swell = *swell;
            let known = tabbed.entry(name.text.clone()).or_insert_with(|| (name, Vec::new()));
            known.1.push(line);
        }
    }
    let mut parts: Vec<Lines> = Vec::new();
    for (name, settings) in tables {
        let own = settings.get("hits");
        let mut lines = own.map(|setting| lines(&setting.value)).unwrap_or_default();
        let midi = settings.get("midi");
        let mut first = name.clone();
        if let Some((tab_name, tab_lines)) = tabbed.remove(&name.text) {
            if let Some(own) = own {
                let what = format!("`{}` has hits in `[tab]` and of its own", name.text);
                problems.push(Problem::at(&own.key, what).help("keep them in one of the two places"));
            } else {
                lines = tab_lines;
            }
            if tab_name.start < first.start {
                first = tab_name;
            }
        }
        if let Some(midi) = midi.filter(|_| !lines.is_empty()) {
            let what = format!("`{}` has hits and a performance besides", name.text);
            problems.push(Problem::at(&midi.key, what).help("keep its hits or its `midi`"));
        }
        parts.push(Lines {
            name: first,
            settings,
            lines,
        });
    }
    for (_, (name, lines)) in tabbed {
        let settings = Settings::empty(Table::Part, whole(&name));
        parts.push(Lines { name, settings, lines });
    }
    parts.sort_by_key(|part| part.name.start);
    parts
}

/// Lines of hits as the reader of hits takes them.
pub(crate) fn lines(value: &Value) -> Vec<WrittenBars> {
    let Value::Lines(lines) = value else { return Vec::new() };
    lines.iter().map(written_bars).collect()
}

fn written_bars(line: &Line) -> WrittenBars {
    let play = match line.play.first() {
        Some(words) if !line.counted => WrittenPlay::Line(words.clone()),
        _ => WrittenPlay::Counted(line.play.clone()),
    };
    WrittenBars {
        bars: line.bars.clone(),
        play,
        swell: line.swell,
    }
}

fn names(written: &Written, problems: &mut Vec<Problem>) {
    let parts = written
        .parts
        .iter()
        .map(|part| ("part", part.settings.text("name").unwrap_or(&part.name)));
    let buses = written.buses.iter().map(|(name, _)| ("bus", name));
    let mut known: BTreeMap<&str, &str> = BTreeMap::new();
    for (kind, name) in parts.chain(buses) {
        spelling(kind, name, problems);
        if RESERVED.contains(&name.text.as_str()) {
            let what = format!("a {kind} can't be called `{}`, which is the name of a table", name.text);
            problems.push(Problem::at(&whole(name), what).help("choose another name"));
        }
        if let Some(other) = known.insert(&name.text, kind) {
            let what = format!("there is a {other} called `{}` already", name.text);
            problems.push(
                Problem::at(&whole(name), what).help("parts and buses share one set of names; give each its own"),
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
            problems.push(Problem::at(&whole(&space.name), what).help("choose another name"));
        }
        known.push(&space.name.text);
    }
    let mut known = Vec::new();
    for (name, _) in &written.mixes {
        if known.contains(&name.text.as_str()) {
            problems.push(
                Problem::at(&whole(name), format!("there is a mix called \"{}\" already", name.text))
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
        Problem::at(&whole(name), what)
            .help("names become parts of addresses and of file names; letters, digits and - always do"),
    );
}

/// Takes no more of some tables than there may be; what is past them is a problem and is not looked at.
pub(crate) fn few(tables: &mut Vec<Settings>, kind: &str, most: usize, problems: &mut Vec<Problem>) {
    if let Some(first) = tables.get(most) {
        let place = first.text("name").map_or_else(|| first.place.clone(), whole);
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
pub(crate) struct SpaceDraft {
    pub name: Words,
    pub settings: Settings,
    pub described: bool,
}
