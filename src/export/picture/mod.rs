//! Pictures: a render's waveform over its bars with what each part plays and what is swept, on as many sheets as it takes; versions one
//! under another, a kit's one-shots, what was heard in a recording, shares with their intervals.
//!
//! In: audio and bars. Out: a drawing, as SVG or PNG. It knows nothing of files.

mod drawing;
mod frame;
#[cfg(feature = "cli")]
mod heard;
pub(super) mod lettering;
mod line;
mod one_shots;
mod png;
mod rows;
mod shares;
mod sheet;
mod svg;
mod versions;

use std::io::Write;
use std::path::Path;

#[cfg(feature = "cli")]
pub(crate) use heard::{Heard, Onset};
pub(crate) use line::Finish;
pub(crate) use one_shots::{OneShot, OneShots, columns as shot_columns};
pub(crate) use rows::{Piece, Row, Struck, SweptRow};
#[cfg(feature = "cli")]
pub(crate) use shares::{Row as ShareRow, Shares};
pub(crate) use sheet::Sheet;
pub use versions::{Version, Versions};

use super::write_beside;
use crate::text::{Problem, Problems};
use drawing::Drawing;
use svg::Place;

/// A finished picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture(Drawing);

impl Picture {
    /// It as a file of SVG: words stay words.
    pub fn svg(&self) -> String {
        svg::svg(&self.0, Place::File)
    }

    /// It as SVG for the listening page, in the page's colours.
    pub fn for_page(&self) -> String {
        svg::svg(&self.0, Place::Page)
    }

    /// It as a PNG of two pixels a unit.
    ///
    /// # Errors
    /// A picture too large for memory.
    pub fn png(&self) -> Result<Vec<u8>, Problem> {
        png::png(&self.0)
    }

    /// Writes it as SVG.
    ///
    /// # Errors
    /// As [`write_beside`].
    pub fn write_svg(&self, path: &Path) -> Result<(), Problem> {
        let text = self.svg();
        write_beside(path, |out| out.write_all(text.as_bytes()))
    }

    /// Writes it as PNG.
    ///
    /// # Errors
    /// As [`Picture::png`] and [`write_beside`].
    pub fn write_png(&self, path: &Path) -> Result<(), Problems> {
        let bytes = self.png()?;
        Ok(write_beside(path, |out| out.write_all(&bytes))?)
    }
}
