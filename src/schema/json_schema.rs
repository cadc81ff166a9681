//! The registry as a JSON schema (draft 2020-12), for editors that check a file while it is written.
//!
//! A schema knows types, ranges and names; it does not read marks, chords or notes, which stand in texts, nor what one
//! setting means for another. It never refuses what the parser takes.

use serde_json::{Map, Value, json};

use super::kind::Kind;
use super::note_values::INTERVALS;
use super::registry::sends;
use super::setting::{DefaultValue, Setting};
use super::table::Table;

/// The schema of a file: of [`Table::LoopFile`], [`Table::FormFile`], [`Table::KitFile`] or [`Table::CatalogueFile`].
pub(crate) fn schema(file: Table) -> Value {
    let mut tables = Map::new();
    define(file, &mut tables);
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": format!("pressroll: {}", plainly(file.title())),
        "$ref": reference(file),
        "$defs": tables,
    })
}

/// Puts a table and all tables in it among the definitions.
fn define(table: Table, tables: &mut Map<String, Value>) {
    let name = name(table);
    if tables.contains_key(&name) {
        return;
    }
    // Taken before it is filled: a table may hold itself by way of others.
    tables.insert(name.clone(), Value::Null);
    let mut properties = Map::new();
    for setting in table.settings() {
        inner(&setting.kind).into_iter().for_each(|table| define(table, tables));
        properties.insert(setting.name.into(), property(setting));
    }
    let needed = table
        .settings()
        .filter(|setting| setting.default == DefaultValue::Required);
    let required: Vec<&str> = needed.map(|setting| setting.name).collect();
    let mut definition = json!({ "type": "object", "properties": properties, "additionalProperties": false });
    if !required.is_empty() {
        definition["required"] = json!(required);
    }
    tables.insert(name, definition);
}

/// The tables that a setting's value may be or hold.
fn inner(kind: &Kind) -> Vec<Table> {
    match kind {
        Kind::Table(table) | Kind::TableOr(table, _) | Kind::Tables(table) | Kind::Named(table) => vec![*table],
        Kind::Hits | Kind::Phrase(..) | Kind::Tablature => vec![Table::Swell],
        Kind::Accents => vec![Table::Swell, Table::Accents],
        Kind::Recording | Kind::Recordings => vec![Table::Pair],
        _ => Vec::new(),
    }
}

fn name(table: Table) -> String {
    format!("{table:?}")
}

fn reference(table: Table) -> Value {
    json!(format!("#/$defs/{}", name(table)))
}

fn plainly(title: &str) -> String {
    title.replace('`', "")
}

/// A setting: what it takes, its sentence, and its default where that is a value.
fn property(setting: &Setting) -> Value {
    let mut takes = takes(&setting.kind);
    if setting.off {
        takes = either(vec![takes, json!({ "const": "off" })]);
    }
    let Some(property) = takes.as_object_mut() else {
        return takes;
    };
    property.insert(
        "description".into(),
        json!(format!("{} Default: {}.", setting.doc, setting.default.shown())),
    );
    let default = match setting.default {
        DefaultValue::Number(number) => Some(json!(number)),
        DefaultValue::Whole(number) => Some(json!(number)),
        DefaultValue::Text(text) => Some(json!(text)),
        DefaultValue::Switch(on) => Some(json!(on)),
        DefaultValue::Off => Some(json!("off")),
        DefaultValue::Described(_) | DefaultValue::Required => None,
    };
    property.extend(default.map(|default| ("default".to_string(), default)));
    takes
}

fn takes(kind: &Kind) -> Value {
    match kind {
        Kind::Number(from, to, _) => json!({ "type": "number", "minimum": from, "maximum": to }),
        Kind::Whole(from, to, _) => json!({ "type": "integer", "minimum": from, "maximum": to }),
        Kind::Numbers(from, to, _) => {
            let number = json!({ "type": "number", "minimum": from, "maximum": to });
            either(vec![
                number.clone(),
                json!({ "type": "array", "minItems": 1, "items": number }),
            ])
        }
        Kind::Text | Kind::Name(_) | Kind::Path => text(),
        Kind::Choice(words) => json!({ "enum": words }),
        Kind::Switch => json!({ "type": "boolean" }),
        Kind::NoteValue => pattern(&format!(r"^\s*{NOTE_VALUE}\s*$")),
        Kind::Time => pattern(&format!(r"^\s*({NOTE_VALUE}|{DECIMAL}\s*ms)\s*$")),
        Kind::Metre => pattern(r"^\s*\d+\s*/\s*\d+\s*$"),
        Kind::Velocities | Kind::Swell => pattern(&format!(r"^\s*{DECIMAL}\s*-\s*{DECIMAL}\s*$")),
        Kind::Pitch => either(vec![text(), json!({ "type": "number", "minimum": 0, "maximum": 127 })]),
        Kind::Note | Kind::Key => text(),
        Kind::Interval => either(vec![
            json!({ "type": "integer", "minimum": -48, "maximum": 48 }),
            pattern(&format!(r"^\s*({})\s+(above|below)\s*$", INTERVALS.join("|"))),
        ]),
        Kind::Paths | Kind::Names(_) => either(vec![
            json!({ "type": "string", "minLength": 1 }),
            json!({ "type": "array", "minItems": 1, "items": { "type": "string", "minLength": 1 } }),
        ]),
        Kind::Recording => recording(),
        Kind::LoopPoints => {
            let point = either(vec![
                json!({ "type": "integer", "minimum": 0 }),
                pattern(&format!(r"^\s*{DECIMAL}\s*m?s\s*$")),
            ]);
            json!({ "type": "array", "minItems": 2, "maxItems": 2, "items": point })
        }
        Kind::Recordings => either(vec![
            recording(),
            json!({ "type": "array", "minItems": 1, "items": recording() }),
        ]),
        Kind::Table(table) => json!({ "$ref": reference(*table) }),
        Kind::TableOr(table, name) => {
            let number = table.setting(name).map(|setting| takes(&setting.kind));
            either(
                number
                    .into_iter()
                    .chain([json!({ "$ref": reference(*table) })])
                    .collect(),
            )
        }
        Kind::Tables(table) => json!({ "type": "array", "items": { "$ref": reference(*table) } }),
        Kind::Named(table) => by_name(json!({ "$ref": reference(*table) })),
        _ => lines(kind),
    }
}

/// What holds lines, or values by names that are the person's own.
fn lines(kind: &Kind) -> Value {
    let counted = json!({ "type": "array", "items": { "type": "string" } });
    let words = json!({ "type": "string" });
    let line = either(vec![words.clone(), counted]);
    let swells = either(vec![line.clone(), json!({ "$ref": reference(Table::Swell) })]);
    match kind {
        Kind::Levels => by_name(either(vec![takes(&sends::ROOM.kind), json!({ "const": "off" })])),
        Kind::Marks => {
            json!({ "type": "object", "additionalProperties": text(), "propertyNames": { "maxLength": 1, "minLength": 1 } })
        }
        Kind::NoteNumbers => {
            let number = json!({ "pattern": r"^\+?0*(\d|[1-9]\d|1[01]\d|12[0-7])$" });
            json!({ "type": "object", "additionalProperties": text(), "propertyNames": number })
        }
        Kind::NamesByName(of) => by_name(takes(&Kind::Names(of))),
        Kind::Hits | Kind::Phrase(..) => either(vec![swells.clone(), by_name(swells)]),
        Kind::Bars(_) => either(vec![words.clone(), by_name(words)]),
        Kind::Line => line,
        Kind::Tablature => by_name(either(vec![words, json!({ "$ref": reference(Table::Swell) })])),
        Kind::Accents => {
            let own = json!({ "$ref": reference(Table::Accents) });
            let mut accents = by_name(either(vec![swells, own]));
            let own = Table::Accents.settings().map(|setting| {
                let place = format!("#/$defs/{}/properties/{}", name(Table::Accents), setting.name);
                (setting.name.to_string(), json!({ "$ref": place }))
            });
            accents["properties"] = own.collect::<Map<_, _>>().into();
            accents
        }
        // What an address takes depends on the loop's own parts, rooms and buses.
        _ => json!({ "type": "object" }),
    }
}

const NOTE_VALUE: &str = r"\d+/\d+(\s+(dotted|triplet))?";
const DECIMAL: &str = r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?";

fn text() -> Value {
    json!({ "type": "string", "pattern": r"\S" })
}

fn recording() -> Value {
    either(vec![text(), json!({ "$ref": reference(Table::Pair) })])
}

fn pattern(pattern: &str) -> Value {
    json!({ "type": "string", "pattern": pattern })
}

fn by_name(value: Value) -> Value {
    json!({ "type": "object", "additionalProperties": value })
}

fn either(shapes: Vec<Value>) -> Value {
    match <[Value; 1]>::try_from(shapes) {
        Ok([only]) => only,
        Err(shapes) => json!({ "anyOf": shapes }),
    }
}

#[cfg(test)]
#[path = "json_schema_tests.rs"]
mod tests;
