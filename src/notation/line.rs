//! A staff before it is cut into bars: what begins where.

use std::collections::BTreeMap;

use super::sounding::Struck;
use super::{Clef, Drum, Hand, WrittenNote, WrittenPitch, spelling};
use crate::loopfile::{Exact, Part};

/// A staff and what stands on it, bar by bar and voice by voice.
#[derive(Debug, Clone)]
pub(super) struct Line {
    pub name: String,
    pub parts: Vec<String>,
    pub pieces: Vec<String>,
    pub kind: Kind,
    pub hand: Option<Hand>,
    pub drums: Vec<Drum>,
    /// All pitches, for the clef.
    pub pitches: Vec<i32>,
    /// For each voice what begins where, in whole notes from the loop's beginning.
    pub voices: Vec<BTreeMap<Exact, Played>>,
}

/// What kind of staff it is, in the order from top to bottom.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    Melody,
    Chords,
    Low,
    Percussion,
    Drums,
}

/// What begins at one place.
#[derive(Debug, Clone, Default)]
pub(super) struct Played {
    pub struck: Struck,
    /// Where it ends, in whole notes from the loop's beginning; none for drums, which last up to the next beat.
    pub end: Option<Exact>,
}

impl Line {
    /// A staff without music.
    pub(super) fn new(name: &str, kind: Kind) -> Line {
        Line {
            name: name.into(),
            parts: Vec::new(),
            pieces: Vec::new(),
            kind,
            hand: None,
            drums: Vec::new(),
            pitches: Vec::new(),
            voices: vec![BTreeMap::new(); if kind == Kind::Drums { 2 } else { 1 }],
        }
    }

    pub(super) fn clef(&self) -> Clef {
        let pieces: Vec<&str> = self.pieces.iter().map(String::as_str).collect();
        match (self.is_percussion(), self.hand) {
            (true, _) => Clef::Percussion,
            (false, Some(Hand::Right)) => Clef::Treble,
            (false, Some(Hand::Left)) => Clef::Bass,
            (false, None) => spelling::clef(&mut self.pitches.clone(), &pieces),
        }
    }

    /// Which of its drums a piece is.
    pub(super) fn drum(&mut self, drum: Drum) -> usize {
        let known = self.drums.iter().position(|other| other.name == drum.name);
        known.unwrap_or_else(|| {
            self.drums.push(drum);
            self.drums.len() - 1
        })
    }

    pub(super) fn belongs(&mut self, part: &Part) {
        if !self.parts.contains(&part.name) {
            self.parts.push(part.name.clone());
        }
        for played in &part.pieces {
            if !self.pieces.contains(&played.piece) {
                self.pieces.push(played.piece.clone());
            }
        }
    }

    /// Sorts the notes of each place from the lowest up, and ends what sounds where the next begins.
    pub(super) fn settle(&mut self) {
        let height = |note: &WrittenNote| match note.pitch {
            WrittenPitch::Note { letter, octave, alter } => (7 * i32::from(octave) + i32::from(letter), alter),
            WrittenPitch::Drum(drum) => (self.drums[drum].step, 0),
        };
        for voice in &mut self.voices {
            let mut next = None;
            for (at, played) in voice.iter_mut().rev() {
                played.struck.notes.sort_by_key(height);
                played.struck.notes.dedup_by(|a, b| a.pitch == b.pitch);
                played.struck.signs.sort();
                played.struck.signs.dedup();
                if let (Some(end), Some(next)) = (&mut played.end, next) {
                    *end = (*end).min(next);
                }
                next = Some(*at);
            }
        }
    }

    /// Takes up what another loop has on this staff, but for its music.
    pub(super) fn join(&mut self, other: &Line) {
        let new = |own: &[String], all: &[String]| -> Vec<String> {
            all.iter().filter(|name| !own.contains(name)).cloned().collect()
        };
        let (parts, pieces) = (new(&self.parts, &other.parts), new(&self.pieces, &other.pieces));
        self.parts.extend(parts);
        self.pieces.extend(pieces);
        self.pitches.extend(&other.pitches);
    }

    /// True for staves of drums and other percussion.
    pub(super) fn is_percussion(&self) -> bool {
        matches!(self.kind, Kind::Percussion | Kind::Drums)
    }

    /// Where it stands among the others: melodies, chords, what is low, percussion, drums.
    pub(super) fn place(&self) -> Kind {
        match (self.kind, self.clef()) {
            (Kind::Melody, Clef::Bass | Clef::BassDown) if self.hand.is_none() => Kind::Low,
            (kind, _) => kind,
        }
    }
}
