//! The loop file: TOML text becomes a [`Loop`] with every default, reference and unit resolved, or problems that point
//! into the text.
//!
//! - In: the path of a loop or form file, the changes of a command line, and what a kit says of its pieces.
//! - Out: the [`model`](Loop), or all [`Problems`](crate::text::Problems) in the order of the text.
//! - The way: `read` opens and collects tables (`written`), makes `changes`, reads hits (`rhythm`), notes and chords
//!   (`pitched`) and MIDI files (`performance`). This gives a [`Draft`], in which all is checked that the file alone can
//!   show. `resolve` makes a [`Loop`] of it with what the kit says, and can't fail.
//! - It knows nothing of recordings, of the random numbers of playing, and of samples.

mod changes;
pub(crate) mod edited;
mod foreign_marks;
pub(crate) mod limits;
mod marks;
mod model;
#[cfg(feature = "cli")]
mod outline;
mod performance;
mod pitched;
mod read;
mod resolve;
pub(crate) mod rhythm;
pub(crate) mod steps;
#[cfg(test)]
mod tests;
mod unresolved;
mod written;

pub use marks::Mark;
pub use marks::PITCHED_MARKS;
pub(crate) use marks::{MARKS, PLAIN, free_marks, mark_for, mark_of, velocity_of_mark};
pub(crate) use model::field::Field;
pub(crate) use model::groove::{GrooveTemplate, Habit};
pub(crate) use model::swing::swung;
pub use model::*;
#[cfg(feature = "cli")]
pub(crate) use outline::Outline;
pub use performance::Casting;
pub use read::read;
pub(crate) use read::read_text;
pub(crate) use rhythm::syllable_at;
pub use unresolved::{Changes, Draft, Given, LoopDraft};
pub(crate) use written::as_written::AsWritten;
pub(crate) use written::at_hand::AtHand;
pub(crate) use written::*;
