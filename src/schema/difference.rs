//! What sets two readings of one table apart, key by key.

use serde::Serialize;

use super::setting::{Key, Kind};
use super::settings::{Layers, Line, Setting, Value};
use crate::text::Words;

/// A key whose value differs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// The address of the key, as `set` takes it.
    pub key: String,
    /// Its value before, the registry's standard where nobody gave one; none for bars that no line named by themselves.
    pub before: Option<String>,
    /// Its value after.
    pub after: String,
}

/// The keys of a table whose values differ, in the order of the registry; `address` is the table's own.
pub fn differences(address: &str, before: &Layers, after: &Layers) -> Vec<Difference> {
    let mut found = Vec::new();
    for key in after.table().keys() {
        one(&joined(address, key.name), key, before, after, &mut found);
    }
    found
}

fn one(address: &str, key: &Key, before: &Layers, after: &Layers, found: &mut Vec<Difference>) {
    if let (Some(before), Some(after)) = (before.nested(key.name), after.nested(key.name)) {
        return found.extend(differences(address, &before, &after));
    }
    let (old, new) = (before.get(key.name), after.get(key.name));
    match (old.map(|setting| &setting.value), new.map(|setting| &setting.value)) {
        (None, None) => {}
        (Some(Value::Tables(old)), Some(Value::Tables(new))) if old.len() == new.len() => {
            for (number, (old, new)) in old.iter().zip(new).enumerate() {
                let [old, new] = [old, new].map(|settings| Layers::new(settings.table, [settings]));
                found.extend(differences(&joined(address, &(number + 1).to_string()), &old, &new));
            }
        }
        (old, Some(Value::Lines(new))) => {
            let old: &[Line] = match old {
                Some(Value::Lines(old)) => old,
                _ => &[],
            };
            found.extend(new.iter().filter_map(|line| of_bars(address, line, old)));
        }
        (old, Some(Value::Levels(new))) => {
            let old: &[(Words, Option<f64>)] = match old {
                Some(Value::Levels(old)) => old,
                _ => &[],
            };
            let level = |levels: &[(Words, Option<f64>)], name: &str| {
                let level = levels.iter().find(|(of, _)| of.text == name);
                level.and_then(|(_, db)| *db).map_or("off".into(), |db| db.to_string())
            };
            for (name, _) in new {
                let (old, new) = (level(old, &name.text), level(new, &name.text));
                found.extend(differ(joined(address, &name.text), old, new));
            }
        }
        (old, Some(Value::Named(new))) => {
            let Kind::Named(table) = key.kind else { return };
            for (name, new) in new {
                let old = match old {
                    Some(Value::Named(old)) => old.iter().find(|(of, _)| of.text == name.text),
                    _ => None,
                };
                // Where these bars say nothing of a key, what the part says holds in them.
                let new_over = after.beneath(table, new);
                let old_over = old.map_or(before.clone(), |(_, old)| before.beneath(table, old));
                for key in table.keys().filter(|key| new.get(key.name).is_some()) {
                    let address = joined(&joined(address, &name.text), key.name);
                    one(&address, key, &old_over, &new_over, found);
                }
            }
        }
        _ => found.extend(differ(address.to_string(), said(key, before), said(key, after))),
    }
}

fn joined(address: &str, name: &str) -> String {
    match address {
        "" => name.to_string(),
        address => format!("{address}.{name}"),
    }
}

fn differ(key: String, before: String, after: String) -> Option<Difference> {
    (before != after).then_some(Difference {
        key,
        before: Some(before),
        after,
    })
}

/// What a line plays that `before` does not have.
fn of_bars(address: &str, line: &Line, before: &[Line]) -> Option<Difference> {
    let play = |line: &Line| {
        let texts: Vec<String> = line.play.iter().map(|words| flat(&words.text)).collect();
        let swell = line.swell.map(|(first, last)| format!(", swell {first}-{last}"));
        format!("{}{}", texts.join(", "), swell.unwrap_or_default())
    };
    let mut same_bars = before.iter().filter(|old| old.bars.text == line.bars.text);
    if same_bars.clone().any(|old| play(old) == play(line)) {
        return None;
    }
    Some(Difference {
        key: match line.bars.text.as_str() {
            "all" => address.to_string(),
            bars => joined(address, bars),
        },
        before: same_bars.next_back().map(play),
        after: play(line),
    })
}

/// What layers say of a key, in words: a table as it stands in braces, and a number where that is all it says.
fn said(key: &Key, layers: &Layers) -> String {
    match (layers.nested(key.name), layers.get(key.name)) {
        (Some(table), _) => in_braces(&key.kind, &table),
        (None, Some(setting)) => shown(setting),
        (None, None) => key.standard.shown().trim_matches('"').to_string(),
    }
}

fn in_braces(kind: &Kind, table: &Layers) -> String {
    let said_keys = || table.table().keys().filter(|key| table.says(key.name));
    if let (Kind::TableOr(_, main), 1) = (kind, said_keys().count())
        && let Some(number) = table.get(main)
    {
        return shown(number);
    }
    let keys: Vec<String> = said_keys()
        .map(|key| format!("{} = {}", key.name, said(key, table)))
        .collect();
    format!("{{ {} }}", keys.join(", "))
}

fn shown(setting: &Setting) -> String {
    match &setting.value {
        Value::Off => "off".into(),
        Value::Number(number) => number.to_string(),
        Value::Integer(number) => number.to_string(),
        Value::Switch(on) => on.to_string(),
        Value::Text(words) => flat(&words.text),
        _ => {
            let place = &setting.place;
            flat(
                place
                    .source
                    .text
                    .get(place.span.clone())
                    .unwrap_or("")
                    .trim_matches('"'),
            )
        }
    }
}

/// A text in one line.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::{Table, parse, read_table};
    use crate::text::{Place, Source};

    /// The differences of two texts of a part.
    fn between(before: &str, after: &str) -> Vec<String> {
        let [before, after] = [before, after].map(|text| {
            let source = Source::new("part.toml", text);
            let place = Place {
                source: source.clone(),
                span: 0..0,
            };
            let mut problems = Vec::new();
            let entries = parse(&source, &mut problems);
            let settings = read_table(Table::Part, &place, &entries, &mut problems);
            assert_eq!(problems, []);
            settings
        });
        let [before, after] = [&before, &after].map(|settings| Layers::new(Table::Part, [settings]));
        let told = differences("snare", &before, &after).into_iter();
        told.map(|one| format!("{} {} > {}", one.key, one.before.unwrap_or_default(), one.after))
            .collect()
    }

    #[test]
    fn every_kind_of_value_is_named_with_what_it_was() {
        let none: [&str; 0] = [];
        assert_eq!(between("gain = 0\ndrive = 3", "drive = { amount = 3 }"), none);
        assert_eq!(between("", "gain = 2"), ["snare.gain 0 > 2"]);
        assert_eq!(between("room = -9", ""), ["snare.room -9 > off"]);
        assert_eq!(
            between(
                "drive = { amount = 4, blend = 40 }",
                "drive = { amount = 6, blend = 40 }"
            ),
            ["snare.drive.amount 4 > 6"]
        );
        assert_eq!(between("", "drive = 6"), ["snare.drive off > 6"]);
        assert_eq!(
            between("drive = { amount = 4, blend = 40 }", "drive = \"off\""),
            ["snare.drive { amount = 4, blend = 40 } > off"]
        );
        assert_eq!(
            between("eq = [{ at = 100, gain = 1 }]", "eq = [{ at = 100, gain = 2 }]"),
            ["snare.eq.1.gain 1 > 2"]
        );
        assert_eq!(
            between("sends = { hall = -9 }", "sends = { hall = -9, slap = -3 }"),
            ["snare.sends.slap off > -3"]
        );
        assert_eq!(
            between(
                "hits = { all = 'x', 2 = 'xx' }",
                "hits = { all = 'x', 2 = 'X  X', 3 = 'x-' }"
            ),
            ["snare.hits.2 xx > X X", "snare.hits.3  > x-"]
        );
        assert_eq!(
            between(
                "voicing = 'open'",
                "voicing = 'open'\nchange = { 4 = { voicing = 'shell' } }"
            ),
            ["snare.change.4.voicing open > shell"]
        );
    }
}
