//! Text and what is wrong with it: sources, problems that point into them, the nearest known word.

mod nearest;
mod problem;

pub use nearest::nearest;
pub use problem::{Place, Problem, Problems, Source};
