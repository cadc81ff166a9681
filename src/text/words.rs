//! Strings of a file that know where they stand in it.

use std::ops::Range;
use std::sync::Arc;

use super::{Place, Source};

/// A string of the file, with its place in the text.
#[derive(Debug, Clone)]
pub struct Words {
    /// The string's value.
    pub text: String,
    /// The text that it comes from.
    pub source: Arc<Source>,
    /// Where the value's first byte stands in the source.
    pub start: usize,
    /// Where the whole literal stands, quotes included.
    pub literal: Range<usize>,
    /// True where the value is spelled in the source byte for byte, without escapes.
    pub plain: bool,
}

impl Words {
    /// The place of some bytes of the value; of the whole literal where escapes stand between.
    pub fn place(&self, within: Range<usize>) -> Place {
        let span = if self.plain {
            self.start + within.start..self.start + within.end
        } else {
            self.literal.clone()
        };
        Place {
            source: self.source.clone(),
            span,
        }
    }

    /// The place of the whole value.
    pub fn whole(&self) -> Place {
        self.place(0..self.text.len())
    }

    /// Words that stand nowhere in a text as they are; problems with them point to what stands `at` some place.
    pub fn unwritten(text: impl Into<String>, at: &Place) -> Words {
        Words {
            text: text.into(),
            source: at.source.clone(),
            start: at.span.start,
            literal: at.span.clone(),
            plain: false,
        }
    }

    /// A stretch of these words as words of their own.
    pub fn part(&self, within: Range<usize>) -> Words {
        Words {
            text: self.text[within.clone()].to_string(),
            start: self.start + within.start,
            ..self.clone()
        }
    }
}

/// Where a text stands without the spaces around it.
pub(crate) fn trimmed(text: &str, within: Range<usize>) -> Range<usize> {
    let inner = &text[within.clone()];
    let start = within.start + (inner.len() - inner.trim_start().len());
    start..start + inner.trim().len()
}

/// Where the words of a text stand that spaces part.
pub(crate) fn spaced(text: &str) -> impl Iterator<Item = Range<usize>> + '_ {
    let start = text.as_ptr() as usize;
    text.split_whitespace().map(move |word| {
        let at = word.as_ptr() as usize - start;
        at..at + word.len()
    })
}
