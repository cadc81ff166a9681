//! What a part's hits look like as they were written, before they are read.

use std::ops::Range;
use std::sync::Arc;

use crate::text::{Place, Source};

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
        Place { source: self.source.clone(), span }
    }

    /// A stretch of these words as words of their own.
    pub fn part(&self, within: Range<usize>) -> Words {
        Words { text: self.text[within.clone()].to_string(), start: self.start + within.start, ..self.clone() }
    }
}

/// What one line of a part's hits says: the bars it is for and what is played there.
#[derive(Debug, Clone)]
pub struct WrittenBars {
    /// The bar key, for instance `1-8`; `all` where the file gave a plain string. Its place is the key's.
    pub bars: Words,
    /// What is played.
    pub play: WrittenPlay,
}

/// What is played, as written.
#[derive(Debug, Clone)]
pub enum WrittenPlay {
    /// Tablature, or `as NAME`, or an even rhythm.
    Line(Words),
    /// Counted aloud: one string a hit.
    Counted(Vec<Words>),
}

/// A part as far as its hits go.
#[derive(Debug, Clone)]
pub struct WrittenPart {
    /// Its name.
    pub name: Words,
    /// The piece that its plain marks play.
    pub piece: Words,
    /// What its other marks play: a mark and a piece's name.
    pub marks: Vec<(char, Words)>,
    /// Its lines in the order of the file; later ones replace earlier ones bar by bar.
    pub lines: Vec<WrittenBars>,
}
