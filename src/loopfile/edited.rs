//! A loop file's text with other values of some settings: only the values change, or lines are added, and all else stays to
//! the byte.
//!
//! Edits go by the tree of the text itself, whose nodes know where they stand, and not by what the settings mean. Whoever
//! writes the text makes sure that it is read as it was meant.

use std::ops::Range;
use std::sync::Arc;

use super::read::is_form;
use crate::schema::{self, Entry, Kind, Node, Setting, Table, TomlValue, form_file, loop_file, mix, part, section};
use crate::text::{Source, quoted};

/// A value for a setting: its address, as `--set` takes it, and the value as TOML writes it.
pub(crate) type NewValue = (String, String);

/// Bytes of a text, and what takes their place.
type Edit = (Range<usize>, String);

/// The text of a loop file in which some settings have other values; none where an address leads nowhere in it, or where
/// the text is so written that a line can't be added.
///
/// A value that is written changes where it stands. One that is not stands behind the name of its part or bus, else at the
/// end of its table. A table that is not there yet comes at the end of the text.
pub(crate) fn with_values(source: &Arc<Source>, values: &[NewValue]) -> Option<String> {
    let mut source = source.clone();
    for (address, value) in values {
        let names: Vec<&str> = address.split('.').map(|name| name.trim().trim_matches('"')).collect();
        let (span, new) = edit(&source, &names, value)?;
        let mut text = source.text.clone();
        text.replace_range(span, &new);
        source = Source::new(&source.path, text);
    }
    Some(source.text.clone())
}

/// The text of a loop file with one more `[[mix]]`, which sets some values.
pub(crate) fn with_mix(source: &Arc<Source>, name: &str, values: &[NewValue]) -> Option<String> {
    let entries = entries(source)?;
    let set = values
        .iter()
        .map(|(address, value)| format!("{} = {value}", quoted(address)));
    let set = format!("{{ {} }}", set.collect::<Vec<_>>().join(", "));
    let (span, new) = added(
        &source.text,
        &entries,
        loop_file::MIX.name,
        &[(mix::NAME.name, quoted(name)), (mix::SET.name, set)],
    );
    let mut text = source.text.clone();
    text.replace_range(span, &new);
    Some(text)
}

/// The entries of a whole text; none where it is not TOML.
fn entries(source: &Arc<Source>) -> Option<Vec<Entry>> {
    let mut problems = Vec::new();
    let entries = schema::parse(source, &mut problems);
    problems.is_empty().then_some(entries)
}

/// What gives one setting its value.
fn edit(source: &Arc<Source>, names: &[&str], value: &str) -> Option<Edit> {
    let (text, entries) = (&source.text, &entries(source)?);
    let (&first, rest) = names.split_first().filter(|(_, rest)| !rest.is_empty())?;
    let file = match is_form(entries) {
        true => Table::FormFile,
        false => Table::LoopFile,
    };
    if let (Table::FormFile, true) = (file, first == form_file::SECTION.name) {
        let (number, rest) = rest.split_first()?;
        let place = number.parse::<usize>().ok()?.checked_sub(1)?;
        let section = elements(found(entries, first)?).get(place)?;
        return among_changes(text, found(fields(section), section::SET.name)?, rest, value);
    }
    if let Some((node, table)) = listed(entries, first) {
        return within(text, node, table, rest, value);
    }
    let named = |spaces: &str| found(fields(found(entries, spaces)?), first);
    let space = [(loop_file::ROOMS, Table::Room), (loop_file::DELAYS, Table::Delay)]
        .into_iter()
        .find_map(|(spaces, table)| Some((named(spaces.name)?, table)));
    if let Some((node, table)) = space {
        return within(text, node, table, rest, value);
    }
    let Some(Setting { kind, .. }) = file.setting(first) else {
        // A part that `[tab]` alone names.
        return Some(added(
            text,
            entries,
            loop_file::PART.name,
            &[(part::NAME.name, quoted(first)), nested(rest, value).as_pair()],
        ));
    };
    match (kind, found(entries, first)) {
        (Kind::Table(table), Some(node)) => within(text, node, *table, rest, value),
        (Kind::Named(table), Some(spaces)) => {
            let (name, rest) = rest.split_first().filter(|(_, rest)| !rest.is_empty())?;
            within(text, found(fields(spaces), name)?, *table, rest, value)
        }
        (Kind::Table(_), None) => {
            let end = line_end(text);
            let Line { key, value } = nested(rest, value);
            let table = format!("{}{end}[{first}]{end}{key} = {value}{end}", closed(text));
            Some((text.len()..text.len(), table))
        }
        _ => None,
    }
}

/// The part or bus of a name.
fn listed<'a>(entries: &'a [Entry], name: &str) -> Option<(&'a Node, Table)> {
    let called = |node: &&Node| {
        let own = found(fields(node), part::NAME.name);
        own.is_some_and(|own| matches!(&own.what, TomlValue::Text(words) if words.text == name))
    };
    let lists = [(loop_file::PART, Table::Part), (loop_file::BUS, Table::Bus)];
    lists.into_iter().find_map(|(list, table)| {
        let node = elements(found(entries, list.name)?).iter().find(called)?;
        Some((node, table))
    })
}

/// What gives a setting its value among changes: where they name it, else behind them.
fn among_changes(text: &str, set: &Node, names: &[&str], value: &str) -> Option<Edit> {
    let address = names.join(".");
    match named(set, &address) {
        Some(there) => Some((there.place.span.clone(), value.to_string())),
        None => line(
            text,
            set,
            &Line {
                key: quoted(&address),
                value: value.to_string(),
            },
        ),
    }
}

/// What changes say of an address: by a key in quotes, by dots or by braces.
fn named<'a>(set: &'a Node, address: &str) -> Option<&'a Node> {
    fields(set).iter().find_map(|entry| {
        let rest = address.strip_prefix(entry.key.text.as_str())?;
        match rest.strip_prefix('.') {
            Some(rest) => named(&entry.value, rest),
            None => rest.is_empty().then_some(&entry.value),
        }
    })
}

fn found<'a>(entries: &'a [Entry], name: &str) -> Option<&'a Node> {
    let entry = entries.iter().find(|entry| entry.key.text == name)?;
    Some(&entry.value)
}

fn fields(node: &Node) -> &[Entry] {
    match &node.what {
        TomlValue::Table(entries) => entries,
        _ => &[],
    }
}

fn elements(node: &Node) -> &[Node] {
    match &node.what {
        TomlValue::List(nodes) => nodes,
        _ => &[],
    }
}

/// What gives a setting within a table its value.
fn within(text: &str, node: &Node, table: Table, names: &[&str], value: &str) -> Option<Edit> {
    let (first, rest) = names.split_first()?;
    let setting = table.setting(first)?;
    let Some(there) = found(fields(node), first) else {
        return line(text, node, &nested(names, value));
    };
    let span = there.place.span.clone();
    match (rest, setting.kind, &there.what) {
        ([], _, _) => Some((span, value.to_string())),
        ([number, rest @ ..], Kind::Tables(inner), TomlValue::List(nodes)) => {
            let number = number.parse::<usize>().ok()?.checked_sub(1)?;
            within(text, nodes.get(number)?, inner, rest, value)
        }
        ([name], Kind::Levels, TomlValue::Table(_)) => match found(fields(there), name) {
            Some(level) => Some((level.place.span.clone(), value.to_string())),
            None => line(text, there, &nested(rest, value)),
        },
        (_, Kind::Table(inner) | Kind::TableOr(inner, _), TomlValue::Table(_)) => {
            within(text, there, inner, rest, value)
        }
        // A number that stands for a table is its main value.
        ([name], Kind::TableOr(_, main), TomlValue::Number(_) | TomlValue::Whole(_)) => Some(match *name == main {
            true => (span, value.to_string()),
            false => {
                let table = format!("{{ {main} = {}, {name} = {value} }}", &text[span.clone()]);
                (span, table)
            }
        }),
        // What was off is on by this setting.
        (_, Kind::Table(_) | Kind::TableOr(..), TomlValue::Text(_)) => {
            let Line { key, value } = nested(rest, value);
            Some((span, format!("{{ {key} = {value} }}")))
        }
        _ => None,
    }
}

/// A key and its value.
struct Line {
    key: String,
    value: String,
}

impl Line {
    fn as_pair(&self) -> (&str, String) {
        (&self.key, self.value.clone())
    }
}

/// What is written for a setting whose tables are not there yet: `envelope.decay` is `envelope = { decay = 90 }`.
fn nested(names: &[&str], value: &str) -> Line {
    let key = |name: &&str| match name
        .bytes()
        .all(|byte| byte.is_ascii_alphanumeric() || b"-_".contains(&byte))
    {
        true if !name.is_empty() => name.to_string(),
        _ => quoted(name),
    };
    let inner = names[1..].iter().rev();
    Line {
        key: key(&names[0]),
        value: inner.fold(value.to_string(), |value, name| {
            format!("{{ {} = {value} }}", key(name))
        }),
    }
}

/// A line that a table does not have yet: behind its name where it has one, else behind what it says last.
fn line(text: &str, table: &Node, line: &Line) -> Option<Edit> {
    let own: Vec<&Entry> = fields(table).iter().filter(|entry| in_line(text, entry)).collect();
    let name = own.iter().find(|entry| entry.key.text == part::NAME.name);
    let last = name.or(own.last());
    let span = table.place.span.clone();
    let Line { key, value } = line;
    if text[span.clone()].starts_with('{') {
        return Some(match last {
            Some(last) => {
                let end = last.value.place.span.end;
                (end..end, format!(", {key} = {value}"))
            }
            None => (span, format!("{{ {key} = {value} }}")),
        });
    }
    let (after, new) = match last {
        // A line that begins as that one does, with its sign in the same column.
        Some(last) => {
            let (name, end) = (&last.key.literal, last.value.place.span.end);
            let begins = text[..name.start].rfind('\n').map_or(0, |at| at + 1);
            let indent = &text[begins..name.start];
            let sign = &text[name.end..last.value.place.span.start];
            let room = sign.find('=').unwrap_or(0);
            let least = usize::from(room > 0);
            let room = (name.len() + room).saturating_sub(key.len()).max(least);
            // What leads to a key by dots leads to this one too; what does through braces is not for lines.
            if indent.contains(['=', '{', ',']) {
                return None;
            }
            match text[name.clone()].starts_with(['"', '\'']) {
                true => (end, format!("{indent}{key} = {value}")),
                false => (
                    end,
                    format!(
                        "{indent}{key}{:room$}{}{value}",
                        "",
                        sign.trim_start_matches([' ', '\t'])
                    ),
                ),
            }
        }
        None if text[span.clone()].starts_with('[') => (span.end, format!("{key} = {value}")),
        None => return None,
    };
    Some(match text[after..].find('\n') {
        Some(at) => (after + at + 1..after + at + 1, new + line_end(text)),
        None => (text.len()..text.len(), line_end(text).to_string() + &new),
    })
}

/// True for a key that stands with its value on a line, or between braces: not for one of a header or of dots.
fn in_line(text: &str, entry: &Entry) -> bool {
    let (key, value) = (&entry.key.literal, &entry.value.place.span);
    key.end <= value.start && text[key.end..value.start].trim() == "="
}

/// A table that a list of the file does not have yet: in the list where that stands in brackets, else at the end of the text.
fn added(text: &str, entries: &[Entry], list: &str, lines: &[(&str, String)]) -> Edit {
    let end = line_end(text);
    let tables = found(entries, list).map(elements).unwrap_or_default();
    let braced = tables.iter().map(|node| node.place.span.clone());
    if let Some(last) = braced
        .filter(|span| text[span.clone()].starts_with('{'))
        .map(|span| span.end)
        .max()
    {
        let pairs: Vec<String> = lines.iter().map(|(key, value)| format!("{key} = {value}")).collect();
        return (last..last, format!(", {{ {} }}", pairs.join(", ")));
    }
    let lines: String = lines
        .iter()
        .map(|(key, value)| format!("{key} = {value}{end}"))
        .collect();
    (
        text.len()..text.len(),
        format!("{}{end}[[{list}]]{end}{lines}", closed(text)),
    )
}

/// What ends the last line of a text, where that has no end.
fn closed(text: &str) -> &'static str {
    match text.is_empty() || text.ends_with('\n') {
        true => "",
        false => line_end(text),
    }
}

/// How the lines of a text end: as its first one does.
fn line_end(text: &str) -> &'static str {
    match text.split_once('\n') {
        Some((first, _)) if first.ends_with('\r') => "\r\n",
        _ => "\n",
    }
}
