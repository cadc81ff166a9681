//! Reading the values that have values inside: tables, lists, hits.

use super::{complete, in_range, read_table, refuse, wrong};
use crate::schema::MOST_BELLS;
use crate::schema::setting::{Key, Kind, Table};
use crate::schema::settings::{Line, Setting, Settings, Value};
use crate::schema::tree::{Entry, Node, What};
use crate::text::{Place, Problem, Words};

/// Tables in their four shapes: one, one or a number, a list of them, many by name.
pub(crate) fn tables(key: &Key, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    match (&key.kind, &node.what) {
        (Kind::Table(table) | Kind::TableOr(table, _), What::Table(entries)) => {
            Some(Value::Table(read_table(*table, &node.place, entries, problems)))
        }
        (Kind::TableOr(table, name), What::Number(_) | What::Whole(_)) => number_for(*table, name, key, node, problems),
        (Kind::Tables(table), What::List(nodes)) => {
            let mut tables = Vec::new();
            let most = if *table == Table::Bell { MOST_BELLS } else { usize::MAX };
            if let Some(past) = nodes.get(most) {
                let what = format!("these are {} bells; {most} are the most", nodes.len());
                problems.push(Problem::at(&past.place, what).help("a bus has bells of its own"));
            }
            for node in nodes.iter().take(most) {
                match &node.what {
                    What::Table(entries) => tables.push(read_table(*table, &node.place, entries, problems)),
                    _ => problems.push(wrong(key, node)),
                }
            }
            Some(Value::Tables(tables))
        }
        (Kind::Tables(_), What::Table(_)) => {
            let what = format!("there can be several of `{}`, so it is a list of tables", key.name);
            let list = if key.name == "eq" {
                "write eq = [{ … }]".into()
            } else {
                format!("write [[{0}]] in place of [{0}]", key.name)
            };
            problems.push(Problem::at(&node.place, what).help(list));
            None
        }
        (Kind::Table(_), What::List(_)) => {
            let what = format!("there is only one `{}`", key.name);
            problems.push(Problem::at(&node.place, what).help(format!("write [{0}] in place of [[{0}]]", key.name)));
            None
        }
        (Kind::Named(table), What::Table(entries)) => Some(Value::Named(named(key, *table, entries, problems))),
        _ => refuse(key, node, problems),
    }
}

/// A plain number in place of a table: `drive = 3` is `drive = { amount = 3 }`.
fn number_for(table: Table, name: &str, key: &Key, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let number = match node.what {
        What::Number(number) => number,
        What::Whole(number) => number as f64,
        _ => return refuse(key, node, problems),
    };
    let inner = table.key(name)?;
    match in_range(key.name, number, node, &inner.kind) {
        Ok(number) => {
            let mut settings = Settings::empty(table, node.place.clone());
            settings.set(
                inner.name,
                Setting {
                    value: Value::Number(number),
                    key: node.place.clone(),
                    place: node.place.clone(),
                },
            );
            Some(Value::Table(settings))
        }
        Err(problem) => {
            problems.push(problem);
            None
        }
    }
}

fn named(key: &Key, table: Table, entries: &[Entry], problems: &mut Vec<Problem>) -> Vec<(Words, Settings)> {
    let mut named = Vec::new();
    for Entry { key: name, value } in entries {
        match &value.what {
            What::Table(entries) => {
                let place = name.place(0..name.text.len());
                named.push((name.clone(), read_table(table, &place, entries, problems)));
            }
            _ => {
                let (by, help) = match table {
                    Table::Playing => ("bars", "write \"4\" = { voicing = \"shell\" }".to_string()),
                    _ => ("name", format!("write [{}.NAME]", key.name)),
                };
                let what = format!("`{}` holds tables by {by}, not {}", key.name, value.describe());
                problems.push(Problem::at(&value.place, what).help(help));
            }
        }
    }
    named
}

/// Send levels by name.
pub(crate) fn levels(key: &Key, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let What::Table(entries) = &node.what else {
        return refuse(key, node, problems);
    };
    let Some(one) = Table::Sends.key("room") else {
        return refuse(key, node, problems);
    };
    let mut levels = Vec::new();
    for Entry { key: name, value } in entries {
        let number = match &value.what {
            What::Text(words) if words.text == "off" => Ok(None),
            What::Number(number) => in_range(&name.text, *number, value, &one.kind).map(Some),
            What::Whole(number) => in_range(&name.text, *number as f64, value, &one.kind).map(Some),
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
pub(crate) fn marks(key: &Key, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let What::Table(entries) = &node.what else {
        return refuse(key, node, problems);
    };
    let mut marks = Vec::new();
    for Entry { key: mark, value } in entries {
        let mut letters = mark.text.chars();
        match (letters.next(), letters.next(), &value.what) {
            (Some(letter), None, What::Text(piece)) if !piece.text.trim().is_empty() => {
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
                &mark.place(0..mark.text.len()),
                format!("`{}` is not one mark: a mark is a single letter", mark.text),
            )),
        }
    }
    Some(Value::Marks(marks))
}

/// Pieces by MIDI key.
pub(crate) fn keys(key: &Key, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let What::Table(entries) = &node.what else {
        return refuse(key, node, problems);
    };
    let mut keys = Vec::new();
    for Entry { key: number, value } in entries {
        match (
            number.text.parse::<u8>().ok().filter(|number| *number < 128),
            &value.what,
        ) {
            (Some(number), What::Text(piece)) if !piece.text.trim().is_empty() => keys.push((number, piece.clone())),
            (Some(number), _) => problems.push(Problem::at(
                &value.place,
                format!("key {number} plays a piece, named in quotes, not {}", value.describe()),
            )),
            (None, _) => problems.push(
                Problem::at(
                    &number.place(0..number.text.len()),
                    format!("`{}` is no MIDI key: keys go from 0 to 127", number.text),
                )
                .help("36 is the bass drum of General MIDI, 38 the snare, 42 the closed hat"),
            ),
        }
    }
    Some(Value::Keys(keys))
}

/// Hits: a line or a list for all bars, or a table of these by bars.
pub(crate) fn hits(key: &Key, key_place: &Place, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    if let What::Table(entries) = &node.what
        && !swells(entries)
    {
        let mut lines = Vec::new();
        for Entry { key: bars, value } in entries {
            lines.extend(line(key, bars.clone(), value, problems));
        }
        return Some(Value::Lines(lines));
    }
    line(key, all_bars(key_place), node, problems).map(|line| Value::Lines(vec![line]))
}

/// The bars of a line that stands where no bars are named: all.
pub(crate) fn all_bars(key_place: &Place) -> Words {
    Words {
        text: "all".into(),
        source: key_place.source.clone(),
        start: key_place.span.start,
        literal: key_place.span.clone(),
        plain: false,
    }
}

/// True for a table that is a line which swells, and not a table of bars.
fn swells(entries: &[Entry]) -> bool {
    entries.iter().any(|entry| Table::Swell.key(&entry.key.text).is_some())
}

/// A line that swells: `{ swell = "50-118", play = "bbbb bbbb" }`.
fn swelling(bars: Words, place: &Place, entries: &[Entry], problems: &mut Vec<Problem>) -> Option<Line> {
    let mut settings = read_table(Table::Swell, place, entries, problems);
    complete(&settings, problems);
    let Value::Velocities(first, last) = settings.take("swell")?.value else {
        return None;
    };
    let Value::Lines(lines) = settings.take("play")?.value else {
        return None;
    };
    let line = lines.into_iter().next()?;
    Some(Line {
        bars,
        swell: Some((first, last)),
        ..line
    })
}

/// Accents: lines by bars; `hits` and `parts` are for all of them, or for one bar's where they stand in its table.
pub(crate) fn accents(key: &Key, key_place: &Place, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let What::Table(entries) = &node.what else {
        return refuse(key, node, problems);
    };
    let known = |entry: &&Entry| Table::Accents.key(&entry.key.text).is_some();
    let (own, bars): (Vec<&Entry>, Vec<&Entry>) = entries.iter().partition(known);
    let (lines, parts) = accented(
        all_bars(key_place),
        &node.place,
        own.into_iter().cloned().collect(),
        problems,
    );
    let mut accents: Vec<(Line, Option<Vec<Words>>)> = lines.into_iter().map(|line| (line, parts.clone())).collect();
    for Entry { key: named, value } in bars {
        match &value.what {
            What::Table(entries) => {
                let (lines, own) = accented(named.clone(), &value.place, entries.clone(), problems);
                accents.extend(
                    lines
                        .into_iter()
                        .map(|line| (line, own.clone().or_else(|| parts.clone()))),
                );
            }
            _ => accents.extend(line(key, named.clone(), value, problems).map(|line| (line, parts.clone()))),
        }
    }
    Some(Value::Accents(accents))
}

/// What `hits` and `parts` say; a plain line of `hits` is for the bars given.
fn accented(
    bars: Words,
    place: &Place,
    entries: Vec<Entry>,
    problems: &mut Vec<Problem>,
) -> (Vec<Line>, Option<Vec<Words>>) {
    let by_bars = |entry: &Entry| matches!(&entry.value.what, What::Table(entries) if !swells(entries));
    let plain = !entries.iter().any(|entry| entry.key.text == "hits" && by_bars(entry));
    let mut settings = read_table(Table::Accents, place, &entries, problems);
    let mut lines = match settings.take("hits").map(|setting| setting.value) {
        Some(Value::Lines(lines)) => lines,
        _ => Vec::new(),
    };
    if plain {
        lines.iter_mut().for_each(|line| line.bars = bars.clone());
    }
    let parts = match settings.take("parts").map(|setting| setting.value) {
        Some(Value::Paths(names)) => Some(names),
        _ => None,
    };
    (lines, parts)
}

/// One line: marks, a list that counts aloud, or either of them with a swell.
pub(crate) fn line(key: &Key, bars: Words, node: &Node, problems: &mut Vec<Problem>) -> Option<Line> {
    // Lines of notes, chords and their like hold no marks: they neither count aloud nor swell.
    let of_marks = !matches!(key.kind, Kind::Bars(_));
    let what = match &node.what {
        What::Table(entries) if of_marks && key.kind != Kind::Line && swells(entries) => {
            return swelling(bars, &node.place, entries, problems);
        }
        What::Text(words) => {
            return Some(Line {
                bars,
                play: vec![words.clone()],
                counted: false,
                swell: None,
            });
        }
        What::List(nodes) if of_marks => {
            let mut play = Vec::new();
            for node in nodes {
                match &node.what {
                    What::Text(words) => play.push(words.clone()),
                    _ => problems.push(Problem::at(
                        &node.place,
                        format!("a counted hit is a text such as \"2& x\", not {}", node.describe()),
                    )),
                }
            }
            return Some(Line {
                bars,
                play,
                counted: true,
                swell: None,
            });
        }
        _ if !of_marks => format!("`{}` is {}, not {}", key.name, key.describe(), node.describe()),
        _ => format!(
            "`{}` takes a line of marks or a list that counts aloud, not {}",
            key.name,
            node.describe()
        ),
    };
    problems.push(Problem::at(&node.place, what));
    None
}

/// Tablature: a text with many lines for each of some bars.
pub(crate) fn tablature(key: &Key, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let What::Table(entries) = &node.what else {
        return refuse(key, node, problems);
    };
    let mut lines = Vec::new();
    for Entry { key: bars, value } in entries {
        match &value.what {
            What::Text(words) => lines.push(Line {
                bars: bars.clone(),
                play: vec![words.clone()],
                counted: false,
                swell: None,
            }),
            What::Table(entries) if swells(entries) => {
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
    Some(Value::Lines(lines))
}

/// One path, or a list of them.
pub(crate) fn paths(key: &Key, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let nodes = match &node.what {
        What::Text(_) => std::slice::from_ref(node),
        What::List(nodes) if !nodes.is_empty() => nodes,
        _ => return refuse(key, node, problems),
    };
    let mut paths = Vec::new();
    for node in nodes {
        match &node.what {
            What::Text(words) if !words.text.is_empty() => paths.push(words.clone()),
            _ => problems.push(wrong(key, node)),
        }
    }
    (!paths.is_empty()).then_some(Value::Paths(paths))
}
