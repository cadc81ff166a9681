//! How a part plays in each bar: its own keys, and over them those of `[part.change]`.

use crate::harmony::{Note, Voicing};
use crate::loopfile::rhythm;
use crate::loopfile::{Exact, Way, Words};
use crate::schema::{Layers, Setting, Settings, arpeggio, part, playing, strum};
use crate::text::Problem;

/// What `[part.change]` sets in some bars, which count from 0, in the order of the file.
pub(in crate::loopfile) type ChangedBars = Vec<(Vec<u32>, Settings)>;

/// Reads the bars of a part's `[part.change]`.
pub(in crate::loopfile) fn changes(part: &Settings, bars: u32, problems: &mut Vec<Problem>) -> ChangedBars {
    let tables = part.get(part::CHANGE).into_iter().flatten();
    let read =
        |(named, settings): &(Words, Settings)| Some((rhythm::read_bars(named, bars, problems)?, settings.clone()));
    tables.filter_map(read).collect()
}

/// A part's keys of playing, bar by bar.
#[derive(Debug, Clone, Copy)]
pub(in crate::loopfile) struct BarSettings<'a> {
    pub own: &'a Settings,
    pub changed: &'a ChangedBars,
}

/// How a chord's notes follow one another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Strum {
    /// Seconds from the first to the last.
    pub seconds: f64,
    /// From the highest down.
    pub down: bool,
    /// As a guitarist's hand strikes the strings.
    pub guitar: bool,
}

/// A broken chord.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Arpeggio<'a> {
    /// In whole notes.
    pub step: Exact,
    pub order: &'a str,
}

impl<'a> BarSettings<'a> {
    /// The keys that hold in a bar, counted from 0.
    pub(crate) fn at(&self, bar: u32) -> Layers<'a> {
        let changed = self.changed.iter().rev();
        let here = changed.filter(|(bars, _)| bars.binary_search(&bar).is_ok());
        Layers::new(here.map(|(_, settings)| settings).chain([self.own]))
    }

    /// True where some bar may differ from another in a key.
    pub(crate) fn changes<T>(&self, setting: Setting<T>) -> bool {
        self.changed
            .iter()
            .any(|(_, settings)| settings.placed(setting).is_some())
    }

    /// The piece that it plays in a bar, where it says one.
    pub(crate) fn piece(&self, bar: u32) -> Option<&'a Words> {
        self.at(bar).get(playing::PIECE)
    }
}

/// The note that chords and degrees are placed by.
pub(super) fn register(layers: &Layers<'_>, way: Way) -> Note {
    let standard = if way == Way::Degrees { "C2" } else { "C4" };
    let asked = layers.text(playing::REGISTER).and_then(|text| Note::parse(text).ok());
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
        .text(playing::VOICING)
        .and_then(Voicing::named)
        .unwrap_or(Voicing::Close)
}

/// The share of its written length that a note sounds, where it does not ring.
pub(in crate::loopfile) fn length(layers: &Layers<'_>, standard: Option<f64>) -> Option<Exact> {
    let percent = if layers.says(playing::LENGTH) {
        layers.level(playing::LENGTH)
    } else {
        standard
    };
    percent.map(|percent| Exact::new(libm::round(percent * 1e6) as i128, 100_000_000))
}

/// The strum that a part's keys ask for; what goes without saying for a stroke of the hand where they say nothing.
pub(super) fn strum(layers: &Layers<'_>, stroke: bool) -> Option<Strum> {
    match layers.nested(playing::STRUM) {
        Some(strum) => Some(Strum {
            seconds: strum.number(strum::MS) / 1000.0,
            down: strum.text(strum::ORDER) == Some("down"),
            guitar: strum.text(strum::HAND) == Some("guitar"),
        }),
        None if stroke && !layers.says(playing::STRUM) => {
            let standard = Layers::new([]);
            Some(Strum {
                seconds: standard.number(strum::MS) / 1000.0,
                down: false,
                guitar: false,
            })
        }
        None => None,
    }
}

pub(super) fn arpeggio<'a>(layers: &Layers<'a>) -> Option<Arpeggio<'a>> {
    let arpeggio = layers.nested(playing::ARPEGGIO)?;
    Some(Arpeggio {
        step: arpeggio.notes(arpeggio::STEP)?,
        order: arpeggio.text(arpeggio::ORDER).unwrap_or("up"),
    })
}
