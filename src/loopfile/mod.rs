//! The loop file: TOML text becomes a [`Loop`] with every default, reference and unit resolved, or problems that
//! point into the text.

pub mod hits;
mod model;
mod written;

pub use model::*;
pub use written::*;
