//! A catalogue to hand on: to each preview its stems, MIDI, staves and credits, and one ZIP of everything.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io::{self, BufReader, Seek, Write};
use std::path::{Path, PathBuf};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::index::Index;
use super::make::{Desk, Unmade};
use super::plan::Entry;
use super::record::Record;
use super::store::{HAND_OVER, Store, hand_over_sign};
use crate::export;
use crate::export::mark::MADE_BY;
use crate::export::staves::{self, Wish};
use crate::export::{write_beside, write_preview};
use crate::files::{self, plainly};
use crate::notation::Asked;
use crate::project::Project;
use crate::render::Stems;
use crate::render_cache::RenderCache;
use crate::text::Problem;

/// Files from which on a ZIP needs 64-bit lengths (APPNOTE.TXT 6.3.10, 4.3.9.2), with some room to spare.
const LARGE: u64 = (1 << 32) - (1 << 20);

impl Desk<'_> {
    /// Writes what goes with a preview, unless it is there.
    ///
    /// # Errors
    /// As [`Desk::make`].
    pub(super) fn hand_over(
        &self,
        entry: &Entry,
        (project, record): (&Project, &Record),
        cache: &RenderCache,
    ) -> Result<(), Unmade> {
        if self.store.hands_over(&entry.name, record) {
            return Ok(());
        }
        let folder = self.store.path(&format!("{HAND_OVER}/{}", entry.name));
        let name = entry.name.rsplit('/').next().unwrap_or_default();
        let at = |ending: &str| folder.join(format!("{name}.{ending}"));
        let order = self.order();
        let finished = project.render_unmetered(&order, Some(cache), &|_| ())?;
        let (tags, seed) = (project.tags(None, finished.repeating()), project.first().seed);
        // A stem that can't be written is the machine's fault, one that can't be rendered the loop's.
        let mut unwritten = None;
        let stems = project.stems(&order, Stems::Parts, finished.audio.frames(), |part, audio| {
            let path = folder.join("stems").join(format!("{part}.wav"));
            let written = export::wav::preview(&path, &audio, self.list.0.coding, &tags, seed);
            written.inspect_err(|problem| unwritten = Some(problem.clone()))
        });
        unwritten.map_or(Ok(()), |problem| Err(Unmade::Machine(problem)))?;
        stems?;
        let (midi, sheet) = (project.midi(&order)?.0, project.sheet(Asked::default()));
        let staves = staves::page(&sheet, &Wish::default())?;
        let cast = project.cast_knowing(&order, &self.credits)?;
        let write = || {
            export::midi::write(&at("mid"), &midi)?;
            export::musicxml::write(&at("musicxml"), &sheet)?;
            write_preview(&at("html"), |out| out.write_all(staves.as_bytes()))?;
            export::credits::write(&at("credits.txt"), &project.title(), name, &cast)?;
            write_preview(&self.store.path(&hand_over_sign(&entry.name)), |out| {
                out.write_all(record.made_from.as_bytes())
            })
        };
        write().map_err(Unmade::Machine)
    }
}

/// The ZIP of a catalogue in some folder: beside it, under its name.
pub(crate) fn packed(place: &Path) -> PathBuf {
    let mut name = place.file_name().unwrap_or_default().to_os_string();
    name.push(".zip");
    place.with_file_name(name)
}

/// Packs a catalogue and what goes with it into one ZIP beside its folder; the same files give the same bytes.
///
/// # Errors
/// A file that can't be read; as [`write_beside`].
pub(crate) fn pack(store: &Store, index: &Index, title: &str) -> Result<PathBuf, Problem> {
    let path = packed(store.place());
    let mut files = BTreeMap::new();
    for folder in ["previews", "index", HAND_OVER] {
        listed(&store.path(folder), folder, &mut files);
    }
    for file in ["index.html", "index.json", "index.csv"] {
        files.insert(file.to_string(), store.path(file));
    }
    let named: BTreeSet<&str> = index.records.iter().map(|record| record.told.file.as_str()).collect();
    let about = format!("{title}\n{} previews, rendered by {MADE_BY}\n", named.len());
    let mut sums = String::new();
    for (within, file) in &files {
        let sum = files::sha256(file).map_err(|refused| Problem::new(format!("{} {refused}", file.display())))?;
        sums += &format!("{sum}  {within}\n");
    }
    let texts = [
        ("about.txt", about),
        ("licences.txt", licences(index)),
        ("sums.txt", sums),
    ];
    write_beside(&path, |out| zipped(out, &texts, &files).map_err(io::Error::other))?;
    Ok(path)
}

/// The files below a folder, by their names within the catalogue; those that are hidden are not told.
fn listed(folder: &Path, within: &str, files: &mut BTreeMap<String, PathBuf>) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let within = format!("{within}/{name}");
        match entry.path() {
            _ if name.starts_with('.') => {}
            path if path.is_dir() => listed(&path, &within, files),
            path => drop(files.insert(within, path)),
        }
    }
}

/// On what terms the one-shots of each preview may be used.
fn licences(index: &Index) -> String {
    let mut by: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for record in &index.records {
        let terms = match record.told.licences.as_slice() {
            [] => "no licence is told".to_string(),
            terms => terms.join("; "),
        };
        by.entry(terms).or_default().push(&record.told.file);
    }
    let told = |(terms, files): (String, Vec<&str>)| format!("{terms}\n  {}\n", files.join("\n  "));
    by.into_iter().map(told).collect::<Vec<_>>().join("\n")
}

/// Stored as they are, since sound is packed already, and without a time.
fn zipped(
    out: impl Write + Seek,
    texts: &[(&str, String)],
    files: &BTreeMap<String, PathBuf>,
) -> Result<(), zip::result::ZipError> {
    let plain = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Stored)
        .unix_permissions(0o644);
    let mut zip = ZipWriter::new(out);
    for (name, text) in texts {
        zip.start_file(*name, plain)?;
        zip.write_all(text.as_bytes())?;
    }
    for (name, path) in files {
        let file = File::open(path).map_err(|error| told(path, &error))?;
        let long = file.metadata()?.len() >= LARGE;
        zip.start_file(name.as_str(), plain.large_file(long))?;
        io::copy(&mut BufReader::new(file), &mut zip)?;
    }
    zip.finish().map(drop)
}

fn told(path: &Path, error: &io::Error) -> io::Error {
    io::Error::other(format!("{} can't be read: {}", path.display(), plainly(error)))
}
