//! A loop that is built in code: what its parts play is given as numbers, everything else as settings by their addresses.

use std::path::PathBuf;

use super::build::{Built, Part};
use super::{Options, Project};
use crate::text::Problems;

/// A loop that is built in code. Whatever is not said has the default that it has in a loop file.
#[derive(Debug, Clone)]
pub struct LoopBuilder {
    options: Options,
    built: Built,
}

impl Project {
    /// A loop without a file: `tempo` in BPM, its length in bars.
    pub fn build(tempo: f64, bars: u32) -> LoopBuilder {
        LoopBuilder {
            options: Options::new(PathBuf::from("loop")),
            built: Built {
                tempo,
                bars,
                parts: Vec::new(),
            },
        }
    }
}

impl LoopBuilder {
    /// Plays on the one-shots of a folder.
    pub fn kit(mut self, folder: impl Into<PathBuf>) -> LoopBuilder {
        self.options = self.options.kit(folder);
        self
    }

    /// Adds a part. Its name is unlike those of the others.
    pub fn part(mut self, part: Part) -> LoopBuilder {
        self.built.parts.push(part);
        self
    }

    /// Sets a setting by its address, as [`Options::set`] does: `set("kick.drive", "6")`, `set("loop.metre", "6/8")`.
    pub fn set(mut self, setting: &str, value: &str) -> LoopBuilder {
        self.options = self.options.set(setting, value);
        self
    }

    /// Opens it on its kit.
    ///
    /// # Errors
    /// Hits outside of the loop, velocities or settings out of range, pieces that the kit lacks.
    pub fn open(mut self) -> Result<Project, Problems> {
        self.options.built = Some(self.built);
        self.options.open()
    }
}
