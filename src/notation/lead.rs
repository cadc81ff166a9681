//! The staff of a lead sheet: slashes that count the beats under the chord symbols, and the accents of the band over them.

use super::drums::{accent, slash};
use super::{Clef, Event, Head, Measure, Sheet, SheetBar, Staff, Value, WrittenNote, WrittenPitch, drawn};
use crate::loopfile::Exact;

/// Which of the staff's drums counts beats; the other one is the band's accents.
const SLASH: usize = 1;

/// A staff of slashes, one a beat; its second voice has the band's accents, where there are any.
pub(crate) fn lead(sheet: &Sheet) -> Staff {
    let measures = sheet.bars.iter().map(|bar| {
        let mut voices = vec![slashes(bar)];
        if !bar.kicks.is_empty() {
            voices.push(bar.kicks.clone());
        }
        Measure { voices }
    });
    let chords = sheet.bars.iter().any(|bar| !bar.chords.is_empty());
    let (name, short) = if chords { ("Chords", "Ch.") } else { ("Accents", "Acc.") };
    Staff {
        name: name.into(),
        short: short.into(),
        parts: Vec::new(),
        clef: Clef::Treble,
        hand: None,
        drums: vec![accent(), slash()],
        measures: measures.collect(),
    }
}

fn slashes(bar: &SheetBar) -> Vec<Event> {
    let (counts, unit) = bar.metre;
    // Three eighths are a beat in 6/8 and its like.
    let compound = unit >= 8 && counts > 3 && counts % 3 == 0;
    let beat = Exact::new(if compound { 3 } else { 1 }, unit.into());
    let mut events = Vec::new();
    let mut at = Exact::ZERO;
    while at < bar.length() {
        let length = beat.min(bar.length() - at);
        // The rest of a short bar may take more than one slash.
        let length = match drawn(length) {
            Some(_) => length,
            None => Exact::new(1, *length.denom()),
        };
        events.push(event(at, length));
        at += length;
    }
    events
}

fn event(at: Exact, length: Exact) -> Event {
    let note = WrittenNote {
        pitch: WrittenPitch::Drum(SLASH),
        head: Head::Slash,
        tied: false,
        ghost: false,
        approach: None,
        leave: None,
        degree: None,
    };
    Event {
        at,
        length,
        value: drawn(length).unwrap_or(Value { part: 4, dots: 0 }),
        tuplet: None,
        notes: vec![note],
        graces: Vec::new(),
        beams: 0,
        signs: Vec::new(),
    }
}
