//! Written music on a page: staves as SVG in one HTML file that prints on A4 and letter.
//!
//! - In: a [`Sheet`].
//! - Out: the page as text. It asks for nothing but itself: the signs are outlines within it, and it needs no script.
//! - It knows nothing of loops, kits and audio.
//!
//! How things are drawn follows E. Gould, "Behind Bars" (Faber Music, 2011), from memory where a rule says [memory].

mod above;
mod bar;
mod beams;
mod curves;
mod front;
mod heads;
mod ink;
mod key;
mod lead;
mod page;
mod pitch;
mod score;
mod shape;
mod signs;
mod spacing;
mod spoken;
mod staff;
mod tablature;
#[cfg(test)]
mod tests;
mod tuplets;

use crate::notation::{Instrument, Sheet};
use crate::text::Problem;

/// How drums are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Drums {
    /// In staff notation.
    #[default]
    Staff,
    /// As tables of marks.
    Tablature,
}

/// What a page is to show.
#[derive(Debug, Clone, Default)]
pub(crate) struct Wish {
    pub drums: Drums,
    /// Degrees of the chords under the notes.
    pub degrees: bool,
    /// The instrument that its staves are transposed for; none for concert pitch.
    pub instrument: Option<Instrument>,
}

/// A sheet as the text of a page.
///
/// # Errors
/// When the page can't be laid out.
pub(crate) fn page(sheet: &Sheet, wish: &Wish) -> Result<String, Problem> {
    match wish.instrument {
        Some(instrument) => page::html(&instrument.transposed(sheet), wish),
        None => page::html(sheet, wish),
    }
}
