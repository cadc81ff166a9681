//! A loop file as it is written: its tables by what they stand for, names checked, values still by setting.
//!
//! - In: the checked settings of a whole file.
//! - Out: its tables with parts, buses, spaces, mixes and sweeps in the order of the file; the lines of `[tab]` given to
//!   their parts; and afterwards a record of all that was set, for whoever reports changes.
//! - It knows nothing of what a line of marks, notes or chords means, and resolves no reference.

pub(crate) mod as_written;
pub(crate) mod at_hand;
pub(crate) mod paths;
pub(crate) mod tab;
pub(crate) mod tables;

use std::collections::BTreeMap;

use crate::schema::{Pattern, PiecesByMark, Settings};
pub(crate) use crate::text::Words;

/// A part as far as its hits go.
#[derive(Debug, Clone)]
pub(crate) struct HitPart {
    /// Its name.
    pub name: Words,
    /// The piece that its plain marks play.
    pub piece: Words,
    /// What its other marks play: a mark and a piece's name.
    pub marks: PiecesByMark,
    /// What they play instead in some bars, which count from 0 and rise.
    pub changed_marks: Vec<(Vec<u32>, PiecesByMark)>,
    /// Its lines in the order of the file; later ones replace earlier ones bar by bar.
    pub lines: Vec<Pattern>,
}

/// What a kit's `kit.toml` says of the sound of its pieces, by their names.
pub(crate) type KitDefaults = BTreeMap<String, Settings>;
