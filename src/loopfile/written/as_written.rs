//! What a file says, key by key, once mixes and settings have changed it: for whoever reports what they changed.

use super::KitDefaults;
use super::tables::{LoopTables, PartTable};
use crate::schema::{
    Difference, Layers, Pattern, PlacedValue, Settings, Table, Value, differences, form_file, loop_file, part, playing,
};

/// The tables of a file, as they were changed.
#[derive(Debug, Clone)]
pub struct AsWritten(Vec<TableAsWritten>);

/// A table by its address.
#[derive(Debug, Clone)]
pub(super) struct TableAsWritten {
    pub(super) address: String,
    pub(super) settings: Settings,
    /// The piece of a part, of which a kit may say something.
    piece: Option<String>,
}

impl AsWritten {
    pub(crate) fn of(written: &LoopTables) -> AsWritten {
        let table = |address: &str, settings: &Settings| named(address.to_string(), settings.clone());
        let mut tables = vec![
            table(loop_file::LOOP.name, &written.song),
            table(loop_file::FEEL.name, &written.feel),
        ];
        let mut file = Settings::empty(Table::LoopFile, written.song.place.clone());
        file.set(loop_file::CHORDS, lines(written.chords.clone(), &written.song));
        tables.push(named(String::new(), file));
        tables.extend(written.parts.iter().map(part));
        tables.extend(written.buses.iter().map(|(name, bus)| table(&name.text, bus)));
        for (number, space) in written.spaces.iter().enumerate() {
            let within = match (number, space.settings.table) {
                (0 | 1, _) => "",
                (_, Table::Room) => "rooms.",
                _ => "delays.",
            };
            tables.push(table(&format!("{within}{}", space.name.text), &space.settings));
        }
        tables.push(table(loop_file::MASTER.name, &written.master));
        AsWritten(tables)
    }

    /// A form's own table and its own master, where it has one.
    pub(crate) fn of_form(form: &Settings, master: Option<&Settings>) -> AsWritten {
        let form = named(form_file::FORM.name.into(), form.clone());
        let master = master.map(|master| named(form_file::MASTER.name.into(), master.clone()));
        AsWritten(std::iter::once(form).chain(master).collect())
    }

    /// The tables, by address.
    pub(super) fn tables(&self) -> impl Iterator<Item = &TableAsWritten> {
        self.0.iter()
    }

    /// The names of rooms and delays that `sends` can name: those that go by a name of their own.
    pub(super) fn spaces(&self) -> impl Iterator<Item = &str> {
        self.0.iter().filter_map(|table| Some(table.address.split_once('.')?.1))
    }

    /// The keys that another version of the same file has otherwise, each version on what its kit says of its pieces.
    pub fn differences(&self, kit: &KitDefaults, (other, others): (&AsWritten, &KitDefaults)) -> Vec<Difference> {
        let pairs = self.0.iter().zip(&other.0);
        let told = pairs.flat_map(|(one, other)| {
            differences(
                &one.address,
                one.settings.table,
                &one.layers(kit),
                &other.layers(others),
            )
        });
        told.collect()
    }
}

impl TableAsWritten {
    pub(super) fn layers<'a>(&'a self, kit: &'a KitDefaults) -> Layers<'a> {
        let kit = self.piece.as_ref().and_then(|piece| kit.get(piece));
        Layers::new(std::iter::once(&self.settings).chain(kit))
    }
}

fn named(address: String, settings: Settings) -> TableAsWritten {
    TableAsWritten {
        address,
        settings,
        piece: None,
    }
}

/// A part with the hits that it has in `[tab]` among its keys.
fn part(part: &PartTable) -> TableAsWritten {
    let mut settings = part.settings.clone();
    settings.set(part::HITS, lines(part.lines.clone(), &part.settings));
    let piece = part.settings.get(playing::PIECE).unwrap_or(&part.name);
    TableAsWritten {
        address: part.name.text.clone(),
        settings,
        piece: Some(piece.text.clone()),
    }
}

fn lines(lines: Vec<Pattern>, of: &Settings) -> PlacedValue {
    PlacedValue {
        value: Value::Patterns(lines),
        name: of.place.clone(),
        place: of.place.clone(),
    }
}
