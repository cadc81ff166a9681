//! A bar of a page under its name.

use super::line::ChartLine;
use super::measure::{Measure, Whose};

/// A bar with what stands over it.
pub(super) struct Block {
    /// What it is called.
    pub name: String,
    /// Every bar that looks like this.
    pub bars: Vec<u32>,
    /// What it has.
    pub measure: Measure,
}

impl Block {
    /// What one part has in it.
    pub(super) fn line(&self, part: usize) -> Option<&ChartLine> {
        self.measure.row(Whose::Marks(part))?.line.as_ref()
    }
}
