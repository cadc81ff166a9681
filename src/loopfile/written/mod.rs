//! What a part's hits look like as they were written, before they are read.

pub(crate) mod as_written;
pub(crate) mod paths;
pub(crate) mod tab;
pub(crate) mod tables;

use std::collections::BTreeMap;

use crate::schema::Settings;
pub use crate::text::Words;

/// What one line of a part's hits says: the bars it is for and what is played there.
#[derive(Debug, Clone)]
pub struct WrittenBars {
    /// The bar key, for instance `1-8`; `all` where the file gave a plain string. Its place is the key's.
    pub bars: Words,
    /// What is played.
    pub play: WrittenPlay,
    /// The velocities of a plain hit at the beginning and the end of the bars, where it swells.
    pub swell: Option<(f64, f64)>,
}

/// What is played, as written.
#[derive(Debug, Clone)]
pub enum WrittenPlay {
    /// Tablature, or `as NAME`, or an even rhythm.
    Line(Words),
    /// Counted aloud: one string a hit.
    Counted(Vec<Words>),
}

/// Marks and the pieces that they play.
pub type Marks = Vec<(char, Words)>;

/// A part as far as its hits go.
#[derive(Debug, Clone)]
pub struct WrittenPart {
    /// Its name.
    pub name: Words,
    /// The piece that its plain marks play.
    pub piece: Words,
    /// What its other marks play: a mark and a piece's name.
    pub marks: Marks,
    /// What they play instead in some bars, which count from 0 and rise.
    pub changed_marks: Vec<(Vec<u32>, Marks)>,
    /// Its lines in the order of the file; later ones replace earlier ones bar by bar.
    pub lines: Vec<WrittenBars>,
}

/// What a kit's `kit.toml` says of the sound of its pieces, by their names.
pub type KitDefaults = BTreeMap<String, Settings>;
