//! How a part plays in each bar: its own keys, and over them those of `[part.change]`.

use crate::harmony::{Note, Voicing};
use crate::loopfile::rhythm;
use crate::loopfile::{Exact, Words};
use crate::schema::{Layers, Setting, Settings, Table, Value};
use crate::text::Problem;

/// What `[part.change]` sets in some bars, which count from 0, in the order of the file.
pub(in crate::loopfile) type Changed = Vec<(Vec<u32>, Settings)>;

/// Reads the bars of a part's `[part.change]`.
pub(in crate::loopfile) fn changes(part: &Settings, bars: u32, problems: &mut Vec<Problem>) -> Changed {
    let Some(Setting {
        value: Value::Named(tables),
        ..
    }) = part.get("change")
    else {
        return Vec::new();
    };
    let mut changed = Vec::new();
    for (key, settings) in tables {
        if let Some(bars) = rhythm::read_bars(key, bars, problems) {
            changed.push((bars, settings.clone()));
        }
    }
    changed
}

/// A part's keys of playing, bar by bar.
#[derive(Debug, Clone, Copy)]
pub(in crate::loopfile) struct Habits<'a> {
    pub own: &'a Settings,
    pub changed: &'a Changed,
}

/// How a chord's notes follow one another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Strum {
    /// Seconds from the first to the last.
    pub seconds: f64,
    /// From the highest down.
    pub down: bool,
}

/// A broken chord.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Arpeggio<'a> {
    /// In whole notes.
    pub step: Exact,
    pub order: &'a str,
}

impl<'a> Habits<'a> {
    /// The keys that hold in a bar, counted from 0.
    pub fn at(&self, bar: u32) -> Layers<'a> {
        let changed = self.changed.iter().rev();
        let here = changed.filter(|(bars, _)| bars.binary_search(&bar).is_ok());
        Layers::new(
            Table::Part,
            here.map(|(_, settings)| settings).chain(std::iter::once(self.own)),
        )
    }

    /// True where some bar may differ from another in a key.
    pub fn changes(&self, name: &str) -> bool {
        self.changed.iter().any(|(_, settings)| settings.get(name).is_some())
    }

    /// The piece that it plays in a bar, where it says one.
    pub fn piece(&self, bar: u32) -> Option<&'a Words> {
        match &self.at(bar).get("piece")?.value {
            Value::Text(words) => Some(words),
            _ => None,
        }
    }
}

/// The note that chords and degrees are placed by.
pub(super) fn register(layers: &Layers<'_>, language: &str) -> Note {
    let standard = if language == "degrees" { "C2" } else { "C4" };
    let asked = layers.text("register").and_then(|text| Note::parse(text).ok());
    asked.or_else(|| Note::parse(standard).ok()).unwrap_or(MIDDLE_C)
}

const MIDDLE_C: Note = Note {
    spelling: crate::harmony::Spelling {
        letter: crate::harmony::Letter::C,
        alter: 0,
    },
    octave: 4,
};

pub(super) fn voicing(layers: &Layers<'_>) -> Voicing {
    layers
        .text("voicing")
        .and_then(Voicing::named)
        .unwrap_or(Voicing::Close)
}

/// The share of its written length that a note sounds, where it does not ring.
pub(in crate::loopfile) fn length(layers: &Layers<'_>, standard: Option<f64>) -> Option<Exact> {
    let percent = if layers.says("length") {
        layers.level("length")
    } else {
        standard
    };
    percent.map(|percent| Exact::new(libm::round(percent * 1e6) as i128, 100_000_000))
}

/// The strum that a part's keys ask for; what goes without saying for a stroke of the hand where they say nothing.
pub(super) fn strum(layers: &Layers<'_>, stroke: bool) -> Option<Strum> {
    match layers.nested("strum") {
        Some(strum) => Some(Strum {
            seconds: strum.number("ms", 0.0) / 1000.0,
            down: strum.text("order") == Some("down"),
        }),
        None if stroke && !layers.says("strum") => {
            let standard = Layers::new(Table::Strum, []);
            Some(Strum {
                seconds: standard.number("ms", 0.0) / 1000.0,
                down: false,
            })
        }
        None => None,
    }
}

pub(super) fn arpeggio<'a>(layers: &Layers<'a>) -> Option<Arpeggio<'a>> {
    let arpeggio = layers.nested("arpeggio")?;
    Some(Arpeggio {
        step: arpeggio.notes("step")?,
        order: arpeggio.text("order").unwrap_or("up"),
    })
}
