//! What is wrong, where, and what to do about it.

use std::fmt;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A text that was read, with the path that names it to the person.
#[derive(Debug, PartialEq, Eq)]
pub struct Source {
    /// The path as the person gave it (or a word in brackets, such as `--set`, for text from the command line).
    pub path: PathBuf,
    /// The whole text.
    pub text: String,
}

impl Source {
    /// A source to point into.
    pub fn new(path: impl AsRef<Path>, text: impl Into<String>) -> Arc<Source> {
        Arc::new(Source {
            path: path.as_ref().to_path_buf(),
            text: text.into(),
        })
    }

    /// Line and column of a byte offset, both counted from 1, the column in characters.
    pub fn line_and_column(&self, offset: usize) -> (usize, usize) {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let before = &self.text[..offset];
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        (
            before.matches('\n').count() + 1,
            before[line_start..].chars().count() + 1,
        )
    }
}

/// A stretch of a source's text, in bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The text pointed into.
    pub source: Arc<Source>,
    /// The bytes meant.
    pub span: Range<usize>,
}

/// One thing that is wrong, as a sentence for the person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// What is wrong, in one sentence without its full stop.
    pub what: String,
    /// Where; none where there is no text to point into.
    pub place: Option<Place>,
    /// What to do about it, where that is known.
    pub help: Option<String>,
}

impl Problem {
    /// A problem that is nowhere in a text.
    pub fn new(what: impl Into<String>) -> Problem {
        Problem {
            what: what.into(),
            place: None,
            help: None,
        }
    }

    /// A problem at a place.
    pub fn at(place: &Place, what: impl Into<String>) -> Problem {
        Problem {
            what: what.into(),
            place: Some(place.clone()),
            help: None,
        }
    }

    /// The same problem with advice.
    pub fn help(mut self, help: impl Into<String>) -> Problem {
        self.help = Some(help.into());
        self
    }
}

/// `file:line:column: what; help`, on one line. The command line prints it with the text beside instead.
impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(Place { source, span }) = &self.place {
            let (line, column) = source.line_and_column(span.start);
            write!(f, "{}:{line}:{column}: ", source.path.display())?;
        }
        f.write_str(&self.what)?;
        match &self.help {
            Some(help) => write!(f, "; {help}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for Problem {}

/// Everything that is wrong, in the order of the text.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Problems(pub Vec<Problem>);

impl From<Problem> for Problems {
    fn from(problem: Problem) -> Problems {
        Problems(vec![problem])
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.0.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{problem}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Problems {}
