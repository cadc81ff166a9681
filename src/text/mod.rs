//! Text: sources and places in them, problems that point there, the nearest known word, tables, and text that is safe to show.
//!
//! In: what a file or a person says. Out: sentences and columns. It knows nothing of TOML, loops or sound.

mod lists;
mod nearest;
mod problem;
mod shown;
#[cfg(feature = "cli")]
pub mod table;
#[cfg(feature = "cli")]
pub mod width;
mod words;

pub use lists::{count_of, in_a_row, spelled};
pub use nearest::nearest;
pub use problem::{Place, Problem, Problems, Source};
pub use shown::{clean, one_line, quoted, shown, shown_json, shown_path, steers};
pub use words::Words;
pub(crate) use words::{spaced, trimmed};
