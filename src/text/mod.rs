//! Text and what is wrong with it: sources, problems that point into them, the nearest known word.

mod lists;
mod nearest;
mod problem;
mod shown;
pub mod table;
pub mod width;
mod words;

pub use lists::{in_a_row, spelled};
pub use nearest::nearest;
pub use problem::{Place, Problem, Problems, Source};
pub use shown::{clean, one_line, quoted, shown, shown_json, shown_path, steers};
pub use words::Words;
pub(crate) use words::{spaced, trimmed};
