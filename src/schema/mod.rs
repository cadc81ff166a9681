//! The keys that files may hold: one registry of their names, types, ranges, units and defaults, and the reading of
//! TOML against it.
//!
//! The registry serves whoever reads a file, a setting from the command line, or the reference. Reading goes in two
//! steps: [`parse`] makes a [`Node`] tree in which everything knows its place in the text, and [`read_table`] walks a
//! table of it against the registry, giving [`Settings`] that are checked and typed, and every problem at once.

mod difference;
mod lookup;
mod marks;
mod note_values;
mod quotes;
mod read;
mod registry;
mod schema;
mod setting;
mod settings;
mod tree;

pub use difference::{Difference, differences};
pub use lookup::{Found, find, in_tables, nearest_key, shown, unknown};
pub use marks::{ACCENT, GHOST, MARKS, Mark, PITCHED_MARKS, PLAIN, SCRATCH, Struck, figured};
pub use note_values::{INTERVALS, Length, interval_steps, length, metre};
pub use read::{complete, read_setting, read_table};
pub use registry::MOST_BELLS;
pub use schema::schema;
pub use setting::{Key, Kind, Standard, Table};
pub use settings::{Layers, Line, Setting, Settings, Value};
/// The piece that every kit has and that needs none: a plain synthesised tone.
pub const STAND_IN: &str = "stand-in";

pub use tree::{Entry, MOST_VALUES, Node, What, parse, parse_value};
