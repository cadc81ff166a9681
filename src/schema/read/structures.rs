//! Reading the values that have values inside: tables, lists, hits.

use super::lists::paths;
use super::{complete, in_range, read_table, refuse, wrong};
use crate::schema::kind::Kind;
use crate::schema::layers::Layers;
use crate::schema::registry::{MOST_BELLS, accents, sends, strip, swell};
use crate::schema::setting::Setting;
use crate::schema::settings::{AccentLine, Pattern, PlacedValue, Play, Settings, Value};
use crate::schema::table::Table;
use crate::schema::tree::{Entry, Node, TomlValue};
use crate::text::{Place, Problem, Words};

/// Tables in their four shapes: one, one or a number, a list of them, many by name.
pub(crate) fn tables(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    match (&setting.kind, &node.what) {
        (Kind::Table(table) | Kind::TableOr(table, _), TomlValue::Table(entries)) => {
            Some(Value::Table(read_table(*table, &node.place, entries, problems)))
        }
        (Kind::TableOr(table, name), TomlValue::Number(_) | TomlValue::Whole(_)) => {
            number_for(*table, name, setting, node, problems)
        }
        (Kind::Tables(table), TomlValue::List(nodes)) => {
            let mut tables = Vec::new();
            let most = if *table == Table::Bell { MOST_BELLS } else { usize::MAX };
            if let Some(past) = nodes.get(most) {
                let what = format!("these are {} bells; {most} are the most", nodes.len());
                problems.push(Problem::at(&past.place, what).help("a bus has bells of its own"));
            }
            for node in nodes.iter().take(most) {
                match &node.what {
                    TomlValue::Table(entries) => tables.push(read_table(*table, &node.place, entries, problems)),
                    _ => problems.push(wrong(setting, node)),
                }
            }
            Some(Value::Tables(tables))
        }
        (Kind::Tables(_), TomlValue::Table(_)) => {
            let what = format!("there can be several of `{}`, so it is a list of tables", setting.name);
            let list = if setting.name == strip::EQ.name {
                "write eq = [{ … }]".into()
            } else {
                format!("write [[{0}]] in place of [{0}]", setting.name)
            };
            problems.push(Problem::at(&node.place, what).help(list));
            None
        }
        (Kind::Table(_), TomlValue::List(_)) => {
            let what = format!("there is only one `{}`", setting.name);
            problems
                .push(Problem::at(&node.place, what).help(format!("write [{0}] in place of [[{0}]]", setting.name)));
            None
        }
        (Kind::Named(table), TomlValue::Table(entries)) => {
            Some(Value::Named(named(setting, *table, entries, problems)))
        }
        _ => refuse(setting, node, problems),
    }
}

/// A plain number in place of a table: `drive = 3` is `drive = { amount = 3 }`.
fn number_for(table: Table, name: &str, setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let number = match node.what {
        TomlValue::Number(number) => number,
        TomlValue::Whole(number) => number as f64,
        _ => return refuse(setting, node, problems),
    };
    let inner = table.setting(name)?;
    match in_range(setting.name, number, node, &inner.kind) {
        Ok(number) => {
            let mut settings = Settings::empty(table, node.place.clone());
            let (value, name, place) = (Value::Number(number), node.place.clone(), node.place.clone());
            settings.set(*inner, PlacedValue { value, name, place });
            Some(Value::Table(settings))
        }
        Err(problem) => {
            problems.push(problem);
            None
        }
    }
}

fn named(setting: &Setting, table: Table, entries: &[Entry], problems: &mut Vec<Problem>) -> Vec<(Words, Settings)> {
    let mut named = Vec::new();
    for Entry { key: name, value } in entries {
        match &value.what {
            TomlValue::Table(entries) => {
                let place = name.whole();
                named.push((name.clone(), read_table(table, &place, entries, problems)));
            }
            _ => {
                let (by, help) = match table {
                    Table::Playing => ("bars", "write \"4\" = { voicing = \"shell\" }".to_string()),
                    _ => ("name", format!("write [{}.NAME]", setting.name)),
                };
                let what = format!("`{}` holds tables by {by}, not {}", setting.name, value.describe());
                problems.push(Problem::at(&value.place, what).help(help));
            }
        }
    }
    named
}

/// Send levels by name.
pub(crate) fn levels(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let TomlValue::Table(entries) = &node.what else {
        return refuse(setting, node, problems);
    };
    let one = sends::ROOM.any();
    let mut levels = Vec::new();
    for Entry { key: name, value } in entries {
        let number = match &value.what {
            TomlValue::Text(words) if words.text == "off" => Ok(None),
            TomlValue::Number(number) => in_range(&name.text, *number, value, &one.kind).map(Some),
            TomlValue::Whole(number) => in_range(&name.text, *number as f64, value, &one.kind).map(Some),
            _ => {
                let what = format!(
                    "the level of `{}` is {}, not {}",
                    name.text,
                    one.describe(),
                    value.describe()
                );
                Err(Problem::at(&value.place, what))
            }
        };
        match number {
            Ok(number) => levels.push((name.clone(), number)),
            Err(problem) => problems.push(problem),
        }
    }
    Some(Value::Levels(levels))
}

/// Pieces by mark. Which letters are free to use is for whoever reads the hits to say.
pub(crate) fn marks(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let TomlValue::Table(entries) = &node.what else {
        return refuse(setting, node, problems);
    };
    let mut marks = Vec::new();
    for Entry { key: mark, value } in entries {
        let mut letters = mark.text.chars();
        match (letters.next(), letters.next(), &value.what) {
            (Some(letter), None, TomlValue::Text(piece)) if !piece.text.trim().is_empty() => {
                marks.push((letter, piece.clone()))
            }
            (Some(_), None, _) => problems.push(Problem::at(
                &value.place,
                format!(
                    "the mark `{}` plays a piece, named in quotes, not {}",
                    mark.text,
                    value.describe()
                ),
            )),
            _ => problems.push(Problem::at(
                &mark.whole(),
                format!("`{}` is not one mark: a mark is a single letter", mark.text),
            )),
        }
    }
    Some(Value::Marks(marks))
}

/// Pieces by MIDI note number.
pub(crate) fn note_numbers(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let TomlValue::Table(entries) = &node.what else {
        return refuse(setting, node, problems);
    };
    let mut keys = Vec::new();
    for Entry { key: number, value } in entries {
        match (
            number.text.parse::<u8>().ok().filter(|number| *number < 128),
            &value.what,
        ) {
            (Some(number), TomlValue::Text(piece)) if !piece.text.trim().is_empty() => {
                keys.push((number, piece.clone()))
            }
            (Some(number), _) => problems.push(Problem::at(
                &value.place,
                format!("key {number} plays a piece, named in quotes, not {}", value.describe()),
            )),
            (None, _) => problems.push(
                Problem::at(
                    &number.whole(),
                    format!("`{}` is no MIDI key: keys go from 0 to 127", number.text),
                )
                .help("36 is the bass drum of General MIDI, 38 the snare, 42 the closed hat"),
            ),
        }
    }
    Some(Value::NoteNumbers(keys))
}

/// Names in lists, by the name of each list.
pub(crate) fn names_by_name(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let TomlValue::Table(entries) = &node.what else {
        return refuse(setting, node, problems);
    };
    let mut lists = Vec::new();
    for Entry { key: name, value } in entries {
        match paths(setting, value, problems) {
            Some(Value::Paths(names)) => lists.push((name.clone(), names)),
            _ => continue,
        }
    }
    Some(Value::NamesByName(lists))
}

/// Hits: a line or a list for all bars, or a table of these by bars.
pub(crate) fn hits(setting: &Setting, key_place: &Place, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    if let TomlValue::Table(entries) = &node.what
        && !swells(entries)
    {
        let mut lines = Vec::new();
        for Entry { key: bars, value } in entries {
            lines.extend(line(setting, bars.clone(), value, problems));
        }
        return Some(Value::Patterns(lines));
    }
    line(setting, all_bars(key_place), node, problems).map(|line| Value::Patterns(vec![line]))
}

/// The bars of a line that stands where no bars are named: all.
pub(crate) fn all_bars(key_place: &Place) -> Words {
    Words::unwritten("all", key_place)
}

/// True for a table that is a line which swells, and not a table of bars.
fn swells(entries: &[Entry]) -> bool {
    entries
        .iter()
        .any(|entry| Table::Swell.setting(&entry.key.text).is_some())
}

/// A line that swells: `{ swell = "50-118", play = "bbbb bbbb" }`.
fn swelling(bars: Words, place: &Place, entries: &[Entry], problems: &mut Vec<Problem>) -> Option<Pattern> {
    let settings = read_table(Table::Swell, place, entries, problems);
    complete(&settings, problems);
    let swell = settings.get(swell::SWELL).copied();
    let play = settings.get(swell::PLAY)?.first()?.play.clone();
    Some(Pattern {
        bars,
        play,
        swell: Some(swell?),
    })
}

/// Accents: lines by bars; the other settings are for all of them, or for one bar's where they stand in its table.
pub(crate) fn accents(setting: &Setting, key_place: &Place, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let TomlValue::Table(entries) = &node.what else {
        return refuse(setting, node, problems);
    };
    let known = |entry: &&Entry| Table::Accents.setting(&entry.key.text).is_some();
    let (own, bars): (Vec<&Entry>, Vec<&Entry>) = entries.iter().partition(known);
    let own: Vec<Entry> = own.into_iter().cloned().collect();
    let all = read_table(Table::Accents, &node.place, &own, problems);
    let mut accents = accented(accent_lines(all_bars(key_place), &all, &own), &[&all]);
    for Entry { key: named, value } in bars {
        match &value.what {
            TomlValue::Table(entries) => {
                let own = read_table(Table::Accents, &value.place, entries, problems);
                accents.extend(accented(accent_lines(named.clone(), &own, entries), &[&own, &all]));
            }
            _ => {
                let line = line(setting, named.clone(), value, problems);
                accents.extend(accented(line.into_iter().collect(), &[&all]));
            }
        }
    }
    Some(Value::Accents(accents))
}

/// The lines of `hits`; a plain one is for the bars given.
fn accent_lines(bars: Words, settings: &Settings, entries: &[Entry]) -> Vec<Pattern> {
    let by_bars = |entry: &Entry| matches!(&entry.value.what, TomlValue::Table(entries) if !swells(entries));
    let plain = !entries
        .iter()
        .any(|entry| entry.key.text == accents::HITS.name && by_bars(entry));
    let mut lines = settings.get(accents::HITS).cloned().unwrap_or_default();
    if plain {
        lines.iter_mut().for_each(|line| line.bars = bars.clone());
    }
    lines
}

/// Lines with what settings say of them, the nearest first.
fn accented(lines: Vec<Pattern>, settings: &[&Settings]) -> Vec<AccentLine> {
    let layers = Layers::new(settings.iter().copied());
    let strike = layers.get(accents::STRIKE).cloned().unwrap_or_default();
    let parts = layers.get(accents::PARTS);
    let parts: Option<Vec<Words>> = parts.map(|parts| parts.iter().chain(&strike).cloned().collect());
    let accented = |line| AccentLine {
        line,
        parts: parts.clone(),
        strike: strike.clone(),
        together: layers.number(accents::TOGETHER),
    };
    lines.into_iter().map(accented).collect()
}

/// One line: marks, a list that counts aloud, or either of them with a swell.
pub(crate) fn line(setting: &Setting, bars: Words, node: &Node, problems: &mut Vec<Problem>) -> Option<Pattern> {
    // Chords neither count aloud nor swell.
    let of_strikes = !matches!(setting.kind, Kind::Bars(_));
    let example = match setting.kind {
        Kind::Phrase(_, entry) => entry,
        _ => "2& x",
    };
    let what = match &node.what {
        TomlValue::Table(entries) if of_strikes && setting.kind != Kind::Line && swells(entries) => {
            return swelling(bars, &node.place, entries, problems);
        }
        TomlValue::Text(words) => {
            return Some(Pattern::line(bars, words.clone()));
        }
        TomlValue::List(nodes) if of_strikes => {
            let mut hits = Vec::new();
            for node in nodes {
                match &node.what {
                    TomlValue::Text(words) => hits.push(words.clone()),
                    _ => problems.push(Problem::at(
                        &node.place,
                        format!(
                            "what is counted is a text such as \"{example}\", not {}",
                            node.describe()
                        ),
                    )),
                }
            }
            return Some(Pattern {
                bars,
                play: Play::Counted(hits),
                swell: None,
            });
        }
        _ if !matches!(setting.kind, Kind::Hits | Kind::Line | Kind::Accents) => {
            format!("`{}` is {}, not {}", setting.name, setting.describe(), node.describe())
        }
        _ => format!(
            "`{}` takes a line of marks or a list that counts aloud, not {}",
            setting.name,
            node.describe()
        ),
    };
    problems.push(Problem::at(&node.place, what));
    None
}

/// Tablature: a text with many lines for each of some bars.
pub(crate) fn tablature(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let TomlValue::Table(entries) = &node.what else {
        return refuse(setting, node, problems);
    };
    let mut lines = Vec::new();
    for Entry { key: bars, value } in entries {
        match &value.what {
            TomlValue::Text(words) => lines.push(Pattern::line(bars.clone(), words.clone())),
            TomlValue::Table(entries) if swells(entries) => {
                lines.extend(swelling(bars.clone(), &value.place, entries, problems));
            }
            _ => problems.push(Problem::at(
                &value.place,
                format!(
                    "`[tab]` holds, for some bars, a text with a line a part, not {}",
                    value.describe()
                ),
            )),
        }
    }
    Some(Value::Patterns(lines))
}
