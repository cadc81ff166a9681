//! What the words of a pitched line are.

use crate::loopfile::Way;

/// What the words of a line are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum WordKind {
    Notes,
    Degrees,
}

impl WordKind {
    /// What a word is.
    pub(super) fn called(self) -> &'static str {
        match self {
            WordKind::Notes => "note",
            WordKind::Degrees => "degree",
        }
    }

    pub(super) fn way(self) -> Way {
        match self {
            WordKind::Notes => Way::Notes,
            WordKind::Degrees => Way::Degrees,
        }
    }

    /// Words of a kind, from the lowest up.
    pub(super) fn examples(self) -> [&'static str; 3] {
        match self {
            WordKind::Notes => ["C4", "Eb4", "G4"],
            WordKind::Degrees => ["1", "b3", "5"],
        }
    }
}
