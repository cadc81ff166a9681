//! The staff of a lead sheet: slashes that count the beats under the chord symbols.

use crate::loopfile::Exact;
use crate::notation::{Clef, Drum, Event, Head, Measure, Sheet, Staff, Value, WrittenNote, WrittenPitch};

/// A staff of slashes, one a beat.
pub(super) fn staff(sheet: &Sheet) -> Staff {
    let measures = sheet.bars.iter().map(|bar| {
        let (counts, unit) = bar.metre;
        let full = Exact::new(i128::from(counts), i128::from(unit));
        let length = bar.short.unwrap_or(full);
        // Three eighths are a beat in 6/8 and its like.
        let compound = unit >= 8 && counts > 3 && counts % 3 == 0;
        let (value, beat) = match compound {
            true => (
                Value {
                    part: unit / 2,
                    dots: 1,
                },
                Exact::new(3, i128::from(unit)),
            ),
            false => (Value { part: unit, dots: 0 }, Exact::new(1, i128::from(unit))),
        };
        let mut events = Vec::new();
        let mut at = Exact::new(0, 1);
        while at < length {
            events.push(slash(at, beat, value));
            at += beat;
        }
        Measure { voices: vec![events] }
    });
    let middle = Drum {
        name: "slash".into(),
        // B4, the middle line.
        step: 34,
        head: Head::Slash,
        key: None,
    };
    Staff {
        name: "Chords".into(),
        short: "Ch.".into(),
        parts: Vec::new(),
        clef: Clef::Treble,
        drums: vec![middle],
        measures: measures.collect(),
    }
}

fn slash(at: Exact, length: Exact, value: Value) -> Event {
    let note = WrittenNote {
        pitch: WrittenPitch::Drum(0),
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
        // White slashes are long notes: what counts is black whatever the metre.
        value: Value {
            part: value.part.max(4),
            dots: 0,
        },
        tuplet: None,
        notes: vec![note],
        graces: Vec::new(),
        beams: 0,
        signs: Vec::new(),
    }
}
