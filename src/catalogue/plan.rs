//! What a list comes to: every preview, before any kit is opened.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;

use super::list::{Collection, List, Mixes};
use crate::loopfile::{self, Changes, Given, Outline};
use crate::project::{Options, Project};
use crate::text::{Problem, Problems};

/// The most previews of a list.
pub(crate) const MOST_ENTRIES: usize = 1_000_000;

/// A preview.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    /// What it is called: its collection's folder, `/`, its name without an ending.
    pub name: String,
    /// The loop file.
    pub file: Arc<Path>,
    /// The kit, where it is not the loop's own.
    pub kit: Option<Arc<Path>>,
    /// The mix; none for the loop as written.
    pub mix: Option<String>,
    /// In BPM, where it is not the loop's own.
    pub tempo: Option<f64>,
    /// Values of what varies.
    pub set: Vec<Given>,
    /// True to substitute the closest piece for percussion that the kit lacks.
    pub lend: bool,
    /// How long it will be, but for what rings past its end.
    pub seconds: f64,
    /// What it takes to render, as [`Outline`] counts it.
    pub work: f64,
}

/// Every preview of a list, and the loops of which there are none.
#[derive(Debug)]
pub(crate) struct Plan {
    /// In the order of the list.
    pub entries: Vec<Entry>,
    /// Numbers of entries in the order in which they are rendered: by kits, then by loops, then by tempos.
    pub order: Vec<usize>,
    /// Loops that can't be read, with what is wrong with them.
    pub broken: Vec<(PathBuf, Problems)>,
}

type Read = (PathBuf, Result<Outline, Problems>);

impl Entry {
    /// What to change in its file before it is opened.
    pub(crate) fn options(&self, list: &List) -> Options {
        let mut options = Project::options(&*self.file).substitute(self.lend);
        if let Some(mix) = &self.mix {
            options = options.mix(mix);
        }
        if let Some(kit) = &self.kit {
            options = options.kit(&**kit);
        }
        if let Some(tempo) = self.tempo {
            options = options.set("loop.tempo", &tempo.to_string());
        }
        if let Some(ending) = list.ending {
            options = options.ending(ending);
        }
        options.given(self.set.iter().cloned())
    }

    /// What varies in it, in words; empty where nothing does.
    pub(crate) fn varied(&self) -> String {
        let words: Vec<String> = self.set.iter().map(Given::to_string).collect();
        words.join(" ")
    }
}

impl Plan {
    /// What a list comes to: its loop files are read.
    ///
    /// # Errors
    /// More than [`MOST_ENTRIES`]; two previews of one name.
    pub(crate) fn of(list: &List) -> Result<Plan, Problems> {
        let mut files: Vec<&PathBuf> = list
            .collections
            .iter()
            .flat_map(|collection| &collection.loops)
            .collect();
        files.sort();
        files.dedup();
        let read: Vec<Read> = files
            .into_par_iter()
            .map(|file| (file.clone(), outline(file)))
            .collect();
        let known: HashMap<&Path, &Outline> = read
            .iter()
            .filter_map(|(file, outline)| Some((file.as_path(), outline.as_ref().ok()?)))
            .collect();
        let mut entries = Vec::new();
        for collection in &list.collections {
            for file in &collection.loops {
                if let Some(outline) = known.get(file.as_path()) {
                    versions(list, collection, file, outline, &mut entries)?;
                }
            }
        }
        apart(list, &entries)?;
        let order = order(&entries, &known);
        let broken = read
            .iter()
            .filter_map(|(file, outline)| Some((file.clone(), outline.as_ref().err()?.clone())));
        Ok(Plan {
            broken: broken.collect(),
            entries,
            order,
        })
    }
}

fn outline(file: &Path) -> Result<Outline, Problems> {
    Ok(loopfile::read(file, &Changes::default())?.outline())
}

/// Adds every version of a loop.
fn versions(
    list: &List,
    collection: &Collection,
    file: &Path,
    outline: &Outline,
    entries: &mut Vec<Entry>,
) -> Result<(), Problem> {
    let own_kit = [None];
    let kits: Vec<Option<Arc<Path>>> = collection
        .kits
        .iter()
        .map(|kit| Some(Arc::from(kit.as_path())))
        .collect();
    let kits = if kits.is_empty() { &own_kit[..] } else { &kits };
    let mixes = match &collection.mixes {
        Mixes::All => std::iter::once(None)
            .chain(outline.mixes.iter().cloned().map(Some))
            .collect(),
        Mixes::Named(mixes) => mixes.clone(),
    };
    let tempos: Vec<Option<f64>> = match collection.tempos.as_slice() {
        [] => vec![None],
        tempos => tempos.iter().copied().map(Some).collect(),
    };
    let more = [mixes.len(), tempos.len(), collection.vary.len()];
    let more = more.into_iter().fold(kits.len(), usize::saturating_mul);
    if more > MOST_ENTRIES - entries.len() {
        let what = format!("the list comes to more than {MOST_ENTRIES} previews");
        return Err(Problem::at(&collection.place, what).help("take some of it into a list of its own"));
    }
    let file: Arc<Path> = Arc::from(file);
    for kit in kits {
        for mix in &mixes {
            for tempo in &tempos {
                for set in &collection.vary {
                    let slower = tempo.map_or(1.0, |tempo| outline.tempo / tempo);
                    let mut entry = Entry {
                        name: String::new(),
                        file: file.clone(),
                        kit: kit.clone(),
                        mix: mix.clone(),
                        tempo: *tempo,
                        set: set.clone(),
                        lend: collection.lend,
                        seconds: outline.seconds * slower * f64::from(list.rounds),
                        work: outline.work * slower,
                    };
                    entry.name = format!("{}/{}", collection.name, named(list, &entry, outline));
                    entries.push(entry);
                }
            }
        }
    }
    Ok(())
}

fn named(list: &List, entry: &Entry, outline: &Outline) -> String {
    list.template.fill(|placeholder| match placeholder {
        "loop" => last_name(&entry.file, Path::file_stem),
        "kit" => entry
            .kit
            .as_ref()
            .map_or(String::new(), |kit| last_name(kit, Path::file_name)),
        "mix" => entry.mix.clone().unwrap_or_default(),
        "tempo" => entry.tempo.map_or(String::new(), |tempo| tempo.to_string()),
        "vary" => entry.varied(),
        "title" => outline.title.clone(),
        "key" => outline.key.clone().unwrap_or_default(),
        "metre" => format!("{}/{}", outline.metre.0, outline.metre.1),
        _ => outline.bars.to_string(),
    })
}

fn last_name(path: &Path, part: impl Fn(&Path) -> Option<&std::ffi::OsStr>) -> String {
    part(path).unwrap_or_default().to_string_lossy().into_owned()
}

/// Refuses two previews of one name; some file systems do not tell small letters from capitals.
fn apart(list: &List, entries: &[Entry]) -> Result<(), Problem> {
    let mut seen: HashMap<String, &Entry> = HashMap::with_capacity(entries.len());
    for entry in entries {
        if let Some(other) = seen.insert(entry.name.to_lowercase(), entry) {
            let what = format!(
                "two previews would both be called `{}`: {} and {}",
                entry.name,
                told(other),
                told(entry)
            );
            return Err(Problem::at(&list.template_place, what)
                .help("put into `name` what tells them apart: {loop}, {kit}, {mix}, {tempo} or {vary}"));
        }
    }
    Ok(())
}

fn told(entry: &Entry) -> String {
    let kit = entry.kit.as_ref().map(|kit| format!("on {}", kit.display()));
    let mix = entry.mix.as_ref().map(|mix| format!("in \"{mix}\""));
    let tempo = entry.tempo.map(|tempo| format!("at {tempo} BPM"));
    let varied = Some(entry.varied()).filter(|words| !words.is_empty());
    let words = [Some(entry.file.display().to_string()), kit, mix, tempo, varied];
    words.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// Entries by kits, loops and tempos, in the order of the list within those.
fn order(entries: &[Entry], known: &HashMap<&Path, &Outline>) -> Vec<usize> {
    let kits = |entry: &Entry| -> Vec<PathBuf> {
        match &entry.kit {
            Some(kit) => vec![kit.to_path_buf()],
            None => known
                .get(&*entry.file)
                .map_or(Vec::new(), |outline| outline.kits.clone()),
        }
    };
    let mut order: Vec<usize> = (0..entries.len()).collect();
    order.sort_by_cached_key(|number| {
        let entry = &entries[*number];
        (kits(entry), entry.file.clone(), entry.tempo.map(f64::to_bits), *number)
    });
    order
}
