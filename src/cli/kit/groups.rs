//! The groups of the page for people, and the lines of its table: pieces of one kind may share one.

use std::collections::BTreeMap;

use super::report::{OfPiece, Report};
use super::shot::{Found, Shot};
use crate::kit::{Decided, is_percussion, kind};

/// The pieces of a drum kit, from the bottom of a score's staff to the cymbals above it.
const DRUM_KIT: [&str; 16] = [
    "kick",
    "snare",
    "side-stick",
    "clap",
    "hat-closed",
    "hat-pedal",
    "hat-open",
    "tom-floor",
    "tom-low",
    "tom-mid",
    "tom-high",
    "crash",
    "china",
    "splash",
    "ride",
    "ride-bell",
];

/// A page of more pieces than this has one line for all of a kind.
pub(super) const ROOM: usize = 60;
/// So many of a kind keep a line each anyhow.
const FEW: usize = 3;

/// What a piece is to a musician.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Group {
    /// Of a drum kit.
    Drums,
    /// Other percussion of General MIDI, and what a kit.toml names without a pitch.
    Percussion,
    /// What has a pitch.
    Instruments,
    /// What goes by its file's name and has no pitch.
    Unknown,
}

impl Group {
    /// All of them, as the page has them.
    pub(super) const ALL: [Group; 4] = [Group::Drums, Group::Percussion, Group::Instruments, Group::Unknown];

    /// Its heading.
    pub(super) fn name(self) -> &'static str {
        match self {
            Group::Drums => "drums",
            Group::Percussion => "percussion",
            Group::Instruments => "instruments",
            Group::Unknown => "unknown",
        }
    }

    /// How many pieces there are of it: `1 drum`, `9 percussion`.
    pub(super) fn counted(self, count: &str) -> String {
        let name = match count {
            "1" => self.name().trim_end_matches('s'),
            _ => self.name(),
        };
        format!("{count} {name}")
    }
}

impl Report<'_> {
    /// The group of a piece: names tell percussion, and else a pitch that is written, read or heard well in most of the files.
    pub(super) fn group(&self, of: &OfPiece) -> Group {
        let name = of.reading.piece.unwrap_or(kind(&of.piece.name).0);
        if DRUM_KIT.contains(&name) {
            return Group::Drums;
        }
        if is_percussion(name) {
            return Group::Percussion;
        }
        let said = |take: usize| self.kit.index().root(take).is_some();
        let pitched = of.shots.iter().filter(|shot| self.root(shot).0.is_some()).count();
        match of.reading.decided {
            _ if of.shots.iter().any(|shot| said(shot.take)) => Group::Instruments,
            Decided::Written => Group::Percussion,
            _ if pitched > 0 && 2 * pitched >= of.shots.len() => Group::Instruments,
            _ => Group::Unknown,
        }
    }

    /// The lines of a group: its pieces, in the order of a drum kit and of their names. Where there is no room for `all` pieces, those
    /// of a kind share a line.
    pub(super) fn lines<'a>(&self, group: Group, pieces: &'a [OfPiece<'a>], all: bool) -> Vec<Line<'a>> {
        let mut kinds: BTreeMap<&str, Vec<(u64, &OfPiece)>> = BTreeMap::new();
        for of in pieces.iter().filter(|of| self.group(of) == group) {
            let (kind, number) = kind(&of.piece.name);
            kinds.entry(kind).or_default().push((number, of));
        }
        let mut kinds: Vec<_> = kinds.into_iter().collect();
        let rank = |kind: &str| {
            DRUM_KIT
                .iter()
                .position(|piece| *piece == kind)
                .unwrap_or(DRUM_KIT.len())
        };
        kinds.sort_by_key(|(kind, _)| rank(kind));
        let mut lines = Vec::new();
        for (_, mut of_kind) in kinds {
            of_kind.sort_by_key(|(number, _)| *number);
            let of_kind: Vec<&OfPiece> = of_kind.into_iter().map(|(_, of)| of).collect();
            if !all && pieces.len() > ROOM && of_kind.len() > FEW {
                lines.push(Line(of_kind));
            } else {
                lines.extend(of_kind.into_iter().map(|of| Line(vec![of])));
            }
        }
        lines
    }
}

/// A line of the table: one piece, or all of one kind.
pub(super) struct Line<'a>(pub Vec<&'a OfPiece<'a>>);

impl<'a> Line<'a> {
    /// The piece's name, or those of the first and the last.
    pub(super) fn name(&self) -> String {
        match self.0.as_slice() {
            [first, .., last] => format!("{} to {}", first.piece.name, last.piece.name),
            pieces => pieces.iter().map(|of| of.piece.name.as_str()).collect(),
        }
    }

    /// The files of its pieces, as often as pieces have them.
    pub(super) fn shots(&self) -> impl Iterator<Item = &'a Shot> + '_ {
        self.0.iter().flat_map(|of| of.shots.iter().copied())
    }

    /// The files that can be read.
    pub(super) fn found(&self) -> impl Iterator<Item = &'a Found> + '_ {
        self.shots().filter_map(|shot| shot.found.as_ref().ok())
    }
}
