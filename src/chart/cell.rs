//! What a row of a chart has at one count.

use crate::text::width::cut;

/// What a row has at one count.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cell {
    /// One text a step.
    Steps(Vec<String>),
    /// One text over all steps.
    Whole(String),
}

impl Cell {
    /// It with texts of so many columns at most. What stands over a whole count has the room of four.
    pub(super) fn cut(self, longest: usize) -> Cell {
        match self {
            Cell::Steps(texts) => Cell::Steps(texts.iter().map(|text| cut(text, longest)).collect()),
            Cell::Whole(text) => Cell::Whole(cut(&text, longest.saturating_mul(4))),
        }
    }
}
