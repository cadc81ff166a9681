//! What lies in a folder.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::skipped::{Skip, Skipped};
use crate::files::plainly;
use crate::kit::names::in_order;
use crate::text::{Problem, in_a_row};

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
    /// What is neither a file nor a folder of this folder, such as pipes and links that lead out of it.
    pub skipped: Skipped,
}

/// Looks through a folder, which may be a link itself. Links in it are followed as long as they stay within it, but never into a
/// folder that was looked through already.
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
    let unread = |error: &io::Error| Problem::new(format!("the folder `{shown}` can't be read: {}", plainly(error)));
    let really = fs::canonicalize(folder).map_err(|error| unread(&error))?;
    let mut look = Look {
        root: folder,
        really: &really,
        seen: BTreeSet::new(),
        links: BTreeMap::new(),
        contents: Contents::default(),
    };
    look.look_into(Path::new(""), really.clone())
        .map_err(|error| unread(&error))?;
    look.follow_links();
    let mut contents = look.contents;
    contents.notices.extend(contents.skipped.unread(folder));
    contents.notices.extend(contents.unplayed());
    if contents.wavs.len() > MOST_SHOTS {
        let what = format!("the folder `{shown}` holds more than {MOST_SHOTS} one-shots, which are the most");
        return Err(Problem::new(what).help("name one of the folders in it"));
    }
    contents.wavs.sort_by(|a, b| {
        // Names that are no Unicode may be shown alike.
        in_order(&a.to_string_lossy(), &b.to_string_lossy()).then_with(|| a.cmp(b))
    });
    Ok(contents)
}

/// A look through a folder and the folders in it.
struct Look<'a> {
    root: &'a Path,
    /// Where the folder really is, without links.
    really: &'a Path,
    /// Folders that were looked through, by where they really are.
    seen: BTreeSet<PathBuf>,
    /// Links to folders that have yet to be followed, and where they lead.
    links: BTreeMap<PathBuf, PathBuf>,
    contents: Contents,
}

impl Look<'_> {
    /// Follows links once all that lies in the folder by itself is known: a folder is called what it is called without links. Of two
    /// links to one folder the first by its path counts, whatever the disk's order.
    fn follow_links(&mut self) {
        while let Some((within, really)) = self.links.pop_first() {
            self.look_further(within, really);
        }
    }

    fn look_further(&mut self, within: PathBuf, really: PathBuf) {
        if let Err(error) = self.look_into(&within, really) {
            self.contents.skipped.add(Skip::Unread(plainly(&error)), within);
        }
    }

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
            let Ok(kind) = entry.file_type() else { continue };
            let path = within.join(&name);
            if kind.is_symlink() {
                self.meet_link(path);
            } else if kind.is_dir() {
                folders.extend((!PASSED_OVER.contains(&small.as_str())).then(|| (path, really.join(&name))));
            } else if kind.is_file() {
                self.meet_file(path);
            } else {
                self.contents.skipped.add(Skip::special(kind), path);
            }
        }
        self.seen.insert(really);
        // What can't be read is told in order.
        folders.sort();
        for (within, really) in folders {
            self.look_further(within, really);
        }
        Ok(())
    }

    fn meet_file(&mut self, path: PathBuf) {
        match is_one_shot(&path) {
            true => self.contents.wavs.push(path),
            false => *self.contents.others.entry(extension(&path)).or_default() += 1,
        }
    }

    /// A link to a file or a folder. What lies elsewhere is not of this folder: who copies the folder does not copy it.
    fn meet_link(&mut self, path: PathBuf) {
        let place = self.root.join(&path);
        let (Ok(meta), Ok(really)) = (fs::metadata(&place), fs::canonicalize(&place)) else {
            return self.contents.skipped.add(Skip::Broken, path);
        };
        let passed_over = || {
            let name = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
            meta.is_dir() && PASSED_OVER.contains(&name.as_str())
        };
        let no_sound = || meta.is_file() && !is_one_shot(&path);
        match really.starts_with(self.really) {
            _ if passed_over() => {}
            _ if !meta.is_dir() && !meta.is_file() => self.contents.skipped.add(Skip::special(meta.file_type()), path),
            false if !no_sound() => self.contents.skipped.add(Skip::Outside, path),
            _ if meta.is_dir() => drop(self.links.insert(path, really)),
            _ => self.meet_file(path),
        }
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
        let what = format!("{} {are} left out", in_a_row(&kinds));
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
        let skipped = self.skipped.unread(folder).chain(self.skipped.told());
        let skipped: String = skipped.map(|skipped| format!("; {}", skipped.what)).collect();
        match kinds.as_slice() {
            [] if skipped.is_empty() => Problem::new(format!("the kit folder `{shown}` is empty"))
                .help("put the one-shots there as WAV, AIFF or FLAC files"),
            [] => Problem::new(format!("the kit folder `{shown}` holds no files{skipped}"))
                .help("put the one-shots there as WAV, AIFF or FLAC files"),
            kinds => {
                let what = format!(
                    "the kit folder `{shown}` holds no WAV, AIFF or FLAC, but {}{skipped}",
                    in_a_row(kinds)
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
