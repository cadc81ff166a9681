//! What a file says of itself before its kit is opened.

use std::path::PathBuf;

use super::unresolved::{Draft, FormDraft, LoopDraft};

/// Of a form, what is said of one loop is said of its first section's.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Outline {
    /// What it is called.
    pub title: String,
    /// In BPM.
    pub tempo: f64,
    /// The key of the music, where the file says one.
    pub key: Option<String>,
    /// Counts, and the note that is counted.
    pub metre: (u32, u32),
    /// Bars in all.
    pub bars: u32,
    /// Seconds to the end of the last bar.
    pub seconds: f64,
    /// What it takes to render, in seconds of parts.
    pub work: f64,
    /// Its mixes, each once.
    pub mixes: Vec<String>,
    /// The folders of its kits.
    pub kits: Vec<PathBuf>,
}

/// What the buses, rooms and the master take, counted in parts.
const BESIDE_PARTS: f64 = 4.0;

impl Draft {
    /// What it says of itself.
    pub(crate) fn outline(&self) -> Outline {
        match self {
            Draft::Loop(draft) => draft.outline(draft.bars),
            Draft::Form(draft) => draft.outline(),
        }
    }
}

impl LoopDraft {
    /// The same for so many of its bars, one after another.
    fn outline(&self, bars: u32) -> Outline {
        let seconds = self.time.bar_seconds() * f64::from(bars);
        Outline {
            title: self.title.clone(),
            tempo: self.time.tempo,
            key: self.key.clone(),
            metre: (self.time.counts, self.time.unit),
            bars,
            seconds,
            work: seconds * (self.parts.len() as f64 + BESIDE_PARTS),
            mixes: self.mixes.clone(),
            kits: self.kits().to_vec(),
        }
    }
}

impl FormDraft {
    fn outline(&self) -> Outline {
        let mut sections = self.sections.iter().map(|section| {
            let (first, last) = section.window;
            section.plays.outline((last - first + 1).saturating_mul(section.times))
        });
        // A form without sections is none.
        let mut all = sections.next().expect("a form has a section");
        for section in sections {
            all.bars = all.bars.saturating_add(section.bars);
            all.seconds += section.seconds;
            all.work += section.work;
            add(&mut all.mixes, section.mixes);
            add(&mut all.kits, section.kits);
        }
        all.title = self.title.clone();
        all
    }
}

/// Adds what is not there yet.
fn add<T: PartialEq>(all: &mut Vec<T>, more: Vec<T>) {
    for one in more {
        if !all.contains(&one) {
            all.push(one);
        }
    }
}
