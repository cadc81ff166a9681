//! What a part is to the others, as far as its way, its pitches and its names tell.

use std::collections::BTreeSet;

use super::table::Role;
use crate::kit::{drum_of, words_of};
use crate::loopfile::{Part, Way};

/// A single line is a bass where half of its notes or more lie under C3 [practice], as a MIDI note number.
const BASS: i32 = 48;
/// So many notes at a time, on average, are chords and no line.
const CHORDS: f64 = 1.5;

/// What a part may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Found {
    /// This.
    Role(Role),
    /// A melody: the lead, or a line under it.
    Melody,
    /// Nothing that is known.
    Nothing,
}

/// What a part is.
pub(super) fn of(part: &Part) -> Found {
    let piece = part.pieces.first().map_or("", |own| own.piece.as_str());
    let pitches: Vec<i32> = part.strokes.iter().filter_map(|stroke| stroke.pitch).collect();
    match part.way == Way::Hits && pitches.is_empty() {
        true => struck(part, piece).map_or(Found::Nothing, Found::Role),
        false => pitched(part, piece, pitches),
    }
}

/// A part of hits: by its instrument, else by a word of its names.
fn struck(part: &Part, piece: &str) -> Option<Role> {
    let of_piece = |name: &str| drum_of(name).and_then(Role::of_drum);
    if part.performance.is_some() {
        // A whole kit in one part stands nowhere.
        let mut roles: BTreeSet<Option<Role>> = part.pieces.iter().map(|played| of_piece(&played.piece)).collect();
        if roles.len() > 1 {
            return None;
        }
        if let Some(Some(role)) = roles.pop_first() {
            return Some(role);
        }
    }
    let names = [piece, part.name.as_str()];
    let drum = names.iter().find_map(|name| of_piece(name));
    let own = || {
        [part.name.as_str(), piece]
            .iter()
            .find_map(|name| Role::of_words(&words_of(name)))
    };
    drum.or_else(own)
}

/// A part of notes: by what its name says it is, else by what it plays, then by the name of its instrument.
fn pitched(part: &Part, piece: &str, mut pitches: Vec<i32>) -> Found {
    let [own, instrument] = [part.name.as_str(), piece].map(|name| Role::of_words(&words_of(name)));
    if let Some(role) = own.filter(|role| matches!(role, Role::Lead | Role::Line | Role::Bass)) {
        return Found::Role(role);
    }
    let strokes = part.strokes.iter().filter(|stroke| stroke.pitch.is_some());
    let times: BTreeSet<_> = strokes.map(|stroke| stroke.at).collect();
    if part.way == Way::Comp || pitches.len() as f64 >= CHORDS * times.len() as f64 {
        let pad = [own, instrument].contains(&Some(Role::Pad));
        return Found::Role(if pad { Role::Pad } else { Role::Chords });
    }
    pitches.sort_unstable();
    let low = pitches.get(pitches.len() / 2).is_some_and(|middle| *middle < BASS);
    match low || instrument == Some(Role::Bass) {
        true => Found::Role(Role::Bass),
        false => Found::Melody,
    }
}
