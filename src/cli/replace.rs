//! What may be written over: one rule for every command that writes.
//!
//! A file that is there is replaced where it carries pressroll's mark (see [`mark`]), or with `--force`. What anything is
//! made of is replaced by no command but one that edits it on request. Links are followed: what counts is where they lead.

use std::cell::OnceCell;
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use crate::export::mark::{self, Whose};
use crate::files::{self, LONGEST_TEXT, Refused};
use crate::kit::{self, Kit, MANIFEST};
use crate::project::Project;
use crate::text::Problem;

/// The most loop files of a folder that are asked whether they name a file.
const MOST_ASKED: usize = 256;

/// What a command may put its files in the place of.
pub(super) struct Rule {
    force: bool,
    /// What to name instead, and how.
    instead: &'static str,
    /// Files that are read.
    read: BTreeSet<PathBuf>,
    /// Folders of kits.
    kits: BTreeSet<PathBuf>,
    /// Their one-shots, wherever they lie.
    shots: BTreeSet<PathBuf>,
    /// Where the loops lie.
    desks: BTreeSet<PathBuf>,
    /// `read` without links.
    really_read: OnceCell<BTreeSet<PathBuf>>,
}

impl Rule {
    /// A rule that knows of nothing yet; `instead` is what to name where it refuses, such as "file with -o".
    pub(super) fn new(force: bool, instead: &'static str) -> Rule {
        Rule {
            force,
            instead,
            read: BTreeSet::new(),
            kits: BTreeSet::new(),
            shots: BTreeSet::new(),
            desks: BTreeSet::new(),
            really_read: OnceCell::new(),
        }
    }

    /// Keeps all that a project is made of.
    pub(super) fn keep(mut self, project: &Project) -> Rule {
        let opened = project.opened_by();
        self.read
            .extend(project.reads().into_iter().chain(opened.swapped_files()));
        self.read.insert(opened.path().to_path_buf());
        self.desks.insert(folder_of(opened.path()).to_path_buf());
        project
            .loops()
            .into_iter()
            .fold(self, |rule, (_, kit)| rule.keep_kit(kit))
    }

    /// Keeps a kit's files, those that nothing plays too.
    pub(super) fn keep_kit(mut self, kit: &Kit) -> Rule {
        if !kit.folders().iter().all(|folder| self.kits.contains(folder)) {
            self.kits.extend(kit.folders().iter().cloned());
            self.shots.extend(kit.files().map(Path::to_path_buf));
            self.read.extend(kit.written_files());
        }
        self
    }

    /// Keeps some files that are read.
    pub(super) fn keep_files(mut self, files: impl IntoIterator<Item = PathBuf>) -> Rule {
        self.read.extend(files);
        self
    }

    /// Keeps folders of one-shots as if they were kits.
    pub(super) fn keep_folders(mut self, folders: impl IntoIterator<Item = PathBuf>) -> Rule {
        self.kits.extend(folders);
        self
    }

    /// Makes sure that files may be written at some places.
    ///
    /// # Errors
    /// The first file that may not be replaced, with what it is.
    pub(super) fn allow(&self, paths: impl IntoIterator<Item = impl AsRef<Path>>) -> Result<(), Problem> {
        paths.into_iter().try_for_each(|path| self.allow_one(path.as_ref()))
    }

    fn allow_one(&self, path: &Path) -> Result<(), Problem> {
        let shown = path.display();
        match files::check(path, u64::MAX) {
            // What is not there yet is nobody's; what keeps it from being written is told when it is.
            Err(Refused::Absent | Refused::Machine(_)) => return Ok(()),
            Err(strange) => return Err(Problem::new(format!("{shown} {strange}")).help("name a file to write")),
            Ok(()) => {}
        }
        let Ok(real) = path.canonicalize() else { return Ok(()) };
        let refused = |what: String| Err(Problem::new(what).help(format!("name another {}", self.instead)));
        if self.really_read().contains(&real) {
            return refused(format!("{shown} would be overwritten, which this loop is made of"));
        }
        let whose = mark::whose(&real).unwrap_or(Whose::Theirs);
        if let Some(what) = (whose == Whose::Theirs).then(|| self.made_of(&real)).flatten() {
            return refused(format!("{shown} is {what}, which is never overwritten"));
        }
        if let Err(error) = files::writable(&real) {
            return refused(format!("{shown} can't be written: {}", files::plainly(&error)));
        }
        let what = match whose {
            _ if self.force => return Ok(()),
            Whose::Ours => return Ok(()),
            Whose::Edited => format!("{shown} is there already, and it was edited since pressroll wrote it"),
            Whose::Theirs => format!("{shown} is there already, and it does not carry pressroll's mark"),
        };
        let help = format!("name another {}, or replace it with --force", self.instead);
        Err(
            Problem::new(what).help(match whose == Whose::Theirs && left_unmarked(&real) {
                true => format!("{help}; earlier versions left no mark in MIDI, pictures and pages"),
                false => help,
            }),
        )
    }

    fn really_read(&self) -> &BTreeSet<PathBuf> {
        self.really_read.get_or_init(|| real(&self.read))
    }

    /// What a file without a mark is, where a loop or a kit may be made of it.
    fn made_of(&self, real: &Path) -> Option<String> {
        if is_toml(real) {
            return Some("a loop, a form or a kit.toml".to_string());
        }
        let holds = |kit: &PathBuf| kit::comes_to(kit, real);
        let in_kit = kit::is_one_shot(real) && self.kits_around(real).iter().any(holds);
        if in_kit || self::real(&self.shots).contains(real) {
            return Some("a one-shot of a kit".to_string());
        }
        let mut folders = self.desks.clone();
        folders.extend(real.parent().map(Path::to_path_buf));
        let named_by = folders.iter().find_map(|folder| named_by(folder, real));
        named_by.map(|file| format!("a part of {}", file.display()))
    }

    /// Makes sure that a folder of versions may be written at a place: where a kit is looked for, they would be its pieces.
    ///
    /// # Errors
    /// That it is a file, or lies in a kit.
    pub(super) fn allow_folder(&self, place: &Path) -> Result<(), Problem> {
        let shown = place.display();
        let refused = |what: String| Err(Problem::new(what).help(format!("name another {}", self.instead)));
        if place.is_file() {
            return Err(Problem::new(format!("{shown} is a file")).help(format!("name a {}", self.instead)));
        }
        let there = really(place);
        let desks = real(&self.desks);
        for kit in self.kits_around(&there) {
            // A folder that also holds the loop is more than a kit: in it, only folders without one-shots are free.
            let shared = desks.iter().any(|desk| kit::comes_to(&kit, desk)) && kit != there;
            let within = |shot: &PathBuf| {
                shot.parent() == Some(&there) && mark::whose(shot).is_ok_and(|whose| whose == Whose::Theirs)
            };
            if kit::comes_to(&kit, &there) && (!shared || real(&self.shots).iter().any(within)) {
                return refused(format!("{shown} lies in a kit, whose pieces the versions would be"));
            }
        }
        Ok(())
    }

    /// The kits that are known here, and the folders around a place that have a kit.toml, without links.
    fn kits_around(&self, place: &Path) -> BTreeSet<PathBuf> {
        let mut kits = real(&self.kits);
        let around = place.ancestors().filter(|folder| folder.join(MANIFEST).is_file());
        kits.extend(around.map(Path::to_path_buf));
        kits
    }
}

/// Makes sure that nothing is there: what is made once and then edited is never made again over it.
///
/// # Errors
/// That something is.
pub(super) fn nothing_there(path: &Path) -> Result<(), Problem> {
    match path.symlink_metadata() {
        Err(_) => Ok(()),
        Ok(_) => {
            let what = format!("{} is there already, and nothing is overwritten", path.display());
            Err(Problem::new(what).help("name another folder"))
        }
    }
}

/// Makes sure that a text that a command edits may be written, and is still the one that was read.
///
/// # Errors
/// That it is protected, or that somebody has written it meanwhile.
pub(super) fn still_as_read(path: &Path, text: &str) -> Result<(), Problem> {
    let shown = path.display();
    files::writable(path)
        .map_err(|error| Problem::new(format!("{shown} can't be written: {}", files::plainly(&error))))?;
    match files::read(path, LONGEST_TEXT) {
        Ok(bytes) if bytes == text.as_bytes() => Ok(()),
        _ => {
            let what = format!("{shown} was written since it was read, and stays as it is now");
            Err(Problem::new(what).help("run the command again"))
        }
    }
}

/// Paths without links, of those that lead to something.
fn real(paths: &BTreeSet<PathBuf>) -> BTreeSet<PathBuf> {
    paths.iter().filter_map(|path| path.canonicalize().ok()).collect()
}

/// A path without links, whose last folders need not be there yet.
fn really(path: &Path) -> PathBuf {
    for there in path.ancestors() {
        let there = if there == Path::new("") { Path::new(".") } else { there };
        if let Ok(real) = there.canonicalize() {
            return real.join(path.strip_prefix(there).unwrap_or(path));
        }
    }
    path.to_path_buf()
}

fn folder_of(file: &Path) -> &Path {
    match file.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    }
}

/// True for a file that an earlier version may have written.
fn left_unmarked(path: &Path) -> bool {
    let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    ["mid", "svg", "png", "html"].contains(&&*ending)
}

fn is_toml(path: &Path) -> bool {
    path.extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("toml"))
}

/// The first loop, form or kit.toml of a folder that names a file.
fn named_by(folder: &Path, file: &Path) -> Option<PathBuf> {
    let entries = std::fs::read_dir(folder).ok()?.flatten();
    let mut loops: Vec<PathBuf> = entries.map(|entry| entry.path()).filter(|path| is_toml(path)).collect();
    loops.sort();
    loops.into_iter().take(MOST_ASKED).find(|path| {
        let text = files::read(path, LONGEST_TEXT)
            .ok()
            .and_then(|bytes| String::from_utf8(bytes).ok());
        let table = text.and_then(|text| text.parse::<toml::Table>().ok());
        table.is_some_and(|table| names(&toml::Value::Table(table), folder, file))
    })
}

/// True where some text in a file of this folder is the path of a file.
fn names(value: &toml::Value, folder: &Path, file: &Path) -> bool {
    match value {
        toml::Value::String(text) => {
            let path = Path::new(text);
            path.file_name().map_or(OsStr::new(""), |name| name) == file.file_name().unwrap_or_default()
                && folder.join(path).canonicalize().is_ok_and(|path| path == file)
        }
        toml::Value::Array(values) => values.iter().any(|value| names(value, folder, file)),
        toml::Value::Table(values) => values.values().any(|value| names(value, folder, file)),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_somebody_wrote_meanwhile_stays() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("loop.toml");
        std::fs::write(&path, "tempo = 90").expect("a file");
        assert_eq!(still_as_read(&path, "tempo = 90"), Ok(()));
        std::fs::write(&path, "tempo = 91").expect("a file");
        let refused = still_as_read(&path, "tempo = 90").expect_err("it was written");
        assert!(refused.what.contains("was written since it was read"), "{refused}");
        std::fs::remove_file(&path).expect("it is there");
        assert!(still_as_read(&path, "tempo = 90").is_err());
    }
}
