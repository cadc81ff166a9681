//! What a preview is made from, as a sum: where that is the same, so are its files.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use sha2::{Digest, Sha256};

use super::list::List;
use super::plan::Entry;
use crate::export::mark::MADE_BY;
use crate::files::{self, hexadecimal};
use crate::kit::MANIFEST;
use crate::project::Project;
use crate::text::Problem;

/// Counts what a record tells: one of another number is made again.
const RECORD: u32 = 2;

/// The sums of files that were read already, for as long as a run lasts.
#[derive(Default)]
pub(super) struct Sums(Mutex<HashMap<PathBuf, String>>);

impl Sums {
    fn of(&self, path: &Path) -> Result<String, Problem> {
        if let Some(known) = self.0.lock().unwrap_or_else(PoisonError::into_inner).get(path) {
            return Ok(known.clone());
        }
        let sum = files::sha256(path).map_err(|refused| Problem::new(format!("{} {refused}", path.display())))?;
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        Ok(known.entry(path.to_path_buf()).or_insert(sum).clone())
    }

    /// The sum of all that a preview is made from: pressroll's version, what the list says of it, and the bytes of its loop, its
    /// performances, its impulse responses, and its kits' recordings and `kit.toml`s. Where files lie is no matter.
    ///
    /// # Errors
    /// A file that can't be read.
    pub(super) fn made_from(&self, list: &List, entry: &Entry, project: &Project) -> Result<String, Problem> {
        let mut sum = Sha256::new();
        let asked = (list.rate, list.coding, list.rounds, list.ending, &list.formats);
        let version = (&entry.mix, entry.tempo, entry.varied(), project.lent());
        sum.update(format!("{MADE_BY} {RECORD} {asked:?} {version:?} {}", entry.name));
        let mut files = project.reads();
        files.push(entry.file.to_path_buf());
        for (_, kit) in project.loops() {
            let written = kit.folders().iter().map(|folder| folder.join(MANIFEST));
            files.extend(written.filter(|file| file.exists()));
        }
        files.sort();
        files.dedup();
        for file in &files {
            sum.update(self.of(file)?);
        }
        Ok(hexadecimal(&sum.finalize()))
    }
}
