//! What lies in a folder.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::names::in_order;
use crate::text::Problem;

/// Folders that hold what pressroll makes, not what it plays.
const PASSED_OVER: [&str; 2] = ["renders", "loops"];

/// What lies in a folder and the folders in it, hidden ones left out.
#[derive(Debug, Default)]
pub(super) struct Contents {
    /// WAVs, relative to the folder, in the order of their paths.
    pub wavs: Vec<PathBuf>,
    /// Other files, counted by their extensions in lower case; an empty one for those without.
    pub others: BTreeMap<String, usize>,
}

/// Looks through a folder. Links to folders are followed, but never into a folder that was looked through already.
pub(super) fn scan(folder: &Path) -> Result<Contents, Problem> {
    let meta = fs::metadata(folder);
    let missing = matches!(&meta, Err(error) if error.kind() == io::ErrorKind::NotFound);
    let shown = folder.display();
    if missing {
        return Err(Problem::new(format!("there is no kit folder `{shown}`")).help("a kit is a folder of WAV files"));
    }
    if meta.is_ok_and(|meta| !meta.is_dir()) {
        let problem = Problem::new(format!("the kit `{shown}` is a file, not a folder"));
        return Err(problem.help("name the folder that it lies in"));
    }
    let mut contents = Contents::default();
    look(folder, Path::new(""), &mut BTreeSet::new(), &mut contents)?;
    contents
        .wavs
        .sort_by(|a, b| in_order(&a.to_string_lossy(), &b.to_string_lossy()));
    Ok(contents)
}

fn look(root: &Path, within: &Path, seen: &mut BTreeSet<PathBuf>, contents: &mut Contents) -> Result<(), Problem> {
    let folder = root.join(within);
    let unread = |error: io::Error| Problem::new(format!("the folder `{}` can't be read: {error}", folder.display()));
    if !seen.insert(fs::canonicalize(&folder).map_err(unread)?) {
        return Ok(());
    }
    let mut folders = Vec::new();
    for entry in fs::read_dir(&folder).map_err(unread)? {
        let name = entry.map_err(unread)?.file_name();
        let text = name.to_string_lossy();
        // A link that leads nowhere is nothing to play.
        let Ok(meta) = fs::metadata(folder.join(&name)) else {
            continue;
        };
        if text.starts_with('.') {
            continue;
        }
        if meta.is_dir() && !PASSED_OVER.contains(&text.to_lowercase().as_str()) {
            folders.push(within.join(&name));
        } else if meta.is_file() {
            let path = within.join(&name);
            match extension(&path).as_str() {
                "wav" | "wave" | "aif" | "aiff" | "aifc" | "flac" => contents.wavs.push(path),
                other => *contents.others.entry(other.to_string()).or_default() += 1,
            }
        }
    }
    // Which of two ways to the same folder counts must not depend on the disk's order.
    folders.sort();
    folders.iter().try_for_each(|within| look(root, within, seen, contents))
}

fn extension(path: &Path) -> String {
    path.extension()
        .map_or(String::new(), |extension| extension.to_string_lossy().to_lowercase())
}

impl Contents {
    /// The problem of a folder without WAVs: what it holds instead.
    pub fn no_wavs(&self, folder: &Path) -> Problem {
        let kinds: Vec<String> = self
            .others
            .iter()
            .map(|(extension, count)| counted(extension, *count))
            .collect();
        let shown = folder.display();
        match kinds.as_slice() {
            [] => {
                Problem::new(format!("the kit folder `{shown}` is empty")).help("put the one-shots there as WAV files")
            }
            kinds => {
                let what = format!(
                    "the kit folder `{shown}` holds no WAV, AIFF or FLAC, but {}",
                    listing(kinds)
                );
                Problem::new(what).help("a kit is a folder of WAV files")
            }
        }
    }
}

fn counted(extension: &str, count: usize) -> String {
    let files = if count == 1 { "file" } else { "files" };
    match extension {
        "" => format!("{count} {files} without an extension"),
        extension => format!("{count} .{extension} {files}"),
    }
}

fn listing(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
