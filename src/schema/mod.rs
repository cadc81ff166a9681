//! The settings that loop files, form files and `kit.toml` may hold, and the reading of TOML against them.
//!
//! The registry declares every setting once, as a constant: its name, what it takes (range, unit), its default and what it
//! does. The constant's type is that of its value, so `layers.number(compress::RATIO)` compiles and a wrong name or kind
//! does not.
//!
//! - In: the text of a file, or one value of it.
//! - Out: [`Settings`], checked and typed, where every value knows its place; [`Layers`] lay them over one another and give
//!   defaults. Also out: the reference's words, the JSON Schema, and all problems at once.
//! - Reading goes in two steps: [`parse`] makes [`Node`]s that know their places, [`read_table`] checks a table of them.
//! - It knows nothing of parts, bars, kits or sound: what settings mean together is for those to say who read them.

mod declare;
mod difference;
#[cfg(feature = "cli")]
mod json_schema;
mod kind;
mod layers;
mod lookup;
mod note_values;
mod quotes;
mod read;
mod registry;
mod setting;
mod settings;
mod table;
mod tree;

pub use difference::Difference;
pub(crate) use difference::differences;
#[cfg(feature = "cli")]
pub(crate) use json_schema::schema;
pub(crate) use kind::Kind;
pub(crate) use layers::Layers;
pub(crate) use lookup::{find, in_tables, nearest_setting, shown, unknown};
pub(crate) use note_values::{INTERVALS, Length, interval_steps, length as read_length, metre};
pub(crate) use read::{complete, read_setting, read_table};
pub(crate) use registry::MOST_BELLS;
pub(crate) use registry::*;
pub(crate) use setting::{DefaultValue, Setting};
pub(crate) use settings::{
    AccentLine, LoopPoint, NoteNumbers, Pattern, PiecesByMark, PlacedValue, Play, RecordingWords, Settings, Value,
};
/// The piece that every kit has and that needs none: a plain synthesised tone.
pub(crate) const STAND_IN: &str = "stand-in";

pub use table::Table;
pub(crate) use tree::{Entry, MOST_VALUES, Node, TomlValue, parse, parse_value};
