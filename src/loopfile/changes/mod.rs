//! Changes to a loop's settings by the address of a setting: what `--set` and a `[[mix]]` say.
//!
//! - In: addresses such as `snare.room` or `bass.degrees.4`, each with a value of TOML or a bare text.
//! - Out: the tables of the file as they are after the change, or a problem that points at the address or the value.
//! - It knows nothing of what a setting means: every value is checked as if it stood in the file.

pub(crate) mod bars;
pub(crate) mod within;

use std::ops::Range;
use std::sync::Arc;

use super::written::tables;
use super::written::tables::LoopTables;
use super::{Words, unresolved};

use crate::schema;
use crate::schema::{
    Kind, Node, Pattern, PlacedValue, Setting, Settings, Table, TomlValue, Value, loop_file, mix, part,
};
use crate::text::{Place, Problem, Source, did_you_mean, nearest};

/// A value that was given for an address.
pub(super) struct Edit {
    address: Words,
    given: NewValue,
}

enum NewValue {
    /// A value of TOML.
    Node(Node),
    /// A stretch of text that is a value of TOML or, where it is none, a text without its quotes.
    Bare(Arc<Source>, Range<usize>),
}

/// The changes of a command line.
pub(super) fn from_command_line(set: &[unresolved::Given]) -> Vec<Edit> {
    let edit = |given: &unresolved::Given| {
        let (source, span) = (given.source.clone(), given.key.clone());
        Edit {
            address: Words::unwritten(&given.source.text[span.clone()], &Place { source, span }),
            given: NewValue::Bare(given.source.clone(), given.value.clone()),
        }
    };
    set.iter().map(edit).collect()
}

/// The changes of a mix: `"drums.compress.ratio" = 4`, or the same with bare words between dots.
pub(super) fn from_mix(mix: &Settings) -> Vec<Edit> {
    let mut edits = Vec::new();
    if let Some(node) = mix.get(mix::SET) {
        flatten(None, node, &mut edits);
    }
    edits
}

fn flatten(before: Option<&Words>, node: &Node, edits: &mut Vec<Edit>) {
    let TomlValue::Table(entries) = &node.what else { return };
    for entry in entries {
        let address = match before {
            Some(before) => Words {
                text: format!("{}.{}", before.text, entry.key.text),
                plain: false,
                ..entry.key.clone()
            },
            None => entry.key.clone(),
        };
        // A table in braces is a value, unless it stands where a table of the file does; one made by dots leads on.
        let braces = entry.value.place.source.text[entry.value.place.span.clone()].starts_with('{');
        match &entry.value.what {
            TomlValue::Table(_) if !braces || !address.text.contains('.') => {
                flatten(Some(&address), &entry.value, edits)
            }
            _ => edits.push(Edit {
                address,
                given: NewValue::Node(entry.value.clone()),
            }),
        }
    }
}

impl Edit {
    /// The names that the address strings together.
    pub(super) fn names(&self) -> Vec<&str> {
        self.address
            .text
            .split('.')
            .map(|name| name.trim().trim_matches('"'))
            .collect()
    }

    /// The address, its names strung together by dots alone.
    pub(super) fn address(&self) -> String {
        self.names().join(".")
    }

    /// Where the address stands.
    pub(super) fn place(&self) -> Place {
        if self.address.plain {
            self.address.whole()
        } else {
            self.address.place(0..0)
        }
    }

    /// A value that stands where the address does.
    pub(super) fn placed(&self, value: Value) -> PlacedValue {
        let (name, place) = (self.place(), self.place());
        PlacedValue { value, name, place }
    }

    /// The bars that a name of the address stands for, as if they were written in the file.
    pub(super) fn bars(&self, name: &str) -> Words {
        Words::unwritten(name, &self.place())
    }

    /// The value that was given for a key.
    pub(super) fn node(&self, setting: &Setting) -> Node {
        let (source, within) = match &self.given {
            NewValue::Node(node) => return node.clone(),
            NewValue::Bare(source, within) => (source, within),
        };
        let bare = setting.kind.is_text()
            || matches!(
                setting.kind,
                Kind::Hits | Kind::Bars(_) | Kind::Phrase(..) | Kind::Paths
            );
        let parsed = schema::parse_value(source, within.clone());
        let keeps =
            |node: &Node| !bare || matches!(node.what, TomlValue::Text(_) | TomlValue::List(_) | TomlValue::Table(_));
        parsed.filter(keeps).unwrap_or_else(|| {
            let text = source.text[within.clone()].to_string();
            let words = Words {
                text,
                source: source.clone(),
                start: within.start,
                literal: within.clone(),
                plain: true,
            };
            Node {
                place: words.whole(),
                what: TomlValue::Text(words),
            }
        })
    }
}

/// The change of a key that stands as text at a place, to a number that stands at another.
pub(super) fn to_number(address: Words, number: &Place) -> Edit {
    Edit {
        address,
        given: NewValue::Bare(number.source.clone(), number.span.clone()),
    }
}

/// The table that an address leads into, as it is after a change, with the table's name; none where the change is wrong.
pub(super) fn changed(written: &LoopTables, edit: &Edit, problems: &mut Vec<Problem>) -> Option<(String, Settings)> {
    let before = problems.len();
    let mut copy = written.clone();
    apply(&mut copy, edit, problems);
    if problems.len() > before {
        return None;
    }
    let names = edit.names();
    let (spot, rest) = spot(&mut copy, &names)?;
    let whose = names[names.len() - rest.len() - 1].to_string();
    let settings = match spot {
        Spot::Table(settings) => settings.clone(),
        Spot::Part(part) => part.settings.clone(),
        Spot::Chart(_) => return None,
    };
    Some((whose, settings))
}

/// A form's master as it is after a change, with its name; none where the change is wrong or is none of the master's.
pub(super) fn changed_master(
    master: &Settings,
    edit: &Edit,
    problems: &mut Vec<Problem>,
) -> Option<(String, Settings)> {
    let names = edit.names();
    let Some((_, rest)) = names
        .split_first()
        .filter(|(first, _)| **first == loop_file::MASTER.name)
    else {
        let what = format!(
            "a form's sweeps move its master; `{}` is none of its keys",
            edit.address.text
        );
        problems.push(
            Problem::at(&edit.place(), what).help("sweep a key such as master.gain, or write this sweep in a loop"),
        );
        return None;
    };
    let before = problems.len();
    let mut copy = master.clone();
    match rest {
        [] => problems.push(
            Problem::at(&edit.place(), "`master` is a table, not a key").help("write a key of it, such as master.gain"),
        ),
        _ => change(&mut copy, rest, edit, problems),
    }
    (problems.len() == before).then(|| (loop_file::MASTER.name.to_string(), copy))
}

/// True where an address leads to a table of this loop; the key itself may still be wrong.
pub(super) fn knows(written: &LoopTables, edit: &Edit) -> bool {
    let names = edit.names();
    spot(&mut written.clone(), &names).is_some_and(|(spot, rest)| !rest.is_empty() || matches!(spot, Spot::Chart(_)))
}

/// Makes a change, or says why not.
pub(super) fn apply(written: &mut LoopTables, edit: &Edit, problems: &mut Vec<Problem>) {
    let names = edit.names();
    match spot(written, &names) {
        Some((Spot::Chart(lines), rest)) if rest.len() < 2 => {
            bars::lines(lines, &loop_file::CHORDS.any(), rest, edit, problems);
        }
        Some((Spot::Table(settings), rest)) if !rest.is_empty() => change(settings, rest, edit, problems),
        Some((Spot::Part(part), rest)) if !rest.is_empty() => {
            let (tabbed, before) = (part.settings.placed(part::HITS).is_none(), part.lines.clone());
            change(&mut part.settings, rest, edit, problems);
            if rest[0] == part::HITS.name {
                part.lines = part.settings.get(part::HITS).cloned().unwrap_or_default();
                // What a part has in `[tab]` goes on where only some bars are changed.
                if tabbed && rest.len() > 1 {
                    part.lines.splice(0..0, before);
                }
            }
        }
        _ => problems.push(unknown(written, &names, edit)),
    }
}

enum Spot<'a> {
    Table(&'a mut Settings),
    Part(&'a mut tables::PartTable),
    Chart(&'a mut Vec<Pattern>),
}

/// The table that an address begins with, and the names that lead on from it.
fn spot<'a, 'n>(written: &'a mut LoopTables, names: &'n [&'n str]) -> Option<(Spot<'a>, &'n [&'n str])> {
    let (first, rest) = names.split_first()?;
    let table = match *first {
        name if name == loop_file::LOOP.name => &mut written.song,
        name if name == loop_file::FEEL.name => &mut written.feel,
        name if name == loop_file::MASTER.name => &mut written.master,
        name if name == loop_file::CHORDS.name => return Some((Spot::Chart(&mut written.chords), rest)),
        name if [loop_file::ROOMS.name, loop_file::DELAYS.name].contains(&name) => {
            let (name, rest) = rest.split_first()?;
            let rooms = *first == loop_file::ROOMS.name;
            let space = written.spaces[2..]
                .iter_mut()
                .find(|space| space.name.text == *name && (space.settings.table == Table::Room) == rooms)?;
            return Some((Spot::Table(&mut space.settings), rest));
        }
        name => {
            if let Some(part) = written.parts.iter_mut().find(|part| part.name.text == name) {
                return Some((Spot::Part(part), rest));
            }
            let bus = written
                .buses
                .iter_mut()
                .find(|(bus, _)| bus.text == name)
                .map(|(_, settings)| settings);
            match bus {
                Some(settings) => settings,
                None => {
                    &mut written
                        .spaces
                        .iter_mut()
                        .find(|space| space.name.text == name)?
                        .settings
                }
            }
        }
    };
    Some((Spot::Table(table), rest))
}

/// A name of this very file for an address to begin with.
pub(super) fn example(written: &LoopTables) -> &str {
    written
        .parts
        .first()
        .map_or(loop_file::MASTER.name, |part| part.name.text.as_str())
}

fn unknown(written: &LoopTables, names: &[&str], edit: &Edit) -> Problem {
    let first = names.first().copied().unwrap_or("");
    let mut known: Vec<&str> = vec![
        loop_file::LOOP.name,
        loop_file::FEEL.name,
        loop_file::CHORDS.name,
        loop_file::MASTER.name,
        loop_file::ROOM.name,
        loop_file::DELAY.name,
    ];
    known.extend(written.parts.iter().map(|part| part.name.text.as_str()));
    known.extend(written.buses.iter().map(|(name, _)| name.text.as_str()));
    known.extend(written.spaces[2..].iter().map(|space| space.name.text.as_str()));
    if let Some((what, help)) = bars::other_ways(first, example(written)) {
        return Problem::at(&edit.place(), what).help(help);
    }
    if names.len() < 2 {
        let what = format!("there is no key `{}`", edit.address.text);
        let whose = [(Table::Loop, loop_file::LOOP), (Table::Feel, loop_file::FEEL)]
            .into_iter()
            .find(|(table, _)| table.setting(first).is_some());
        return Problem::at(&edit.place(), what).help(match whose {
            Some((_, table)) => format!("write `{table}.{first}`"),
            None => format!(
                "write the name of a part, bus or table and that of a key, such as {}.gain or room.decay",
                example(written)
            ),
        });
    }
    let problem = Problem::at(
        &edit.place(),
        format!("there is no part, bus or table called `{first}`"),
    );
    match nearest(first, known.iter().copied()) {
        Some(near) => problem.help(did_you_mean(format!("{near}.{}", names[1..].join(".")))),
        None => problem.help(format!("there are {}", known.join(", "))),
    }
}

/// Follows names into a table and sets what they lead to.
pub(super) fn change(settings: &mut Settings, names: &[&str], edit: &Edit, problems: &mut Vec<Problem>) {
    let Some((first, rest)) = names.split_first() else {
        return;
    };
    let Some(setting) = settings.table.setting(first) else {
        problems.push(schema::unknown(settings.table, first, &edit.place()));
        return;
    };
    if setting.name == part::NAME.name {
        problems.push(Problem::at(&edit.place(), "a name can't be changed").help("change it in the file itself"));
        return;
    }
    if rest.is_empty() {
        let node = edit.node(setting);
        if let Some(mut value) = schema::read_setting(setting, &edit.place(), &node, problems) {
            if let (Kind::TableOr(..), TomlValue::Number(_) | TomlValue::Whole(_)) = (&setting.kind, &node.what) {
                value = laid_over(value, settings.take_placed(*setting));
            }
            let (name, place) = (edit.place(), node.place);
            settings.set(*setting, PlacedValue { value, name, place });
        }
        return;
    }
    match (&setting.kind, rest) {
        (Kind::Table(table) | Kind::TableOr(table, _), _) => {
            let mut inner = match settings.take_placed(*setting).map(|placed| placed.value) {
                Some(Value::Table(inner)) => inner,
                _ => Settings::empty(*table, edit.place()),
            };
            change(&mut inner, rest, edit, problems);
            settings.set(*setting, edit.placed(Value::Table(inner)));
        }
        (Kind::Tables(_), [number, rest @ ..]) if !rest.is_empty() => {
            within::one_of(settings, setting, number, rest, edit, problems)
        }
        (Kind::Levels, [name]) => within::level(settings, setting, name, edit, problems),
        (Kind::Bars(_) | Kind::Phrase(..) | Kind::Hits, [_]) => bars::lines_of(settings, setting, rest, edit, problems),
        (Kind::Named(table), [bars, rest @ ..]) => bars::named(settings, (setting, *table), bars, rest, edit, problems),
        _ => {
            let what = format!("`{}` has no keys of its own", setting.name);
            problems.push(Problem::at(&edit.place(), what).help(format!("set it whole: it is {}", setting.describe())));
        }
    }
}

/// A bare number for a setting that is written as a table: that table's main value changes, and the rest of it stays.
fn laid_over(number: Value, written: Option<PlacedValue>) -> Value {
    match (number, written.map(|placed| placed.value)) {
        (Value::Table(number), Some(Value::Table(mut written))) => {
            written.overlay(number);
            Value::Table(written)
        }
        (number, _) => number,
    }
}
