//! A word that could not be read.

use std::fmt;
use std::ops::Range;

use crate::text::did_you_mean;

/// Why a word could not be read, where in it, and what was most likely meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Misread {
    /// What is wrong, in one sentence without its full stop.
    pub what: String,
    /// The bytes of the word that are wrong, on character boundaries; empty at its end where something is missing.
    pub span: Range<usize>,
    /// The nearest word that can be read, where one is near.
    pub nearest: Option<String>,
}

impl Misread {
    pub(super) fn new(what: impl Into<String>, span: Range<usize>) -> Misread {
        Misread {
            what: what.into(),
            span,
            nearest: None,
        }
    }

    pub(super) fn offer(mut self, nearest: Option<String>) -> Misread {
        self.nearest = nearest;
        self
    }

    /// The same misreading of a word that stands `by` bytes further on.
    pub fn moved(mut self, by: usize) -> Misread {
        self.span = self.span.start + by..self.span.end + by;
        self
    }

    /// Advice for the person, where a near word is known.
    pub fn help(&self) -> Option<String> {
        self.nearest.as_ref().map(did_you_mean)
    }
}

impl fmt::Display for Misread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.what)?;
        match self.help() {
            Some(help) => write!(f, "; {help}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for Misread {}
