use jsonschema::Validator;

use super::*;
use crate::schema;
use crate::schema::{complete, parse_value, read_setting};
use crate::text::{Place, Source};

const FILES: [Table; 4] = [Table::LoopFile, Table::FormFile, Table::KitFile, Table::CatalogueFile];

/// Values of every shape, at and beyond the ends of what settings take, and words of every kind that they read.
fn candidates() -> Vec<String> {
    let numbers = [
        "-1e9", "-120.5", "-120", "-100", "-48", "-1", "-0.5", "0", "0.5", "1", "1.0", "2.5", "8", "32", "64", "100",
        "101", "127", "128", "400", "512", "513", "10000", "10001", "60000", "600001", "1e12",
    ];
    let texts = [
        "off",
        "",
        " ",
        "x",
        "kick",
        "close",
        "drop 2",
        "up",
        "repeat",
        "parts",
        "1/8",
        "1/8 dotted",
        " 1/4  triplet ",
        "1/3",
        "180 ms",
        "1.5e2ms",
        "4/4",
        " 6 / 8 ",
        "70-110",
        "110-70",
        "1 - 127",
        "0-5",
        "C4",
        "G minor",
        "60",
        "third below",
        "sixth  above",
        "thirds",
        "1-4",
        "every 4 bars",
        "x-x- x-x-",
        "5 in 16",
    ];
    let shapes = [
        "true",
        "false",
        "[]",
        "[1]",
        "[\"a\"]",
        "[\"1 X\", \"2& x\"]",
        "[\"\"]",
        "{}",
        "[{}]",
        "{ a = 1 }",
        "{ a = \"x\" }",
        "{ a = {} }",
        "{ hall = -20 }",
        "{ hall = \"off\" }",
        "{ hall = 99 }",
        "{ o = \"hat-open\" }",
        "{ oo = \"hat-open\" }",
        "{ 36 = \"kick\" }",
        "{ 036 = \"kick\" }",
        "{ 128 = \"kick\" }",
        "{ \"1-4\" = \"x---\" }",
        "{ \"4\" = [\"1 X\"] }",
        "{ swell = \"50-118\", play = \"bbbb\" }",
        "{ swell = \"50-118\" }",
        "{ all = { swell = \"50-118\", play = \"bbbb\" } }",
        "{ all = { hits = \"x\", parts = \"kick\" } }",
        "{ hits = \"x\", parts = [\"kick\"] }",
        "{ ms = 20 }",
        "{ amount = 3 }",
        "{ step = \"1/8\" }",
        "{ decay = 200 }",
        "[{ at = 350, gain = -3 }]",
        "[{ at = 1 }]",
        "{ by = \"kick\" }",
        "{ by = 3 }",
        "{ left = \"a\", right = \"b\" }",
        "{ left = \"a\" }",
        "[100, 2000]",
        "[2000, 100]",
        "[\"0.1 s\", \" 900ms \"]",
        "[\"0.1\", 3]",
        "[\"a\", { left = \"a\", right = \"b\" }]",
        "[{ interval = \"third below\" }]",
        "{ \"bass.gain\" = 2 }",
        "{ a = { voicing = \"shell\" } }",
        "{ a = { voicing = \"shel\" } }",
    ];
    let quoted = texts.iter().map(|text| format!("{text:?}"));
    let plain = numbers.iter().chain(&shapes).map(|value| value.to_string());
    plain.chain(quoted).collect()
}

/// True where the parser takes a value for a setting, and all that is in it is there.
fn parsed(setting: &Setting, toml: &str) -> bool {
    let source = Source::new("a test", toml);
    let place = Place {
        source: source.clone(),
        span: 0..0,
    };
    let node = parse_value(&source, 0..toml.len()).expect("the candidates are TOML");
    let mut problems = Vec::new();
    let value = read_setting(setting, &place, &node, &mut problems);
    match &value {
        Some(schema::Value::Table(inner)) => complete(inner, &mut problems),
        Some(schema::Value::Tables(tables)) => tables.iter().for_each(|inner| complete(inner, &mut problems)),
        Some(schema::Value::Named(tables)) => tables.iter().for_each(|(_, inner)| complete(inner, &mut problems)),
        _ => {}
    }
    value.is_some() && problems.is_empty()
}

/// The value as JSON.
fn json_of(toml: &str) -> Value {
    let table: toml::Table = toml::from_str(&format!("value = {toml}")).expect("the candidates are TOML");
    serde_json::to_value(&table["value"]).expect("no candidate is a date")
}

fn validator(schema: &Value) -> Validator {
    jsonschema::draft202012::new(schema).expect("the schema is one")
}

fn of_key(schema: &Value, table: Table, setting: &Setting) -> Validator {
    let own = format!("#/$defs/{}/properties/{}", name(table), setting.name);
    validator(&json!({ "$ref": own, "$defs": schema["$defs"] }))
}

/// Kinds whose values are words that a schema can't read to the end.
fn is_worded(kind: &Kind) -> bool {
    !matches!(
        kind,
        Kind::Number(..)
            | Kind::Whole(..)
            | Kind::Switch
            | Kind::Choice(_)
            | Kind::Levels
            | Kind::Marks
            | Kind::NoteNumbers
    )
}

#[test]
fn the_schema_takes_what_the_parser_takes_and_refuses_wrong_types_ranges_and_names() {
    let candidates: Vec<(String, Value)> = candidates()
        .into_iter()
        .map(|toml| (toml.clone(), json_of(&toml)))
        .collect();
    let (mut taken, mut refused) = (0, 0);
    for file in FILES {
        let schema = schema(file);
        for table in Table::ALL
            .iter()
            .filter(|table| schema["$defs"].get(name(**table)).is_some())
        {
            for setting in table.settings() {
                let valid = of_key(&schema, *table, setting);
                for (toml, json) in &candidates {
                    let (parser, schema) = (parsed(setting, toml), valid.is_valid(json));
                    taken += usize::from(parser && schema);
                    refused += usize::from(!parser && !schema);
                    assert!(
                        schema || !parser,
                        "`{}` takes {toml}, but the schema does not",
                        setting.name
                    );
                    assert!(
                        parser || !schema || is_worded(&setting.kind),
                        "the schema takes {} = {toml}",
                        setting.name
                    );
                }
            }
        }
    }
    // Both answers are common, or the candidates would try nothing.
    assert!(taken > 500 && refused > 5000, "{taken} taken, {refused} refused");
}

#[test]
fn keys_that_are_unknown_or_lacking_are_refused() {
    let valid = validator(&schema(Table::LoopFile));
    let is_valid = |toml: &str| {
        let table: toml::Table = toml::from_str(toml).expect("TOML");
        valid.is_valid(&serde_json::to_value(&table).expect("no dates"))
    };
    assert!(is_valid("loop = { tempo = 92, bars = 8 }"));
    assert!(!is_valid("loop = { tempo = 92 }"));
    assert!(!is_valid("loop = { tempo = 92, bars = 8, temp = 3 }"));
    assert!(!is_valid("loop = { tempo = 92, bars = 8 }\nmastre = {}"));
    assert!(!is_valid("loop = { tempo = 92, bars = 8 }\npart = [{ gain = 2 }]"));
    assert!(is_valid(
        "loop = { tempo = 92, bars = 8 }\npart = [{ name = \"kick\", gain = 2 }]"
    ));
}

/// Every file that comes with pressroll.
#[test]
fn the_demo_files_are_valid() {
    let mut seen = 0;
    let kits = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("kits");
    for kit in std::fs::read_dir(kits).expect("kits").flatten() {
        let loops = std::fs::read_dir(kit.path().join("loops"))
            .into_iter()
            .flatten()
            .flatten()
            .map(|entry| entry.path());
        for path in loops
            .chain([kit.path().join("kit.toml")])
            .filter(|path| path.extension().is_some_and(|end| end == "toml"))
        {
            let Ok(text) = std::fs::read_to_string(&path) else {
                continue;
            };
            let file = match () {
                () if path.ends_with("kit.toml") => Table::KitFile,
                () if text.contains("[form]") => Table::FormFile,
                () if text.contains("[catalogue]") => Table::CatalogueFile,
                () => Table::LoopFile,
            };
            let table: toml::Table = toml::from_str(&text).expect("TOML");
            let json = serde_json::to_value(&table).expect("no dates");
            let valid = validator(&schema(file));
            let errors: Vec<String> = valid.iter_errors(&json).map(|error| error.to_string()).collect();
            assert!(errors.is_empty(), "{}: {errors:?}", path.display());
            seen += 1;
        }
    }
    assert!(seen > 4, "{seen} files");
}
