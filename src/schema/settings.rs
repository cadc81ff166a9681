//! Checked, typed values by key, and how they lie over one another.

use std::collections::{BTreeMap, BTreeSet};

use num_rational::Ratio;

use super::note_values;
use super::note_values::Length;
use super::setting::{Standard, Table};
use super::tree::Node;
use crate::text::{Place, Words};

/// A checked value, in the units of the file.
#[derive(Debug, Clone)]
pub enum Value {
    /// `"off"`.
    Off,
    /// A number in the key's range.
    Number(f64),
    /// A whole number in the key's range.
    Integer(u64),
    /// A text, name, choice or path.
    Text(Words),
    /// A switch.
    Switch(bool),
    /// A note value or a time.
    Length(Length),
    /// A metre: counts and the note that is counted.
    Metre(u32, u32),
    /// The lowest and highest velocity of a range.
    Velocities(f64, f64),
    /// A pitch, as a MIDI number.
    Pitch(i32),
    /// Paths, or names.
    Paths(Vec<Words>),
    /// A table.
    Table(Settings),
    /// A list of tables.
    Tables(Vec<Settings>),
    /// Tables by name.
    Named(Vec<(Words, Settings)>),
    /// Levels by name; none where off.
    Levels(Vec<(Words, Option<f64>)>),
    /// Pieces by mark.
    Marks(Vec<(char, Words)>),
    /// Pieces by MIDI key.
    Keys(Vec<(u8, Words)>),
    /// Hits or tablature, line by line.
    Lines(Vec<Line>),
    /// Accents, line by line, with the parts that play them; all where none.
    Accents(Vec<(Line, Option<Vec<Words>>)>),
    /// Values by address, not checked yet.
    Changes(Node),
}

impl Value {
    /// The MIDI number of a pitch.
    pub fn pitch(&self) -> Option<i32> {
        match self {
            Value::Pitch(midi) => Some(*midi),
            _ => None,
        }
    }
}

/// Hits for some bars.
#[derive(Debug, Clone)]
pub struct Line {
    /// The bars; `all` at the place of the key where the file names none.
    pub bars: Words,
    /// What is played: one text, or one a hit where they are counted aloud.
    pub play: Vec<Words>,
    /// True where it is counted aloud.
    pub counted: bool,
    /// The velocities of a plain hit at the beginning and the end, where it swells.
    pub swell: Option<(f64, f64)>,
}

/// A value and where it stands.
#[derive(Debug, Clone)]
pub struct Setting {
    /// The value.
    pub value: Value,
    /// Where the key stands.
    pub key: Place,
    /// Where the value stands.
    pub place: Place,
}

/// What one table says: values by key.
#[derive(Debug, Clone)]
pub struct Settings {
    /// The table.
    pub table: Table,
    /// Where it stands.
    pub place: Place,
    values: BTreeMap<&'static str, Setting>,
    refused: BTreeSet<&'static str>,
}

impl Settings {
    /// A table that says nothing.
    pub fn empty(table: Table, place: Place) -> Settings {
        Settings {
            table,
            place,
            values: BTreeMap::new(),
            refused: BTreeSet::new(),
        }
    }

    /// What it says of a key.
    pub fn get(&self, name: &str) -> Option<&Setting> {
        self.values.get(name)
    }

    /// Takes what it says of a key.
    pub fn take(&mut self, name: &str) -> Option<Setting> {
        self.values.remove(name)
    }

    /// The same, to be changed.
    pub fn get_mut(&mut self, name: &str) -> Option<&mut Setting> {
        self.values.get_mut(name)
    }

    /// Sets a key. Whether the value suits it is not verified.
    pub fn set(&mut self, name: &'static str, setting: Setting) {
        self.values.insert(name, setting);
    }

    /// Notes that a key was written, but that its value was not to be used.
    pub fn refuse(&mut self, name: &'static str) {
        self.refused.insert(name);
    }

    /// True where a key was written, whether or not its value could be used.
    pub fn writes(&self, name: &str) -> bool {
        self.values.contains_key(name) || self.refused.contains(name)
    }

    /// Every key that it says something of, in alphabetical order.
    pub fn iter(&self) -> impl Iterator<Item = (&'static str, &Setting)> {
        self.values.iter().map(|(name, setting)| (*name, setting))
    }

    /// The text of a key, where it says one.
    pub fn text(&self, name: &str) -> Option<&Words> {
        match self.get(name)?.value {
            Value::Text(ref words) => Some(words),
            _ => None,
        }
    }

    /// The table of a key, where it says one.
    pub fn table(&self, name: &str) -> Option<&Settings> {
        match self.get(name)?.value {
            Value::Table(ref settings) => Some(settings),
            _ => None,
        }
    }
}

/// Settings over one another: the first that says something of a key is heard, and the registry's standard where none is.
#[derive(Debug, Clone)]
pub struct Layers<'a> {
    table: Table,
    over: Vec<&'a Settings>,
}

impl<'a> Layers<'a> {
    /// Layers from the topmost down; `table` names the keys' standards.
    pub fn new(table: Table, over: impl IntoIterator<Item = &'a Settings>) -> Layers<'a> {
        Layers {
            table,
            over: over.into_iter().collect(),
        }
    }

    /// The same layers with one more beneath them.
    pub fn above(&self, settings: &'a Settings) -> Layers<'a> {
        let mut over = self.over.clone();
        over.push(settings);
        Layers { over, ..*self }
    }

    /// The same layers under one more, as the layers of another table.
    pub fn beneath(&self, table: Table, settings: &'a Settings) -> Layers<'a> {
        let over = std::iter::once(settings).chain(self.over.iter().copied());
        Layers::new(table, over)
    }

    /// The table whose standards hold.
    pub fn table(&self) -> Table {
        self.table
    }

    /// What the topmost layer that speaks of a key says.
    pub fn get(&self, name: &str) -> Option<&'a Setting> {
        self.over.iter().find_map(|settings| settings.get(name))
    }

    /// True where some layer speaks of a key.
    pub fn says(&self, name: &str) -> bool {
        self.get(name).is_some()
    }

    /// A number in the file's unit; `None` where it is off.
    pub fn level(&self, name: &str) -> Option<f64> {
        match self.get(name).map(|setting| &setting.value) {
            Some(Value::Number(number)) => Some(*number),
            Some(Value::Integer(number)) => Some(*number as f64),
            Some(_) => None,
            None => match self.standard(name) {
                Some(Standard::Number(number)) => Some(number),
                _ => None,
            },
        }
    }

    /// A number in the file's unit, and what stands for it where it is off.
    pub fn number(&self, name: &str, off: f64) -> f64 {
        self.level(name).unwrap_or(off)
    }

    /// A whole number; the standard's where none is given, 0 where that has none.
    pub fn integer(&self, name: &str) -> u64 {
        match (self.get(name).map(|setting| &setting.value), self.standard(name)) {
            (Some(Value::Integer(number)), _) => *number,
            (None, Some(Standard::Integer(number))) => number,
            _ => 0,
        }
    }

    /// A switch; off is false.
    pub fn switch(&self, name: &str) -> bool {
        match self.get(name).map(|setting| &setting.value) {
            Some(Value::Switch(on)) => *on,
            Some(_) => false,
            None => self.standard(name) == Some(Standard::Switch(true)),
        }
    }

    /// The text of a key, the standard's where none is given.
    pub fn text(&self, name: &str) -> Option<&'a str> {
        match self.get(name).map(|setting| &setting.value) {
            Some(Value::Text(words)) => Some(&words.text),
            Some(_) => None,
            None => match self.standard(name) {
                Some(Standard::Text(text)) => Some(text),
                _ => None,
            },
        }
    }

    /// A note value or a time.
    pub fn length(&self, name: &str) -> Option<Length> {
        match (self.get(name).map(|setting| &setting.value), self.standard(name)) {
            (Some(Value::Length(length)), _) => Some(*length),
            (None, Some(Standard::Text(text))) => note_values::length(text),
            _ => None,
        }
    }

    /// A note value, in whole notes.
    pub fn notes(&self, name: &str) -> Option<Ratio<i128>> {
        match self.length(name) {
            Some(Length::Notes(notes)) => Some(notes),
            _ => None,
        }
    }

    /// A table of a key, key by key over those beneath it; `None` where it is off or nobody gives one.
    pub fn nested(&self, name: &str) -> Option<Layers<'a>> {
        let mut over = Vec::new();
        for settings in &self.over {
            match settings.get(name).map(|setting| &setting.value) {
                Some(Value::Table(table)) => over.push(table),
                Some(_) => break,
                None => {}
            }
        }
        let table = over.first()?.table;
        Some(Layers { table, over })
    }

    fn standard(&self, name: &str) -> Option<Standard> {
        self.table.key(name).map(|key| key.standard)
    }
}
