//! What hints on harmony have in common: whether a chord has a note, and where a hint points.

use std::collections::BTreeSet;

use crate::harmony::{Chord, Letter, Spelling};
use crate::loopfile::{Exact, Part, Stroke};
use crate::text::{Place, spelled};

/// Notes below this key, G2, are taken for the bass.
pub(super) const BASS: i32 = 43;

/// The bar of a place, counted from 1.
pub(super) fn bar(at: Exact) -> u32 {
    u32::try_from(at.floor().to_integer()).unwrap_or(0) + 1
}

/// The name of a pitch, as sharps.
pub(super) fn name(pitch: i32) -> Spelling {
    let plain = |letter: &Letter| letter.semitones() == pitch.rem_euclid(12);
    match Letter::ALL.iter().find(|letter| plain(letter)) {
        Some(letter) => Spelling::new(*letter, 0),
        None => {
            let below = Letter::ALL
                .iter()
                .rfind(|letter| letter.semitones() < pitch.rem_euclid(12));
            Spelling::new(*below.unwrap_or(&Letter::C), 1)
        }
    }
}

/// Whether a chord has a note: among its tones, its bass, or the notes that the chart gives it.
pub(super) fn has(chord: &Chord, note: Spelling) -> bool {
    let pinned = chord.pinned.iter().flatten().map(|note| note.spelling);
    let mut tones = chord
        .tones
        .iter()
        .map(|tone| tone.spelling)
        .chain(chord.bass)
        .chain(pinned);
    tones.any(|tone| tone.pitch_class() == note.pitch_class())
}

/// Where a stroke was written as a word; the part's name where it was not.
pub(super) fn place<'a>(part: &'a Part, stroke: Option<&'a Stroke>) -> &'a Place {
    let word = stroke.and_then(|stroke| stroke.word.as_ref());
    word.map_or(&part.place, |word| &word.place)
}

/// Strokes that something is to be said of: the first of them, and their bars.
#[derive(Default)]
pub(super) struct HarmonyHint<'a> {
    pub first: Option<&'a Stroke>,
    bars: BTreeSet<u32>,
}

impl<'a> HarmonyHint<'a> {
    pub(super) fn add(&mut self, stroke: &'a Stroke) {
        self.first.get_or_insert(stroke);
        self.bars.insert(bar(stroke.at));
    }

    pub(super) fn spelled(&self) -> String {
        spelled(&self.bars.iter().copied().collect::<Vec<_>>())
    }
}
