//! Reading a table against the registry.

pub(crate) mod structures;

use super::lookup;
use super::note_values;
use super::note_values::Length;
use super::setting::{Key, Kind, Standard, Table};
use super::settings::{Setting, Settings, Value};

use super::tree::{Entry, Node, What};
use crate::harmony::{self, Misread, Note};
use crate::text::{Place, Problem, Words};

/// Reads the entries of a table: each known key becomes a checked value, each unknown or ill-typed one a problem.
///
/// What is missing is for [`complete`] to find.
pub fn read_table(table: Table, place: &Place, entries: &[Entry], problems: &mut Vec<Problem>) -> Settings {
    let mut settings = Settings::empty(table, place.clone());
    for entry in entries {
        let key_place = entry.key.place(0..entry.key.text.len());
        let Some(key) = table.key(&entry.key.text) else {
            problems.push(lookup::unknown(table, &entry.key.text, &key_place));
            continue;
        };
        match read_setting(key, &key_place, &entry.value, problems) {
            Some(value) => settings.set(
                key.name,
                Setting {
                    value,
                    key: key_place,
                    place: entry.value.place.clone(),
                },
            ),
            None => settings.refuse(key.name),
        }
    }
    settings
}

/// Finds what a table and the tables in it lack. This comes apart from reading, so that a text with syntax errors is
/// not said to lack what the errors hide, and changes can be made in between.
pub fn complete(settings: &Settings, problems: &mut Vec<Problem>) {
    for key in settings.table.keys() {
        if key.standard == Standard::Needed && !settings.writes(key.name) {
            problems.push(missing(settings.table, key, &settings.place));
        }
    }
    for (_, setting) in settings.iter() {
        match &setting.value {
            Value::Table(inner) => complete(inner, problems),
            Value::Tables(tables) => tables.iter().for_each(|inner| complete(inner, problems)),
            Value::Named(tables) => tables.iter().for_each(|(_, inner)| complete(inner, problems)),
            _ => {}
        }
    }
}

fn missing(table: Table, key: &Key, place: &Place) -> Problem {
    let what = format!("{} lacks `{}`", table.title(), key.name);
    Problem::at(place, what).help(format!("`{}` is {}", key.name, key.describe()))
}

/// Reads one value of a key; a problem and nothing where it does not suit.
pub fn read_setting(key: &Key, key_place: &Place, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let is_off = |node: &Node| matches!(&node.what, What::Text(words) if words.text == "off");
    if is_off(node) && (key.off || !matches!(key.kind, Kind::Text)) {
        if key.off {
            return Some(Value::Off);
        }
        let what = format!("`{}` can't be off", key.name);
        problems.push(Problem::at(&node.place, what).help(format!("it is {}", key.describe())));
        return None;
    }
    match key.kind {
        Kind::Table(_) | Kind::TableOr(..) | Kind::Tables(_) | Kind::Named(_) => {
            structures::tables(key, node, problems)
        }
        Kind::Levels => structures::levels(key, node, problems),
        Kind::Marks => structures::marks(key, node, problems),
        Kind::Hits | Kind::Bars(_) => structures::hits(key, key_place, node, problems),
        Kind::Keys => structures::keys(key, node, problems),
        Kind::Line => {
            structures::line(key, structures::all_bars(key_place), node, problems).map(|line| Value::Lines(vec![line]))
        }
        Kind::Accents => structures::accents(key, key_place, node, problems),
        Kind::Tablature => structures::tablature(key, node, problems),
        Kind::Paths | Kind::Names(_) => structures::paths(key, node, problems),
        Kind::Changes => match node.what {
            What::Table(_) => Some(Value::Changes(node.clone())),
            _ => refuse(key, node, problems),
        },
        _ => match plain(key, node) {
            Ok(value) => Some(value),
            Err(problem) => {
                problems.push(problem);
                None
            }
        },
    }
}

/// A number against its range.
pub(crate) fn in_range(name: &str, number: f64, node: &Node, kind: &Kind) -> Result<f64, Problem> {
    let (from, to, unit) = match *kind {
        Kind::Number(from, to, unit) => (from, to, unit),
        Kind::Integer(from, to, unit) => (from as f64, to as f64, unit),
        _ => return Ok(number),
    };
    if !number.is_finite() {
        let what = format!("`{name}` must be a finite number");
        return Err(Problem::at(&node.place, what).help(format!("it is {}", kind.describe())));
    }
    if number < from || number > to {
        let unit = if unit.is_empty() {
            String::new()
        } else {
            format!(" {unit}")
        };
        return Err(Problem::at(
            &node.place,
            format!("`{name}` is {number}, but goes from {from} to {to}{unit}"),
        ));
    }
    Ok(number)
}

/// The values that are a single number, text or switch.
fn plain(key: &Key, node: &Node) -> Result<Value, Problem> {
    match (&key.kind, &node.what) {
        (Kind::Number(..), What::Number(number)) => Ok(Value::Number(in_range(key.name, *number, node, &key.kind)?)),
        (Kind::Number(..), What::Whole(number)) => {
            Ok(Value::Number(in_range(key.name, *number as f64, node, &key.kind)?))
        }
        (Kind::Integer(from, to, _), What::Whole(number)) => {
            if !(from..=to).contains(&number) {
                in_range(key.name, *number as f64, node, &key.kind)?;
            }
            Ok(Value::Integer(*number))
        }
        (Kind::Integer(..), What::Number(number)) => {
            let number = in_range(key.name, *number, node, &key.kind)?;
            // `8.0` is a whole number all the same; the range keeps the cast exact but for the largest seeds.
            if number.fract() == 0.0 {
                Ok(Value::Integer(number as u64))
            } else {
                Err(wrong(key, node))
            }
        }
        (Kind::Switch, What::Switch(on)) => Ok(Value::Switch(*on)),
        (Kind::Text | Kind::Name(_) | Kind::Path, What::Text(words)) => {
            if words.text.trim().is_empty() {
                return Err(Problem::at(&node.place, format!("`{}` is empty", key.name))
                    .help(format!("it is {}", key.describe())));
            }
            Ok(Value::Text(words.clone()))
        }
        (Kind::Choice(choices), What::Text(words)) => {
            if choices.contains(&words.text.as_str()) {
                return Ok(Value::Text(words.clone()));
            }
            let problem = wrong(key, node);
            Err(match crate::text::nearest(&words.text, choices.iter().copied()) {
                Some(near) => problem.help(format!("did you mean \"{near}\"?")),
                None => problem,
            })
        }
        (Kind::NoteValue, What::Text(words)) => match note_values::length(&words.text) {
            Some(length @ Length::Notes(_)) => Ok(Value::Length(length)),
            _ => Err(wrong(key, node)),
        },
        (Kind::Time, What::Text(words)) => note_values::length(&words.text)
            .map(Value::Length)
            .ok_or_else(|| wrong(key, node)),
        (Kind::Metre, What::Text(words)) => match note_values::metre(&words.text) {
            Some((counts, unit)) => Ok(Value::Metre(counts, unit)),
            None => Err(wrong(key, node)),
        },
        (Kind::Pitch, What::Text(words)) => pitch(words),
        (Kind::Pitch, What::Whole(number)) => match i32::try_from(*number) {
            Ok(midi @ 0..=127) => Ok(Value::Pitch(midi)),
            _ => Err(wrong(key, node)),
        },
        (Kind::Swell, What::Text(words)) => match two_velocities(&words.text) {
            Some((first, last)) => Ok(Value::Velocities(first, last)),
            None => Err(wrong(key, node)),
        },
        (Kind::Velocities, What::Text(words)) => match velocities(&words.text) {
            Some((lowest, highest)) => Ok(Value::Velocities(lowest, highest)),
            None => Err(wrong(key, node)),
        },
        (Kind::Note, What::Text(words)) => spelled(words, Note::parse(&words.text).err()),
        (Kind::Key, What::Text(words)) => spelled(words, harmony::Key::parse(&words.text).err()),
        (Kind::Interval, What::Text(words)) => interval(key, words),
        (Kind::Interval, What::Whole(_) | What::Number(_)) => semitones(key, node),
        _ => Err(wrong(key, node)),
    }
}

/// A note's name, or a MIDI number as text.
fn pitch(words: &Words) -> Result<Value, Problem> {
    if let Ok(midi @ 0..=127) = words.text.trim().parse() {
        return Ok(Value::Pitch(midi));
    }
    match Note::parse(&words.text) {
        Ok(note) => Ok(Value::Pitch(note.midi())),
        Err(misread) => spelled(words, Some(misread)),
    }
}

/// A word of music as it is, or what is wrong in it.
fn spelled(words: &Words, wrong: Option<Misread>) -> Result<Value, Problem> {
    let Some(wrong) = wrong else {
        return Ok(Value::Text(words.clone()));
    };
    let span = if wrong.span.is_empty() {
        0..words.text.len()
    } else {
        wrong.span.clone()
    };
    let problem = Problem::at(&words.place(span), wrong.what.clone());
    Err(match wrong.help() {
        Some(help) => problem.help(help),
        None => problem,
    })
}

fn interval(key: &Key, words: &Words) -> Result<Value, Problem> {
    if super::interval_steps(&words.text).is_some() {
        return Ok(Value::Text(words.clone()));
    }
    let what = format!("`{}` is no interval", words.text);
    let problem = Problem::at(&words.place(0..words.text.len()), what);
    let known: Vec<String> = super::INTERVALS
        .iter()
        .flat_map(|name| [format!("{name} above"), format!("{name} below")])
        .collect();
    Err(
        match crate::text::nearest(&words.text, known.iter().map(String::as_str)) {
            Some(near) => problem.help(format!("did you mean \"{near}\"?")),
            None => problem.help(format!("it is {}", key.describe())),
        },
    )
}

fn semitones(key: &Key, node: &Node) -> Result<Value, Problem> {
    let number = match node.what {
        What::Whole(number) => number as f64,
        What::Number(number) => number,
        _ => f64::NAN,
    };
    let number = in_range(key.name, number, node, &Kind::Number(-48.0, 48.0, "semitones"))?;
    if number.fract() == 0.0 {
        Ok(Value::Number(number))
    } else {
        Err(wrong(key, node))
    }
}

fn velocities(text: &str) -> Option<(f64, f64)> {
    two_velocities(text).filter(|(lowest, highest)| lowest <= highest)
}

fn two_velocities(text: &str) -> Option<(f64, f64)> {
    let (lowest, highest) = text.split_once('-')?;
    let velocity = |text: &str| {
        text.trim()
            .parse()
            .ok()
            .filter(|velocity: &f64| (1.0..=127.0).contains(velocity))
    };
    Some((velocity(lowest)?, velocity(highest)?))
}

/// The problem of a value that is not what its key takes.
pub(crate) fn wrong(key: &Key, node: &Node) -> Problem {
    let problem = Problem::at(
        &node.place,
        format!("`{}` is {}, not {}", key.name, key.describe(), node.describe()),
    );
    match &node.what {
        What::Text(words) if !key.kind.is_text() && words.text.trim().parse::<f64>().is_ok() => {
            problem.help("write the number without quotes")
        }
        What::Switch(false) if key.off => problem.help("to switch it off, write \"off\""),
        What::Number(number) if key.kind == Kind::Time => {
            problem.help(format!("for milliseconds, write \"{number} ms\""))
        }
        What::Whole(number) if key.kind == Kind::Time => {
            problem.help(format!("for milliseconds, write \"{number} ms\""))
        }
        What::Number(_) | What::Whole(_) if matches!(key.kind, Kind::Text | Kind::Name(_) | Kind::Path) => {
            problem.help("write it in quotes")
        }
        _ => problem,
    }
}

/// Says that a value is not what its key takes.
pub(crate) fn refuse(key: &Key, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    problems.push(wrong(key, node));
    None
}
