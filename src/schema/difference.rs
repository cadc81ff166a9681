//! What sets two readings of one table apart, setting by setting.

use super::kind::Kind;
use super::layers::Layers;
use super::setting::Setting;
use super::settings::{Levels, Pattern, PlacedValue, Value};
use super::table::Table;

/// A setting whose value differs.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "cli", derive(serde::Serialize))]
pub struct Difference {
    /// The address of the setting, as `set` takes it.
    pub key: String,
    /// Its value before, the registry's standard where nobody gave one; none for bars that no line named by themselves.
    pub before: Option<String>,
    /// Its value after.
    pub after: String,
}

/// The settings of a table whose values differ, in the order of the registry; `address` is the table's own.
pub(crate) fn differences(address: &str, table: Table, before: &Layers, after: &Layers) -> Vec<Difference> {
    let mut found = Vec::new();
    for setting in table.settings() {
        one(&joined(address, setting.name), setting, before, after, &mut found);
    }
    found
}

fn one(address: &str, setting: &Setting, before: &Layers, after: &Layers, found: &mut Vec<Difference>) {
    if let Kind::Table(table) | Kind::TableOr(table, _) = setting.kind
        && let (Some(before), Some(after)) = (before.nested(*setting), after.nested(*setting))
    {
        return found.extend(differences(address, table, &before, &after));
    }
    let (old, new) = (before.placed(*setting), after.placed(*setting));
    match (old.map(|placed| &placed.value), new.map(|placed| &placed.value)) {
        (None, None) => {}
        (Some(Value::Tables(old)), Some(Value::Tables(new))) if old.len() == new.len() => {
            for (number, (old, new)) in old.iter().zip(new).enumerate() {
                let address = joined(address, &(number + 1).to_string());
                let layers = |settings| Layers::new([settings]);
                found.extend(differences(&address, new.table, &layers(old), &layers(new)));
            }
        }
        (old, Some(Value::Patterns(new))) => {
            let old: &[Pattern] = match old {
                Some(Value::Patterns(old)) => old,
                _ => &[],
            };
            found.extend(new.iter().filter_map(|line| of_bars(address, line, old)));
        }
        (old, Some(Value::Levels(new))) => {
            let old: &Levels = match old {
                Some(Value::Levels(old)) => old,
                _ => &Vec::new(),
            };
            let level = |levels: &Levels, name: &str| {
                let level = levels.iter().find(|(of, _)| of.text == name);
                level.and_then(|(_, db)| *db).map_or("off".into(), |db| db.to_string())
            };
            for (name, _) in new {
                let (old, new) = (level(old, &name.text), level(new, &name.text));
                found.extend(differ(joined(address, &name.text), old, new));
            }
        }
        (old, Some(Value::Named(new))) => {
            let Kind::Named(table) = setting.kind else { return };
            for (name, new) in new {
                let old = match old {
                    Some(Value::Named(old)) => old.iter().find(|(of, _)| of.text == name.text),
                    _ => None,
                };
                // Where these bars say nothing of a setting, what the part says holds in them.
                let new_over = after.beneath(new);
                let old_over = old.map_or(before.clone(), |(_, old)| before.beneath(old));
                for setting in table.settings().filter(|setting| new.placed(**setting).is_some()) {
                    let address = joined(&joined(address, &name.text), setting.name);
                    one(&address, setting, &old_over, &new_over, found);
                }
            }
        }
        _ => found.extend(differ(address.to_string(), said(setting, before), said(setting, after))),
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
fn of_bars(address: &str, line: &Pattern, before: &[Pattern]) -> Option<Difference> {
    let play = |line: &Pattern| {
        let texts: Vec<String> = line.texts().iter().map(|words| flat(&words.text)).collect();
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

/// What layers say of a setting, in words: a table as it stands in braces, and a number where that is all it says.
fn said(setting: &Setting, layers: &Layers) -> String {
    match (layers.nested(*setting), layers.placed(*setting), setting.kind) {
        (Some(inner), _, Kind::Table(table)) => in_braces(table, &inner),
        (Some(inner), _, Kind::TableOr(table, main)) => {
            match table.setting(main).and_then(|main| inner.placed(*main)) {
                Some(number) if spoken(table, &inner).count() == 1 => shown(number),
                _ => in_braces(table, &inner),
            }
        }
        (_, Some(placed), _) => shown(placed),
        (_, None, _) => setting.default.shown().trim_matches('"').to_string(),
    }
}

/// The settings of a table that layers speak of.
fn spoken(table: Table, layers: &Layers) -> impl Iterator<Item = &'static Setting> {
    table.settings().filter(|setting| layers.says(**setting))
}

fn in_braces(table: Table, layers: &Layers) -> String {
    let settings = spoken(table, layers).map(|setting| format!("{} = {}", setting.name, said(setting, layers)));
    format!("{{ {} }}", settings.collect::<Vec<_>>().join(", "))
}

fn shown(placed: &PlacedValue) -> String {
    match &placed.value {
        Value::Off => "off".into(),
        Value::Number(number) => number.to_string(),
        Value::Whole(number) => number.to_string(),
        Value::Switch(on) => on.to_string(),
        Value::Text(words) => flat(&words.text),
        _ => {
            let text = placed.place.source.text.get(placed.place.span.clone());
            flat(text.unwrap_or("").trim_matches('"'))
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
    use crate::schema::{parse, read_table};
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
        let [before, after] = [&before, &after].map(|settings| Layers::new([settings]));
        let told = differences("snare", Table::Part, &before, &after).into_iter();
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
