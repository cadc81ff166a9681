//! Changes that reach into bars: `chords.3`, `bass.degrees.4`, `keys.change.4.voicing`.

use super::Edit;
use crate::loopfile::changes;
use crate::schema;
use crate::schema::{Kind, Pattern, Setting, Settings, Table, TomlValue, Value};
use crate::text::Problem;

/// Lines of bars: all of them anew, or those of some bars, laid over what they say.
pub(crate) fn lines(
    lines: &mut Vec<Pattern>,
    setting: &Setting,
    bars: &[&str],
    edit: &Edit,
    problems: &mut Vec<Problem>,
) {
    let Some(Value::Patterns(mut new)) = schema::read_setting(setting, &edit.place(), &edit.node(setting), problems)
    else {
        return;
    };
    match bars {
        [bars, ..] => {
            new.iter_mut().for_each(|line| line.bars = edit.bars(bars));
            lines.append(&mut new);
        }
        [] => *lines = new,
    }
}

/// The same in a key of a table.
pub(crate) fn lines_of(
    settings: &mut Settings,
    setting: &Setting,
    bars: &[&str],
    edit: &Edit,
    problems: &mut Vec<Problem>,
) {
    let mut own = match settings.take_placed(*setting).map(|placed| placed.value) {
        Some(Value::Patterns(lines)) => lines,
        _ => Vec::new(),
    };
    lines(&mut own, setting, bars, edit, problems);
    settings.set(*setting, edit.placed(Value::Patterns(own)));
}

/// A change within one of the tables that a key has by name, such as that of `[part.change]` for some bars: a key of it,
/// or all of it. A table that is not there yet is added, last and so over the others.
pub(crate) fn named(
    settings: &mut Settings,
    (setting, table): (&Setting, Table),
    name: &str,
    rest: &[&str],
    edit: &Edit,
    problems: &mut Vec<Problem>,
) {
    let mut tables = match settings.take_placed(*setting).map(|placed| placed.value) {
        Some(Value::Named(tables)) => tables,
        _ => Vec::new(),
    };
    let known = tables.iter().position(|(known, _)| known.text == name);
    let (words, mut inner) = match known {
        Some(known) => tables.remove(known),
        None => (edit.bars(name), Settings::empty(table, edit.place())),
    };
    let node = edit.node(setting);
    match (&node.what, rest) {
        (_, [_, ..]) => changes::change(&mut inner, rest, edit, problems),
        (TomlValue::Table(entries), []) => inner = schema::read_table(table, &node.place, entries, problems),
        _ => {
            let what = format!(
                "`{}` is {}, not {}",
                setting.name,
                setting.kind.describe(),
                node.describe()
            );
            let help = format!(
                "name one of its keys behind the bars, such as {}.{name}.voicing",
                setting.name
            );
            problems.push(Problem::at(&edit.place(), what).help(help));
        }
    }
    tables.push((words, inner));
    settings.set(*setting, edit.placed(Value::Named(tables)));
}

/// What is wrong with an address that begins with a table of the file which has no keys of its own to be set, and what to
/// write instead; `part` is one that the file has.
pub(crate) fn other_ways(first: &str, part: &str) -> Option<(String, String)> {
    let setting = Table::LoopFile.setting(first)?;
    let help = match setting.kind {
        Kind::Tables(Table::Part | Table::Bus) => {
            format!("begin with the name of the {first}, such as {part}.gain or {part}.change.4.voicing")
        }
        Kind::Bars(_) => {
            let what = format!("`{first}` has nothing but bars");
            return Some((
                what,
                format!("write the bars alone behind it, such as {first}.3 or {first}.1-4"),
            ));
        }
        Kind::Tablature => format!("set the hits of a part, all of them or some bars', such as {part}.hits.4"),
        Kind::Accents | Kind::Tables(_) => "change it in the file itself".into(),
        _ => return None,
    };
    Some((format!("`{first}` can't be set by an address"), help))
}
