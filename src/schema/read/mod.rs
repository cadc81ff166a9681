//! Reading a table against the registry.

mod lists;
mod recordings;
pub(crate) mod structures;

use super::kind::Kind;
use super::lookup;
use super::note_values;
use super::note_values::Length;
use super::setting::{DefaultValue, Setting};
use super::settings::{PlacedValue, Settings, Value};
use super::table::Table;

use super::tree::{Entry, Node, TomlValue};
use crate::harmony::{self, Misread, Note};
use crate::text::{Place, Problem, Words, did_you_mean_text};

/// Reads the entries of a table: each known setting becomes a checked value, each unknown or ill-typed one a problem.
///
/// What is missing is for [`complete`] to find.
pub(crate) fn read_table(table: Table, place: &Place, entries: &[Entry], problems: &mut Vec<Problem>) -> Settings {
    let mut settings = Settings::empty(table, place.clone());
    for entry in entries {
        let name = entry.key.whole();
        let Some(setting) = table.setting(&entry.key.text) else {
            problems.push(lookup::unknown(table, &entry.key.text, &name));
            continue;
        };
        match read_setting(setting, &name, &entry.value, problems) {
            Some(value) => {
                let place = entry.value.place.clone();
                settings.set(*setting, PlacedValue { value, name, place });
            }
            None => settings.refuse(setting),
        }
    }
    settings
}

/// Finds what a table and the tables in it lack. This comes apart from reading, so that a text with syntax errors is
/// not said to lack what the errors hide, and changes can be made in between.
pub(crate) fn complete(settings: &Settings, problems: &mut Vec<Problem>) {
    for setting in settings.table.settings() {
        if setting.default == DefaultValue::Required && !settings.writes(*setting) {
            problems.push(missing(settings.table, setting, &settings.place));
        }
    }
    for (_, placed) in settings.iter() {
        match &placed.value {
            Value::Table(inner) => complete(inner, problems),
            Value::Tables(tables) => tables.iter().for_each(|inner| complete(inner, problems)),
            Value::Named(tables) => tables.iter().for_each(|(_, inner)| complete(inner, problems)),
            _ => {}
        }
    }
}

fn missing(table: Table, setting: &Setting, place: &Place) -> Problem {
    let what = format!("{} lacks `{}`", table.title(), setting.name);
    Problem::at(place, what).help(format!("`{}` is {}", setting.name, setting.describe()))
}

/// Reads one value of a setting; a problem and nothing where it does not suit.
pub(crate) fn read_setting(
    setting: &Setting,
    key_place: &Place,
    node: &Node,
    problems: &mut Vec<Problem>,
) -> Option<Value> {
    let is_off = |node: &Node| matches!(&node.what, TomlValue::Text(words) if words.text == "off");
    if is_off(node) && (setting.off || !matches!(setting.kind, Kind::Text)) {
        if setting.off {
            return Some(Value::Off);
        }
        let what = format!("`{}` can't be off", setting.name);
        problems.push(Problem::at(&node.place, what).help(format!("it is {}", setting.describe())));
        return None;
    }
    match setting.kind {
        Kind::Table(_) | Kind::TableOr(..) | Kind::Tables(_) | Kind::Named(_) => {
            structures::tables(setting, node, problems)
        }
        Kind::Levels => structures::levels(setting, node, problems),
        Kind::Marks => structures::marks(setting, node, problems),
        Kind::Hits | Kind::Bars(_) | Kind::Phrase(..) => structures::hits(setting, key_place, node, problems),
        Kind::NoteNumbers => structures::note_numbers(setting, node, problems),
        Kind::NamesByName(_) => structures::names_by_name(setting, node, problems),
        Kind::Line => structures::line(setting, structures::all_bars(key_place), node, problems)
            .map(|line| Value::Patterns(vec![line])),
        Kind::Accents => structures::accents(setting, key_place, node, problems),
        Kind::Tablature => structures::tablature(setting, node, problems),
        Kind::Numbers(..) => lists::numbers(setting, node, problems),
        Kind::Paths | Kind::Names(_) => lists::paths(setting, node, problems),
        Kind::Recording => recordings::one(setting, node, problems).map(Value::Recording),
        Kind::LoopPoints => recordings::loop_points(setting, node, problems),
        Kind::Recordings => recordings::all(setting, node, problems),
        Kind::Changes => match node.what {
            TomlValue::Table(_) => Some(Value::Changes(node.clone())),
            _ => refuse(setting, node, problems),
        },
        _ => match plain(setting, node) {
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
        Kind::Numbers(from, to, unit) => (from, to, unit),
        Kind::Whole(from, to, unit) => (from as f64, to as f64, unit),
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
fn plain(setting: &Setting, node: &Node) -> Result<Value, Problem> {
    match (&setting.kind, &node.what) {
        (Kind::Number(..), TomlValue::Number(number)) => {
            Ok(Value::Number(in_range(setting.name, *number, node, &setting.kind)?))
        }
        (Kind::Number(..), TomlValue::Whole(number)) => Ok(Value::Number(in_range(
            setting.name,
            *number as f64,
            node,
            &setting.kind,
        )?)),
        (Kind::Whole(from, to, _), TomlValue::Whole(number)) => {
            if !(from..=to).contains(&number) {
                in_range(setting.name, *number as f64, node, &setting.kind)?;
            }
            Ok(Value::Whole(*number))
        }
        (Kind::Whole(..), TomlValue::Number(number)) => {
            let number = in_range(setting.name, *number, node, &setting.kind)?;
            // `8.0` is a whole number all the same; the range keeps the cast exact but for the largest seeds.
            if number.fract() == 0.0 {
                Ok(Value::Whole(number as u64))
            } else {
                Err(wrong(setting, node))
            }
        }
        (Kind::Switch, TomlValue::Switch(on)) => Ok(Value::Switch(*on)),
        (Kind::Text | Kind::Name(_) | Kind::Path, TomlValue::Text(words)) => {
            if words.text.trim().is_empty() {
                return Err(Problem::at(&node.place, format!("`{}` is empty", setting.name))
                    .help(format!("it is {}", setting.describe())));
            }
            Ok(Value::Text(words.clone()))
        }
        (Kind::Choice(choices), TomlValue::Text(words)) => {
            if choices.contains(&words.text.as_str()) {
                return Ok(Value::Text(words.clone()));
            }
            let problem = wrong(setting, node);
            Err(match crate::text::nearest(&words.text, choices.iter().copied()) {
                Some(near) => problem.help(did_you_mean_text(near)),
                None => problem,
            })
        }
        (Kind::NoteValue, TomlValue::Text(words)) => match note_values::length(&words.text) {
            Some(length @ Length::Notes(_)) => Ok(Value::Length(length)),
            _ => Err(wrong(setting, node)),
        },
        (Kind::Time, TomlValue::Text(words)) => note_values::length(&words.text)
            .map(Value::Length)
            .ok_or_else(|| wrong(setting, node)),
        (Kind::Metre, TomlValue::Text(words)) => match note_values::metre(&words.text) {
            Some((counts, unit)) => Ok(Value::Metre((counts, unit))),
            None => Err(wrong(setting, node)),
        },
        (Kind::Pitch, TomlValue::Text(words)) => match harmony::parse_pitch(&words.text) {
            Ok(key) => Ok(Value::Number(key)),
            Err(misread) => spelled(words, Some(misread)),
        },
        (Kind::Pitch, TomlValue::Whole(key @ 0..=127)) => Ok(Value::Number(*key as f64)),
        (Kind::Pitch, TomlValue::Number(key @ 0.0..=127.0)) => Ok(Value::Number(*key)),
        (Kind::Swell, TomlValue::Text(words)) => match two_velocities(&words.text) {
            Some((first, last)) => Ok(Value::Velocities((first, last))),
            None => Err(wrong(setting, node)),
        },
        (Kind::Velocities, TomlValue::Text(words)) => match velocities(&words.text) {
            Some((lowest, highest)) => Ok(Value::Velocities((lowest, highest))),
            None => Err(wrong(setting, node)),
        },
        (Kind::Note, TomlValue::Text(words)) => spelled(words, Note::parse(&words.text).err()),
        (Kind::Key, TomlValue::Text(words)) => spelled(words, harmony::Key::parse(&words.text).err()),
        (Kind::Interval, TomlValue::Text(words)) => interval(setting, words),
        (Kind::Interval, TomlValue::Whole(_) | TomlValue::Number(_)) => semitones(setting, node),
        _ => Err(wrong(setting, node)),
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

fn interval(setting: &Setting, words: &Words) -> Result<Value, Problem> {
    if super::interval_steps(&words.text).is_some() {
        return Ok(Value::Text(words.clone()));
    }
    let what = format!("`{}` is no interval", words.text);
    let problem = Problem::at(&words.whole(), what);
    let known: Vec<String> = super::INTERVALS
        .iter()
        .flat_map(|name| [format!("{name} above"), format!("{name} below")])
        .collect();
    Err(
        match crate::text::nearest(&words.text, known.iter().map(String::as_str)) {
            Some(near) => problem.help(did_you_mean_text(near)),
            None => problem.help(format!("it is {}", setting.describe())),
        },
    )
}

fn semitones(setting: &Setting, node: &Node) -> Result<Value, Problem> {
    let number = match node.what {
        TomlValue::Whole(number) => number as f64,
        TomlValue::Number(number) => number,
        _ => f64::NAN,
    };
    let number = in_range(setting.name, number, node, &Kind::Number(-48.0, 48.0, "semitones"))?;
    if number.fract() == 0.0 {
        Ok(Value::Number(number))
    } else {
        Err(wrong(setting, node))
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

/// The problem of a value that is not what its setting takes.
pub(crate) fn wrong(setting: &Setting, node: &Node) -> Problem {
    let problem = Problem::at(
        &node.place,
        format!("`{}` is {}, not {}", setting.name, setting.describe(), node.describe()),
    );
    match &node.what {
        TomlValue::Text(words) if !setting.kind.is_text() && words.text.trim().parse::<f64>().is_ok() => {
            problem.help("write the number without quotes")
        }
        TomlValue::Switch(false) if setting.off => problem.help("to switch it off, write \"off\""),
        TomlValue::Number(number) if setting.kind == Kind::Time => {
            problem.help(format!("for milliseconds, write \"{number} ms\""))
        }
        TomlValue::Whole(number) if setting.kind == Kind::Time => {
            problem.help(format!("for milliseconds, write \"{number} ms\""))
        }
        TomlValue::Number(_) | TomlValue::Whole(_)
            if matches!(setting.kind, Kind::Text | Kind::Name(_) | Kind::Path) =>
        {
            problem.help("write it in quotes")
        }
        _ => problem,
    }
}

/// Says that a value is not what its setting takes.
pub(crate) fn refuse(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    problems.push(wrong(setting, node));
    None
}
