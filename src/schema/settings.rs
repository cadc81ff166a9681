//! Checked, typed values: those of one table, by setting.

use std::collections::{BTreeMap, BTreeSet};

use super::kind::HeldAs;
use super::note_values::Length;
use super::setting::Setting;
use super::table::Table;
use super::tree::Node;
use crate::text::{Place, Words};

/// Tables by name.
pub(super) type NamedTables = Vec<(Words, Settings)>;
/// Levels in dB by name; none where off.
pub(super) type Levels = Vec<(Words, Option<f64>)>;
/// Pieces by mark.
pub(crate) type PiecesByMark = Vec<(char, Words)>;
/// Pieces by MIDI note number.
pub(crate) type NoteNumbers = Vec<(u8, Words)>;
/// Names in lists, by the name of each list.
pub(crate) type NamesByName = Vec<(Words, Vec<Words>)>;
/// Accents, line by line.
pub(super) type Accents = Vec<AccentLine>;

/// A line of accents, and how the band plays them.
#[derive(Debug, Clone)]
pub struct AccentLine {
    /// Where they fall.
    pub line: Pattern,
    /// The parts that play them, those that strike among them; all where none.
    pub parts: Option<Vec<Words>>,
    /// The parts that strike there, whatever they have written.
    pub strike: Vec<Words>,
    /// How far the parts play as one there, from 0 to 1.
    pub together: f64,
}

/// The file of a recording, or the two of its left and its right side, as they are written.
#[derive(Debug, Clone)]
pub struct RecordingWords {
    /// The path of its file, or of its left side.
    pub left: Words,
    /// The path of its right side, where that has a file of its own.
    pub right: Option<Words>,
}

/// A place in a recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LoopPoint {
    /// A frame, counted from 0, at the recording's own rate.
    Frame(u64),
    /// Seconds from its beginning.
    Seconds(f64),
}

/// A type in which values of some kinds of settings are held.
pub trait Held: Sized {
    /// The form of those kinds.
    const FORM: HeldAs;

    /// The value, where it is of this type: `off` is of none.
    fn of(value: &Value) -> Option<&Self>;

    /// The same, taken out.
    fn owned(value: Value) -> Option<Self>;
}

/// Writes [`Value`] and, for each type that it holds, [`Held`].
macro_rules! values {
    ($($(#[$doc:meta])* $form:ident($type:ty),)*) => {
        /// A checked value, in the units of the file.
        #[derive(Debug, Clone)]
        pub enum Value {
            /// `"off"`.
            Off,
            $($(#[$doc])* $form($type),)*
        }

        $(impl Held for $type {
            const FORM: HeldAs = HeldAs::$form;

            fn of(value: &Value) -> Option<&Self> {
                match value {
                    Value::$form(held) => Some(held),
                    _ => None,
                }
            }

            fn owned(value: Value) -> Option<Self> {
                match value {
                    Value::$form(held) => Some(held),
                    _ => None,
                }
            }
        })*
    };
}

values! {
    /// A number in the setting's range; a pitch, as a MIDI note number with its fraction.
    Number(f64),
    /// A whole number.
    Whole(u64),
    /// Numbers in the setting's range.
    Numbers(Vec<f64>),
    /// A text, name, choice or path.
    Text(Words),
    /// A switch.
    Switch(bool),
    /// A note value or a time.
    Length(Length),
    /// A metre: counts and the note that is counted.
    Metre((u32, u32)),
    /// Two velocities: the lowest and highest of a range, or the first and last of a swell.
    Velocities((f64, f64)),
    /// Paths, or names.
    Paths(Vec<Words>),
    /// A recording.
    Recording(RecordingWords),
    /// Recordings.
    Recordings(Vec<RecordingWords>),
    /// The start and the end of a loop.
    LoopPoints((LoopPoint, LoopPoint)),
    /// A table.
    Table(Settings),
    /// A list of tables.
    Tables(Vec<Settings>),
    /// Tables by name.
    Named(NamedTables),
    /// Levels by name; none where off.
    Levels(Levels),
    /// Pieces by mark.
    Marks(PiecesByMark),
    /// Pieces by MIDI note number.
    NoteNumbers(NoteNumbers),
    /// Names in lists.
    NamesByName(NamesByName),
    /// Hits, tablature, notes or chords, line by line.
    Patterns(Vec<Pattern>),
    /// Accents, line by line.
    Accents(Accents),
    /// Values by address, not checked yet.
    Changes(Node),
}

/// What is played in some bars.
#[derive(Debug, Clone)]
pub struct Pattern {
    /// The bars, for instance `1-8`; `all` at the place of the setting where the file names none.
    pub bars: Words,
    /// What is played.
    pub play: Play,
    /// The velocities of a plain hit at the beginning and the end of the bars, where it swells.
    pub swell: Option<(f64, f64)>,
}

/// What is played, as it is written.
#[derive(Debug, Clone)]
pub enum Play {
    /// Marks, `as NAME`, an even rhythm, notes or chords.
    Line(Words),
    /// Counted aloud: one text a hit.
    Counted(Vec<Words>),
}

impl Pattern {
    /// A line for some bars.
    pub fn line(bars: Words, line: Words) -> Pattern {
        Pattern {
            bars,
            play: Play::Line(line),
            swell: None,
        }
    }

    /// Its texts: the line, or the hits that are counted aloud.
    pub fn texts(&self) -> &[Words] {
        match &self.play {
            Play::Line(line) => std::slice::from_ref(line),
            Play::Counted(hits) => hits,
        }
    }
}

/// A value and where it stands.
#[derive(Debug, Clone)]
pub struct PlacedValue {
    /// The value.
    pub value: Value,
    /// Where the setting's name stands.
    pub name: Place,
    /// Where the value stands.
    pub place: Place,
}

/// What one table says: values by setting.
#[derive(Debug, Clone)]
pub struct Settings {
    /// The table.
    pub table: Table,
    /// Where it stands.
    pub place: Place,
    values: BTreeMap<&'static str, PlacedValue>,
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

    /// The value of a setting, where it has one.
    pub fn get<T: Held>(&self, setting: Setting<T>) -> Option<&T> {
        T::of(&self.placed(setting)?.value)
    }

    /// Takes the value of a setting out, where it has one; an `off` goes too.
    pub fn take<T: Held>(&mut self, setting: Setting<T>) -> Option<T> {
        T::owned(self.take_placed(setting)?.value)
    }

    /// The value of a setting and where it stands, `off` included.
    pub fn placed<T>(&self, setting: Setting<T>) -> Option<&PlacedValue> {
        self.values.get(setting.name)
    }

    /// The same with where it stands, `off` included.
    pub fn take_placed<T>(&mut self, setting: Setting<T>) -> Option<PlacedValue> {
        self.values.remove(setting.name)
    }

    /// Sets a setting. Whether the value suits it is not verified.
    pub fn set<T>(&mut self, setting: Setting<T>, value: PlacedValue) {
        self.values.insert(setting.name, value);
    }

    /// Notes that a setting was written, but that its value was not to be used.
    pub fn refuse(&mut self, setting: &Setting) {
        self.refused.insert(setting.name);
    }

    /// True where a setting was written, whether or not its value could be used.
    pub fn writes<T>(&self, setting: Setting<T>) -> bool {
        self.values.contains_key(setting.name) || self.refused.contains(setting.name)
    }

    /// Every setting that it says something of, by name, in alphabetical order.
    pub fn iter(&self) -> impl Iterator<Item = (&'static str, &PlacedValue)> {
        self.values.iter().map(|(name, value)| (*name, value))
    }

    /// Lays all that other settings say over these.
    pub fn overlay(&mut self, others: Settings) {
        self.values.extend(others.values);
    }
}
