//! The chart: a groove printed as a musician reads it, bars, counts and marks in 80 columns.
//!
//! A line of the page is a row of [`measure::Row`]s put side by side, on [`columns::Columns`] that they share. Above them
//! stand the chords, each over the step on which it starts, and the accents of the band. What looks the same is printed
//! once: bars, a part's bars, sections of a form and the parts in them.

mod above;
mod block;
mod cell;
mod charted;
mod columns;
mod feel;
mod fit;
mod form;
mod grid;
mod line;
mod measure;
mod page;
mod printed;
mod system;
mod takes;
mod told;
mod voices;

pub(crate) use form::form;
pub use page::{Besides, song};

/// Columns of a page.
pub(crate) const WIDTH: usize = 80;

/// Bold, for accents.
const BOLD: &str = "\u{1b}[1m";
/// Dim, for ghost notes.
const DIM: &str = "\u{1b}[2m";
/// Plain again.
const PLAIN: &str = "\u{1b}[0m";
