//! A form, resolved.

use std::path::PathBuf;
use std::sync::Arc;

use super::{Centre, Ending, Exact, Loop, Strip, Sweep};
use crate::loopfile::AsWritten;
use crate::text::Place;

/// A form: loops one after another.
#[derive(Debug, Clone)]
pub struct Form {
    /// Its title; the file's stem unless the file says otherwise.
    pub title: String,
    /// Where the file speaks of it as a whole, for problems that come up later.
    pub place: Place,
    /// Its sections in order, at least one.
    pub sections: Vec<Section>,
    /// What happens at its end.
    pub ending: Ending,
    /// The strip in which the sections meet.
    pub master: Strip,
    /// Integrated loudness to meet, LUFS.
    pub loudness: Option<f64>,
    /// What moves in the master, over the form's bars.
    pub sweeps: Vec<Sweep>,
    /// The centres of the master's bells, those that sweeps come to among them.
    pub centres: Vec<Centre>,
    /// How much of the end of the first section's loop comes before bar 1, in whole notes.
    pub pickup: Option<Exact>,
    /// True where one more beat comes after the last bar: what stands on the one of the last section's first bar.
    pub last_hit: bool,
    /// Bars over which it fades in and out; 0 for none.
    pub fades: (f64, f64),
    /// What the form file says of itself and its own master, key by key, as it was changed.
    pub as_written: Arc<AsWritten>,
}

/// A section of a form.
#[derive(Debug, Clone)]
pub struct Section {
    /// Its name.
    pub name: String,
    /// Where the file names its loop, for problems that come up later.
    pub place: Place,
    /// The loop's file, relative to the current folder.
    pub file: PathBuf,
    /// The loop it plays.
    pub plays: Loop,
    /// The addresses of the settings that it sets otherwise than its loop.
    pub sets: Vec<String>,
    /// How many times round, at least 1.
    pub times: u32,
    /// The first and the last of the loop's bars that it plays, counted from 1.
    pub window: (u32, u32),
}

impl Section {
    /// Bars of one time round.
    pub fn round(&self) -> u32 {
        self.window.1 - self.window.0 + 1
    }

    /// True where it sets a setting otherwise than its loop, by an address that names it or what it belongs to.
    #[cfg(feature = "cli")]
    pub(crate) fn sets_otherwise(&self, key: &str) -> bool {
        let names = |set: &String| {
            key.strip_prefix(set.as_str())
                .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        };
        self.sets.iter().any(names)
    }

    /// Bars in all.
    pub fn bars(&self) -> u32 {
        self.round() * self.times
    }
}

impl Form {
    /// Bars of all sections, neither pickup nor last hit counted.
    pub fn bars(&self) -> u32 {
        self.sections.iter().map(Section::bars).sum()
    }
}
