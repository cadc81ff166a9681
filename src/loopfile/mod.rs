//! The loop file: TOML text becomes a [`Loop`] with every default, reference and unit resolved, or problems that
//! point into the text.
//!
//! [`read`] gives a [`Draft`], in which all is checked that the file alone can tell; with what a kit says of its pieces
//! [`LoopDraft::resolve`] makes a [`Loop`] of it, and can't fail.

mod changes;
pub mod limits;
mod model;
mod performance;
mod pitched;
mod read;
mod resolve;
pub mod rhythm;
#[cfg(test)]
mod tests;
mod unresolved;
mod written;

pub use model::field::Field;
pub use model::groove::{Habit, Likeness};
pub use model::swing::swung;
pub use model::*;
pub use performance::Casting;
pub use pitched::note_mark;
pub use read::read;
pub use unresolved::{Changes, Draft, FormDraft, Given, LoopDraft};
pub use written::as_written::AsWritten;
pub use written::*;
