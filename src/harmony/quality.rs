//! What the words of chord symbols mean, as tables.
//!
//! The words are those of lead sheets (common practice); that they spell as a general music-theory library spells them is
//! checked in `tests/harmony.rs`.

use super::degree::Degree;

/// The family of a chord, which decides its third, its fifth and its seventh.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Family {
    /// No word: a major triad, and a dominant with a seventh.
    Plain,
    Major,
    Minor,
    Diminished,
    HalfDiminished,
    Augmented,
}

impl Family {
    pub(super) fn third(self) -> Degree {
        match self {
            Family::Plain | Family::Major | Family::Augmented => Degree::new(3, 0),
            Family::Minor | Family::Diminished | Family::HalfDiminished => Degree::new(3, -1),
        }
    }

    pub(super) fn fifth(self) -> Degree {
        match self {
            Family::Plain | Family::Major | Family::Minor => Degree::new(5, 0),
            Family::Diminished | Family::HalfDiminished => Degree::new(5, -1),
            Family::Augmented => Degree::new(5, 1),
        }
    }

    pub(super) fn seventh(self) -> Degree {
        match self {
            Family::Major => Degree::new(7, 0),
            Family::Plain | Family::Minor | Family::HalfDiminished | Family::Augmented => Degree::new(7, -1),
            Family::Diminished => Degree::new(7, -2),
        }
    }

    /// Whether a thirteenth brings its eleventh along: over a major third it would rub (common practice).
    pub(super) fn keeps_eleventh(self) -> bool {
        self.third().alter < 0
    }
}

/// The families' words, each before those that it begins with.
pub(super) const FAMILIES: [(&str, Family); 20] = [
    ("maj", Family::Major),
    ("Maj", Family::Major),
    ("MAJ", Family::Major),
    ("M", Family::Major),
    ("Δ", Family::Major),
    ("∆", Family::Major),
    ("△", Family::Major),
    ("min", Family::Minor),
    ("mi", Family::Minor),
    ("m", Family::Minor),
    ("-", Family::Minor),
    ("−", Family::Minor),
    ("dim", Family::Diminished),
    ("°", Family::Diminished),
    ("º", Family::Diminished),
    ("o", Family::Diminished),
    ("ø", Family::HalfDiminished),
    ("Ø", Family::HalfDiminished),
    ("aug", Family::Augmented),
    ("+", Family::Augmented),
];

/// The signs that mean a major seventh by themselves.
pub(super) const TRIANGLES: [&str; 3] = ["Δ", "∆", "△"];

/// The words that raise a minor, diminished or augmented chord's seventh to a major one.
pub(super) const MAJOR: [&str; 7] = ["maj", "Maj", "MAJ", "M", "Δ", "∆", "△"];

/// The figures behind a family, longest first.
pub(super) const FIGURES: [(&str, Figure); 8] = [
    ("6/9", Figure::SixNine),
    ("69", Figure::SixNine),
    ("11", Figure::Stack(11)),
    ("13", Figure::Stack(13)),
    ("5", Figure::Power),
    ("6", Figure::Six),
    ("7", Figure::Stack(7)),
    ("9", Figure::Stack(9)),
];

/// The figure of a chord symbol.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Figure {
    /// Root and fifth alone.
    Power,
    Six,
    SixNine,
    /// Thirds stacked up to this degree.
    Stack(u8),
}

/// Degrees that may be altered behind a family and figure, with their alterations.
pub(super) const ALTERED: [(u8, i8); 8] = [(11, 1), (13, -1), (5, -1), (5, 1), (9, -1), (9, 1), (6, -1), (4, 1)];

/// Degrees that `add` takes.
pub(super) const ADDED: [u8; 6] = [11, 13, 2, 4, 6, 9];

/// Behind the root, what chord symbols commonly look like: what is offered for one that cannot be read, and what names
/// a chord of given notes. Sooner is more common.
pub(super) const COMMON: [&str; 77] = [
    "", "m", "7", "m7", "maj7", "6", "m6", "dim", "sus4", "sus2", "m7b5", "dim7", "9", "m9", "maj9", "aug", "7sus4",
    "add9", "madd9", "mMaj7", "6/9", "m6/9", "13", "11", "m11", "m13", "maj13", "7b9", "7#9", "7#11", "7b5", "7#5",
    "aug7", "7b13", "maj7#11", "9sus4", "13sus4", "maj7#5", "maj7b5", "9#11", "9b5", "9#5", "13b9", "13#9", "13#11",
    "7b9b13", "7#9b13", "7#9#5", "7b9#5", "7b9b5", "7#9b5", "7b9#11", "7#9#11", "7alt", "maj9#11", "maj13#11", "maj11",
    "7b9sus4", "mMaj9", "m9b5", "m11b5", "m7add11", "7add13", "add11", "madd11", "dimMaj7", "dim9", "5", "7no3",
    "7no5", "maj7no3", "maj7no5", "no3", "no5", "mno5", "sus", "7sus",
];

/// What people also write or say, and how chord symbols have it: offered, not read.
pub(super) const SAID: [(&str, &str); 17] = [
    ("4", "sus4"),
    ("major", ""),
    ("minor", "m"),
    ("^", "maj7"),
    ("j", "maj7"),
    ("h", "m7b5"),
    ("h7", "m7b5"),
    ("halfdim", "m7b5"),
    ("halfdim7", "m7b5"),
    ("0", "dim"),
    ("07", "dim7"),
    ("sus9", "9sus4"),
    ("sus13", "13sus4"),
    ("sus7", "7sus4"),
    ("alt7", "7alt"),
    ("phryg", "7b9sus4"),
    ("lyd", "maj7#11"),
];

/// Words and signs that are written for others within a symbol, in the order in which they are replaced.
pub(super) const WRITTEN: [(&str, &str); 33] = [
    ("minor", "m"),
    ("MIN", "m"),
    ("Min", "m"),
    ("MI", "m"),
    ("Mi", "m"),
    ("major", "maj"),
    ("7M", "maj7"),
    ("9M", "maj9"),
    ("^", "maj"),
    ("▵", "maj"),
    ("▲", "maj"),
    ("⊿", "maj"),
    ("j7", "maj7"),
    ("j9", "maj9"),
    ("j11", "maj11"),
    ("j13", "maj13"),
    ("dominant", ""),
    ("dom", ""),
    ("diminished", "dim"),
    ("DIM", "dim"),
    ("augmented", "aug"),
    ("AUG", "aug"),
    ("suspended", "sus"),
    ("SUS", "sus"),
    ("altered", "alt"),
    ("flat", "b"),
    ("sharp", "#"),
    ("∅", "ø"),
    ("⌀", "ø"),
    ("−", "-"),
    ("–", "-"),
    ("♮", ""),
    ("dim5", "b5"),
];
