//! The folder of a catalogue: whose it is, where files lie in it, what was kept of each preview.
//!
//! Several processes may work in it at once: every file is written beside its place and renamed, and two that make the same preview
//! write the same bytes.

use std::collections::BTreeSet;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::list::{Format, List};
use super::plan::Entry;
use super::record::Record;
use crate::export::mark::MADE_BY;
use crate::export::{write_beside, write_preview};
use crate::files::{self, LONGEST_TEXT, Refused, plainly};
use crate::text::Problem;

/// Where previews lie within it.
const PREVIEWS: &str = "previews";
/// Where records of them lie.
const RECORDS: &str = "records";
/// Where what goes with them lies.
pub(super) const HAND_OVER: &str = "hand-over";
/// What says whose folder it is.
const SIGN: &str = "records/catalogue.json";

/// The folder of one catalogue.
#[derive(Debug, Clone)]
pub(crate) struct Store(PathBuf);

/// What says for which preview the files beside it are.
pub(super) fn hand_over_sign(name: &str) -> String {
    format!("{HAND_OVER}/{name}/made-from.txt")
}

/// What its sign says.
#[derive(Serialize, Deserialize)]
struct Sign {
    title: String,
    made_by: String,
}

impl Store {
    /// Takes a folder for a list's catalogue, and makes it where it is not there.
    ///
    /// # Errors
    /// A folder of another catalogue, or with other things in it; one that can't be made.
    pub(crate) fn open(place: &Path, list: &List) -> Result<Store, Problem> {
        let store = Store(place.to_path_buf());
        match store.read::<Sign>(SIGN)? {
            Some(sign) if sign.title == list.title => return Ok(store),
            Some(sign) => {
                let what = format!(
                    "{} holds the catalogue \"{}\", not \"{}\"",
                    place.display(),
                    sign.title,
                    list.title
                );
                return Err(Problem::new(what).help("name another folder with -o"));
            }
            None => {}
        }
        let there = match fs::read_dir(place) {
            Ok(entries) => entries
                .flatten()
                .any(|entry| !entry.file_name().to_string_lossy().starts_with('.')),
            Err(_) => false,
        };
        // Another shard may be taking it at this moment.
        if there && store.read::<Sign>(SIGN)?.is_none() && !place.join(RECORDS).is_dir() {
            let what = format!("{} holds files, and no catalogue", place.display());
            return Err(Problem::new(what).help("name an empty folder, or one that is not there yet, with -o"));
        }
        let sign = Sign {
            title: list.title.clone(),
            made_by: MADE_BY.to_string(),
        };
        store.write(SIGN, &sign, true)?;
        Ok(store)
    }

    /// The folder itself.
    pub(super) fn place(&self) -> &Path {
        &self.0
    }

    /// The path of a file within it, which is written with slashes.
    pub(crate) fn path(&self, within: &str) -> PathBuf {
        within.split('/').fold(self.0.clone(), |path, part| path.join(part))
    }

    /// A preview's file of some format, within it.
    pub(super) fn file(entry: &Entry, format: Format) -> String {
        format!("{PREVIEWS}/{}.{}", entry.name, format.ending())
    }

    fn record_of(name: &str) -> String {
        format!("{RECORDS}/{name}.json")
    }

    /// What was kept of a preview; none where it was not made, and where what was kept can't be understood.
    ///
    /// # Errors
    /// A record that can't be read.
    pub(crate) fn record(&self, name: &str) -> Result<Option<Record>, Problem> {
        self.read(&Store::record_of(name))
    }

    /// Keeps what there is to keep of a preview.
    ///
    /// # Errors
    /// As `write_beside`.
    pub(super) fn keep(&self, entry: &Entry, record: &Record) -> Result<(), Problem> {
        self.write(&Store::record_of(&entry.name), record, false)
    }

    /// True where all files of a record are there and as long as they were. Whether their bytes are the same, `--finish` sees.
    pub(super) fn holds(&self, record: &Record) -> bool {
        let same = |path: &Path, bytes: u64| fs::metadata(path).is_ok_and(|file| file.is_file() && file.len() == bytes);
        record.files.iter().all(|file| same(&self.path(&file.file), file.bytes))
    }

    /// True where what goes with a preview is there.
    pub(super) fn hands_over(&self, name: &str, record: &Record) -> bool {
        fs::read_to_string(self.path(&hand_over_sign(name))).is_ok_and(|text| text == record.made_from)
    }

    /// The first file of a record that is not there, or is not what was written.
    pub(crate) fn damaged(&self, record: &Record) -> Option<String> {
        let damaged = record.files.iter().find(|file| {
            let sum = files::sha256(&self.path(&file.file));
            sum.map_or(true, |sum| sum != file.sha256)
        });
        damaged.map(|file| file.file.clone())
    }

    /// The names of all previews of which there are records, in the order of the alphabet.
    pub(crate) fn kept(&self) -> BTreeSet<String> {
        let mut names = BTreeSet::new();
        for folder in fs::read_dir(self.path(RECORDS)).into_iter().flatten().flatten() {
            let collection = folder.file_name().to_string_lossy().into_owned();
            for file in fs::read_dir(folder.path()).into_iter().flatten().flatten() {
                let name = file.file_name().to_string_lossy().into_owned();
                let name = name.strip_suffix(".json").filter(|name| !name.starts_with('.'));
                names.extend(name.map(|name| format!("{collection}/{name}")));
            }
        }
        names
    }

    /// Removes a preview: its files that are as they were written, and its record. Gives the files that somebody has changed, which
    /// stay.
    ///
    /// # Errors
    /// A file that can't be removed.
    pub(crate) fn remove(&self, name: &str) -> Result<Vec<String>, Problem> {
        let mut changed = Vec::new();
        for file in self.record(name)?.into_iter().flat_map(|record| record.files) {
            match files::sha256(&self.path(&file.file)) {
                Ok(sum) if sum == file.sha256 => self.unlink(&file.file)?,
                Err(Refused::Absent) => {}
                _ => changed.push(file.file),
            }
        }
        self.unlink(&Store::record_of(name))?;
        Ok(changed)
    }

    fn unlink(&self, within: &str) -> Result<(), Problem> {
        let path = self.path(within);
        fs::remove_file(&path)
            .map_err(|error| Problem::new(format!("{} can't be removed: {}", path.display(), plainly(&error))))
    }

    fn read<T: for<'a> Deserialize<'a>>(&self, within: &str) -> Result<Option<T>, Problem> {
        let path = self.path(within);
        match files::read(&path, LONGEST_TEXT) {
            Ok(bytes) => Ok(serde_json::from_slice(&bytes).ok()),
            Err(Refused::Absent) => Ok(None),
            Err(refused) => Err(Problem::new(format!("{} {refused}", path.display()))),
        }
    }

    fn write(&self, within: &str, what: &impl Serialize, lasting: bool) -> Result<(), Problem> {
        let text = serde_json::to_vec(what).expect("names and numbers can be written as JSON");
        let fill = |out: &mut std::io::BufWriter<&mut fs::File>| out.write_all(&text);
        match lasting {
            true => write_beside(&self.path(within), fill),
            false => write_preview(&self.path(within), fill),
        }
    }
}
