//! Text: sources and places in them, problems that point there, the nearest known word, tables, and text that is safe to show.
//!
//! In: what a file or a person says. Out: sentences and columns. It knows nothing of TOML, loops or sound.

mod lists;
mod nearest;
mod problem;
mod shown;
#[cfg(feature = "cli")]
pub(crate) mod table;
#[cfg(feature = "cli")]
pub(crate) mod width;
mod words;

pub(crate) use lists::{count_of, in_a_row, spelled};
#[cfg(feature = "cli")]
pub(crate) use lists::{in_turn, thousands};
pub(crate) use nearest::{did_you_mean, did_you_mean_text, nearest};
pub use problem::{Place, Problem, Problems, Source};
pub(crate) use shown::{clean, one_line, quoted, shown, shown_json, shown_path, steers};
pub(crate) use words::Words;
pub(crate) use words::{spaced, trimmed};
