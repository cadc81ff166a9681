//! What a row of a chart has at one count.

use crate::text::width::{columns, cut};

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

    /// True where some text is more than marks: a note's name, or how late something is.
    pub(super) fn has_words(&self) -> bool {
        let words = |text: &String| match text.strip_prefix('{') {
            Some(fitted) => fitted.contains(' '),
            None => text.contains(',') || columns(text) > 1,
        };
        match self {
            Cell::Steps(texts) => texts.iter().any(words),
            Cell::Whole(text) => words(text),
        }
    }
}
