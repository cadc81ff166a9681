//! The loop file: TOML text becomes a [`Loop`] with every default, reference and unit resolved, or problems that
//! point into the text.
//!
//! [`read`] gives a [`Draft`], in which all is checked that the file alone can tell; with what a kit says of its pieces
//! [`LoopDraft::resolve`] makes a [`Loop`] of it, and can't fail.

mod accents;
mod as_written;
mod draft;
mod edit;
mod edit_bars;
mod edit_within;
mod field;
mod form;
mod gather;
pub mod hits;
mod likeness;
pub mod limits;
mod model;
mod performance;
mod pitched;
mod players;
mod read;
mod refer;
mod resolve;
mod sweep;
mod swing;
#[cfg(test)]
mod tests;
mod uneven;
mod written;

pub use as_written::AsWritten;
pub use draft::{Casting, Changes, Draft, FormDraft, Given, KitDefaults, LoopDraft};
pub use field::Field;
pub use likeness::{Habit, Likeness};
pub use model::*;
pub use pitched::note_mark;
pub use read::read;
pub use swing::swung;
pub use written::*;
