//! The settings of a loop's sound, one by one, as its file has them: for whoever moves them by hand.

use super::KitDefaults;
use super::as_written::AsWritten;
use crate::schema::{DefaultValue, Kind, Layers, PlacedValue, Setting, Settings, Table, Value, loop_table};

/// A setting of a loop, and what holds.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct AtHand {
    /// The address of the part, bus or table that it belongs to.
    pub table: String,
    /// What that is called, where it has a name beside its address.
    pub called: Option<String>,
    /// Its own address, as `--set` takes it.
    pub key: String,
    /// The setting.
    pub setting: &'static Setting,
    /// True where the loop says something of it: its file, its mix or an option.
    pub written: bool,
    /// What holds, as `--set` takes it; none where that follows from elsewhere.
    pub value: Option<String>,
    /// True where the effect that it belongs to is off until something is said of it.
    pub idle: bool,
}

impl AsWritten {
    /// The settings of parts, buses, rooms, delays, feel and master that are a number, a choice, a time or a switch, and the tempo;
    /// of a form its own and its master's. In the order of the file and of the registry.
    pub(crate) fn at_hand(&self, kit: &KitDefaults) -> Vec<AtHand> {
        let spaces: Vec<&str> = self.spaces().collect();
        let mut rows = Vec::new();
        for table in self.tables() {
            let layers = Walk {
                table: &table.address,
                own: Layers::new([&table.settings]),
                all: table.layers(kit),
                idle: false,
            };
            for setting in settings(table.settings.table) {
                layers.setting(
                    &format!("{}.{}", table.address, setting.name),
                    setting,
                    &spaces,
                    &mut rows,
                );
            }
        }
        rows
    }
}

/// The settings of a table that say how it sounds. Of those of a loop as a whole that is the tempo: the others say what there is to play.
fn settings(table: Table) -> impl Iterator<Item = &'static Setting> {
    let groups: &[Table] = match table {
        Table::Part => &[Table::Strip, Table::Sends, Table::Sound, Table::Playing],
        Table::Bus => &[Table::Strip, Table::Sends, Table::Bus],
        Table::Master => &[Table::Strip, Table::Master],
        Table::Room => &[Table::Room],
        Table::Delay => &[Table::Delay],
        Table::Feel => &[Table::Feel],
        Table::Loop => &[Table::Loop],
        Table::Form => &[Table::Form],
        _ => &[],
    };
    let own = groups.iter().flat_map(|group| group.own());
    own.filter(move |setting| table != Table::Loop || setting.name == loop_table::TEMPO.name)
}

/// A table's values: the loop's own alone, and with those of its kit beneath.
struct Walk<'a> {
    table: &'a str,
    own: Layers<'a>,
    all: Layers<'a>,
    idle: bool,
}

impl Walk<'_> {
    fn setting(&self, key: &str, setting: &'static Setting, spaces: &[&str], rows: &mut Vec<AtHand>) {
        let placed = self.all.placed(*setting);
        match (setting.kind, placed.map(|placed| &placed.value)) {
            (Kind::Number(..) | Kind::Choice(_) | Kind::Switch | Kind::NoteValue | Kind::Time, _) => {
                rows.push(AtHand {
                    table: self.table.to_string(),
                    called: None,
                    key: key.to_string(),
                    setting,
                    written: self.own.says(*setting),
                    value: placed.map_or_else(|| default(setting), said),
                    idle: self.idle,
                })
            }
            (Kind::Table(table) | Kind::TableOr(table, _), _) => {
                let nothing = Settings::empty(table, self.all.place());
                let all = self.all.nested(*setting);
                // A value alone is not enough to switch on what lacks something else.
                if all.is_none() && table.own().iter().any(|own| own.default == DefaultValue::Required) {
                    return;
                }
                let inner = Walk {
                    table: self.table,
                    own: self.own.nested(*setting).unwrap_or_else(|| Layers::new([&nothing])),
                    idle: self.idle || all.is_none(),
                    all: all.unwrap_or_else(|| Layers::new([&nothing])),
                };
                for setting in table.own() {
                    inner.setting(&format!("{key}.{}", setting.name), setting, spaces, rows);
                }
            }
            (Kind::Tables(_), Some(Value::Tables(tables))) => {
                for (number, table) in tables.iter().enumerate() {
                    let layers = || Layers::new([table]);
                    let (own, all) = (layers(), layers());
                    let inner = Walk {
                        table: self.table,
                        own,
                        all,
                        idle: false,
                    };
                    for setting in table.table.own() {
                        let key = format!("{key}.{}.{}", number + 1, setting.name);
                        inner.setting(&key, setting, spaces, rows);
                    }
                }
            }
            (Kind::Levels, value) => {
                let written = |space: &str| match value {
                    Some(Value::Levels(levels)) => levels.iter().find(|(name, _)| name.text == space),
                    _ => None,
                };
                rows.extend(spaces.iter().map(|space| AtHand {
                    table: self.table.to_string(),
                    called: None,
                    key: format!("{key}.{space}"),
                    setting: level(),
                    written: written(space).is_some(),
                    value: Some(match written(space) {
                        Some((_, Some(db))) => db.to_string(),
                        _ => "off".into(),
                    }),
                    idle: self.idle,
                }));
            }
            _ => {}
        }
    }
}

/// One level of `sends`.
fn level() -> &'static Setting {
    Table::Sends.setting("room").expect("every strip has one")
}

/// A value as `--set` takes it.
fn said(placed: &PlacedValue) -> Option<String> {
    match &placed.value {
        Value::Off => Some("off".into()),
        Value::Number(number) => Some(number.to_string()),
        Value::Switch(on) => Some(on.to_string()),
        Value::Text(words) => Some(words.text.clone()),
        Value::Length(_) => {
            let text = placed.place.source.text.get(placed.place.span.clone())?;
            Some(text.trim_matches(['"', '\'']).to_string())
        }
        _ => None,
    }
}

/// What holds where nobody says anything.
fn default(setting: &Setting) -> Option<String> {
    match setting.default {
        DefaultValue::Number(number) => Some(number.to_string()),
        DefaultValue::Whole(number) => Some(number.to_string()),
        DefaultValue::Text(text) => Some(text.to_string()),
        DefaultValue::Switch(on) => Some(on.to_string()),
        DefaultValue::Off => Some("off".into()),
        DefaultValue::Described(_) | DefaultValue::Required => None,
    }
}
