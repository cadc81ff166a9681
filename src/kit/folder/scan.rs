//! What lies in a folder.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::files::plainly;
use crate::kit::names::in_order;
use crate::text::Problem;

/// Extensions of the files that are played, in small letters.
const AUDIO: [&str; 6] = ["wav", "wave", "aif", "aiff", "aifc", "flac"];

/// Extensions of sounds that are not read, in small letters.
const OTHER_SOUNDS: [&str; 12] = [
    "mp3", "ogg", "oga", "opus", "m4a", "aac", "wma", "caf", "au", "snd", "w64", "wv",
];

/// Folders that hold what pressroll makes, not what it plays, in small letters.
const PASSED_OVER: [&str; 2] = ["renders", "loops"];

/// What systems and archives leave in folders, in small letters; names with a dot in front are passed over anyhow.
const LEFT_BY_SYSTEMS: [&str; 8] = [
    "__macosx",
    "thumbs.db",
    "ehthumbs.db",
    "desktop.ini",
    "icon\r",
    "$recycle.bin",
    "system volume information",
    "@eadir",
];

/// The most one-shots that are looked at in a folder and the folders in it.
pub(crate) const MOST_SHOTS: usize = 20_000;

/// What lies in a folder and the folders in it, hidden ones left out.
#[derive(Debug, Default)]
pub(crate) struct Contents {
    /// WAVs, relative to the folder, in the order of their paths.
    pub wavs: Vec<PathBuf>,
    /// Other files, counted by their extensions in lower case; an empty one for those without.
    pub others: BTreeMap<String, usize>,
    /// Folders within it that can't be read, and sounds that are not.
    pub notices: Vec<Problem>,
}

/// Looks through a folder. Links to folders are followed, but never into a folder that was looked through already.
pub(crate) fn scan(folder: &Path) -> Result<Contents, Problem> {
    let meta = fs::metadata(folder);
    let missing = matches!(&meta, Err(error) if error.kind() == io::ErrorKind::NotFound);
    let shown = folder.display();
    if missing {
        return Err(Problem::new(format!("there is no kit folder `{shown}`"))
            .help("a kit is a folder of one-shots: WAV, AIFF or FLAC files"));
    }
    if meta.is_ok_and(|meta| !meta.is_dir()) {
        let problem = Problem::new(format!("the kit `{shown}` is a file, not a folder"));
        return Err(problem.help("name the folder that it lies in"));
    }
    let mut look = Look {
        root: folder,
        seen: BTreeSet::new(),
        contents: Contents::default(),
    };
    let own = fs::canonicalize(folder).map_err(|error| unread(folder, &error))?;
    look.look_into(Path::new(""), own)
        .map_err(|error| unread(folder, &error))?;
    let mut contents = look.contents;
    contents.notices.extend(contents.unplayed());
    if contents.wavs.len() > MOST_SHOTS {
        let what = format!("the folder `{shown}` holds more than {MOST_SHOTS} one-shots, which are the most");
        return Err(Problem::new(what).help("name one of the folders in it"));
    }
    contents
        .wavs
        .sort_by(|a, b| in_order(&a.to_string_lossy(), &b.to_string_lossy()));
    Ok(contents)
}

fn unread(folder: &Path, error: &io::Error) -> Problem {
    Problem::new(format!(
        "the folder `{}` can't be read: {}",
        folder.display(),
        plainly(error)
    ))
}

/// A look through a folder and the folders in it.
struct Look<'a> {
    root: &'a Path,
    /// Folders that were looked through, by where they really are.
    seen: BTreeSet<PathBuf>,
    contents: Contents,
}

impl Look<'_> {
    /// Looks through a folder; `really` is its path without links. Only links are asked where they lead: the disk says of all
    /// else what it is as it lists it.
    fn look_into(&mut self, within: &Path, really: PathBuf) -> io::Result<()> {
        if self.seen.contains(&really) {
            return Ok(());
        }
        let mut folders = Vec::new();
        for entry in fs::read_dir(self.root.join(within))? {
            let entry = entry?;
            if self.contents.wavs.len() > MOST_SHOTS {
                return Ok(());
            }
            let name = entry.file_name();
            let small = name.to_string_lossy().to_lowercase();
            if small.starts_with('.') || LEFT_BY_SYSTEMS.contains(&small.as_str()) {
                continue;
            }
            let Ok(mut kind) = entry.file_type() else { continue };
            let link = kind.is_symlink();
            if link {
                // A link that leads nowhere is nothing to play.
                let Ok(meta) = fs::metadata(entry.path()) else { continue };
                kind = meta.file_type();
            }
            let path = within.join(&name);
            if kind.is_dir() && !PASSED_OVER.contains(&small.as_str()) {
                let there = if link {
                    fs::canonicalize(entry.path())
                } else {
                    Ok(really.join(&name))
                };
                folders.extend(there.map(|there| (path, there)));
            } else if kind.is_file() {
                match is_one_shot(&path) {
                    true => self.contents.wavs.push(path),
                    false => *self.contents.others.entry(extension(&path)).or_default() += 1,
                }
            }
        }
        self.seen.insert(really);
        // Which of two ways to the same folder counts must not depend on the disk's order.
        folders.sort();
        for (within, really) in folders {
            if let Err(error) = self.look_into(&within, really) {
                let problem = unread(&self.root.join(within), &error);
                self.contents.notices.push(problem.help("it is left out"));
            }
        }
        Ok(())
    }
}

/// True where a look through a folder comes to a path in it; both without links.
pub(crate) fn comes_to(folder: &Path, path: &Path) -> bool {
    let left_out =
        |name: String| name.starts_with('.') || [&LEFT_BY_SYSTEMS[..], &PASSED_OVER].concat().contains(&&*name);
    let small = |part: std::path::Component| part.as_os_str().to_string_lossy().to_lowercase();
    let within = path.strip_prefix(folder);
    within.is_ok_and(|within| !within.components().map(small).any(left_out))
}

/// True where a file's name is that of a one-shot.
pub(crate) fn is_one_shot(path: &Path) -> bool {
    AUDIO.contains(&extension(path).as_str())
}

fn extension(path: &Path) -> String {
    path.extension()
        .map_or(String::new(), |extension| extension.to_string_lossy().to_lowercase())
}

impl Contents {
    /// What there is to say of sounds in formats that are not read.
    fn unplayed(&self) -> Option<Problem> {
        let mut sounds = self
            .others
            .iter()
            .filter(|(kind, _)| OTHER_SOUNDS.contains(&kind.as_str()));
        let one = sounds.clone().map(|(_, count)| count).sum::<usize>() == 1;
        let kinds: Vec<String> = sounds.by_ref().map(|(kind, count)| counted(kind, *count)).collect();
        let (are, them) = if one { ("is", "it") } else { ("are", "them") };
        let what = format!("{} {are} left out", listing(&kinds));
        (!kinds.is_empty()).then(|| Problem::new(what).help(format!("convert {them} to WAV, AIFF or FLAC")))
    }

    /// The problem of a folder without WAVs: what it holds instead.
    pub(crate) fn no_wavs(&self, folder: &Path) -> Problem {
        let kinds: Vec<String> = self
            .others
            .iter()
            .map(|(extension, count)| counted(extension, *count))
            .collect();
        let shown = folder.display();
        match kinds.as_slice() {
            [] => Problem::new(format!("the kit folder `{shown}` is empty"))
                .help("put the one-shots there as WAV, AIFF or FLAC files"),
            kinds => {
                let what = format!(
                    "the kit folder `{shown}` holds no WAV, AIFF or FLAC, but {}",
                    listing(kinds)
                );
                Problem::new(what).help("a kit is a folder of one-shots: WAV, AIFF or FLAC files")
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
