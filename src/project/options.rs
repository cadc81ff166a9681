//! What to change in a file before it is opened.

use std::path::{Path, PathBuf};

use super::build::Built;
use crate::loopfile::{Changes, Ending, Given};

/// Changes to a loop file or a form file, which itself stays as it is. Opened by [`Options::open`].
#[derive(Debug, Clone)]
pub struct Options {
    pub(super) path: PathBuf,
    /// What is read in the place of a file, where it was built in code.
    pub(super) built: Option<Built>,
    /// The file's text, where the file is yet to be written.
    pub(super) text: Option<String>,
    pub(super) changes: Changes,
    pub(super) swaps: Vec<(String, PathBuf)>,
    pub(super) substitutes: bool,
    /// How many times the written tempo it plays at.
    pub(super) tempo_times: f64,
}

impl Options {
    pub(super) fn new(path: PathBuf) -> Options {
        Options {
            path,
            built: None,
            text: None,
            changes: Changes::default(),
            swaps: Vec::new(),
            substitutes: false,
            tempo_times: 1.0,
        }
    }

    /// Reads a text in the place of the file, which need not be there yet.
    pub(crate) fn text(mut self, text: impl Into<String>) -> Options {
        self.text = Some(text.into());
        self
    }

    /// Sets a setting by its address, to a value as a loop file would have it: `set("snare.room", "-10")`.
    pub fn set(self, setting: &str, value: &str) -> Options {
        self.given([Given::set(setting, value)])
    }

    /// The same for values that come by way of a text of their own.
    pub(crate) fn given(mut self, given: impl IntoIterator<Item = Given>) -> Options {
        self.changes.set.extend(given);
        self
    }

    /// Takes the loop as a `[[mix]]` of its file changes it.
    pub fn mix(mut self, name: impl Into<String>) -> Options {
        self.changes.mix = Some(name.into());
        self
    }

    /// Plays on the one-shots of a folder instead of the file's own kit.
    pub fn kit(mut self, folder: impl Into<PathBuf>) -> Options {
        self.changes.kit = Some(folder.into());
        self
    }

    /// Plays a one-shot in a piece's place.
    pub fn swap(mut self, piece: impl Into<String>, file: impl Into<PathBuf>) -> Options {
        self.swaps.push((piece.into(), file.into()));
        self
    }

    /// Substitutes the closest piece for each percussion piece that the kit lacks.
    pub fn substitute(mut self, substitute: bool) -> Options {
        self.substitutes = substitute;
        self
    }

    /// Plays these parts or buses alone.
    pub fn only(mut self, names: impl IntoIterator<Item = impl Into<String>>) -> Options {
        self.changes.only.extend(names.into_iter().map(Into::into));
        self
    }

    /// Plays this part or bus alone, whatever else was to be alone.
    #[cfg(feature = "cli")]
    pub(super) fn alone(mut self, name: &str) -> Options {
        self.changes.only = vec![name.to_string()];
        self
    }

    /// Plays at so many times the tempo, in each loop of a form.
    #[cfg(feature = "cli")]
    pub(super) fn at_tempo(mut self, times: f64) -> Options {
        self.tempo_times = times;
        self
    }

    /// Leaves these parts or buses out.
    pub fn without(mut self, names: impl IntoIterator<Item = impl Into<String>>) -> Options {
        self.changes.without.extend(names.into_iter().map(Into::into));
        self
    }

    /// The random seed, instead of the file's.
    pub fn seed(mut self, seed: u64) -> Options {
        self.changes.seed = Some(seed);
        self
    }

    /// What happens to sound past the last bar, instead of what the file says.
    pub fn ending(mut self, ending: Ending) -> Options {
        self.changes.ending = Some(ending);
        self
    }

    /// The file to open.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// The mix that the file is opened with.
    pub(crate) fn chosen_mix(&self) -> Option<&str> {
        self.changes.mix.as_deref()
    }

    /// The files in the place of pieces.
    pub(crate) fn swapped_files(&self) -> impl Iterator<Item = PathBuf> {
        self.swaps.iter().map(|(_, file)| file.clone())
    }
}
