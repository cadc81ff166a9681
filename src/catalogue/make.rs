//! One preview: rendered, written, described.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use super::content::Sums;
use super::describe;
use super::list::{Format, List};
use super::plan::Entry;
use super::record::{Record, Written};
use super::store::Store;
use crate::export;
use crate::export::mark::{self, MADE_BY, Whose};
use crate::files::{self, plainly};
use crate::kit::Kit;
use crate::project::{KnownCredits, Project};
use crate::render::{Order, Rendered};
use crate::render_cache::RenderCache;
use crate::text::{Problem, Problems};

/// What all previews of a run have in common.
pub(super) struct Desk<'a> {
    /// The list, and the folder that it lies in.
    pub list: (&'a List, &'a Path),
    pub store: &'a Store,
    pub sums: Sums,
    pub credits: KnownCredits,
    pub kits: Kits,
    /// True to write what goes with each preview, too.
    pub packs: bool,
}

/// Why a preview was not made.
pub(super) enum Unmade {
    /// What is wrong with it: others may be made all the same.
    Entry(Problems),
    /// What is wrong with the machine: no other would be made either.
    Machine(Problem),
}

impl<T: Into<Problems>> From<T> for Unmade {
    fn from(problems: T) -> Unmade {
        Unmade::Entry(problems.into())
    }
}

/// True where a preview was made, false where it was up to date.
pub(super) type Made = Result<bool, Unmade>;

impl Desk<'_> {
    /// What to render of each.
    pub(super) fn order(&self) -> Order {
        Order {
            rate: self.list.0.rate,
            rounds: self.list.0.rounds,
            ..Order::default()
        }
    }

    /// Makes a preview, unless it is up to date.
    pub(super) fn make(&self, entry: &Entry, cache: &RenderCache) -> Made {
        let list = self.list.0;
        let project = entry
            .options(list)
            .open_on(&mut |folders, swaps, _| self.kits.open(folders, swaps))?;
        let made_from = self.sums.made_from(list, entry, &project)?;
        let old = self.store.record(&entry.name).map_err(Unmade::Machine)?;
        let up_to_date = |record: &&Record| record.made_from == made_from && self.store.holds(record);
        let new = match old.as_ref().filter(up_to_date) {
            Some(_) => None,
            None => Some(self.make_anew(entry, &project, (old.as_ref(), made_from), cache)?),
        };
        if let (true, Some(record)) = (self.packs, new.as_ref().or(old.as_ref())) {
            self.hand_over(entry, (&project, record), cache)?;
        }
        Ok(new.is_some())
    }

    fn make_anew(
        &self,
        entry: &Entry,
        project: &Project,
        (old, made_from): (Option<&Record>, String),
        cache: &RenderCache,
    ) -> Result<Record, Unmade> {
        self.allow(entry, old, project)?;
        let order = self.order();
        let finished = project.render_sharing(&order, Some(cache), &|_| ())?;
        let files = self.write(entry, project, &finished).map_err(Unmade::Machine)?;
        let told = describe::told(
            self.list.1,
            entry,
            (project, &order),
            (&finished, &files),
            &self.credits,
        )?;
        let record = Record {
            made_from,
            files,
            told,
            outline: describe::outline(&finished),
        };
        self.store.keep(entry, &record).map_err(Unmade::Machine)?;
        Ok(record)
    }

    /// Refuses to replace files that are not pressroll's, and what the preview is made of.
    fn allow(&self, entry: &Entry, record: Option<&Record>, project: &Project) -> Result<(), Problem> {
        for format in &self.list.0.formats {
            let within = Store::file(entry, *format);
            let path = self.store.path(&within);
            let own = record.is_some_and(|record| record.files.iter().any(|file| file.file == within));
            if !path.exists() {
                continue;
            }
            let real = path.canonicalize().unwrap_or(path.clone());
            let read = || {
                project
                    .reads()
                    .iter()
                    .any(|file| file.canonicalize().is_ok_and(|file| file == real))
            };
            if !own && mark::whose(&path).is_ok_and(|whose| whose != Whose::Ours) || read() {
                let what = format!(
                    "{} is there already, and it does not carry pressroll's mark",
                    path.display()
                );
                return Err(Problem::new(what).help("take it away, or name another folder with -o"));
            }
        }
        Ok(())
    }

    fn write(&self, entry: &Entry, project: &Project, finished: &Rendered) -> Result<Vec<Written>, Problem> {
        let (list, seed) = (self.list.0, project.first().seed);
        let tags = project.tags(None, finished.repeating());
        let mut written = Vec::new();
        for format in &list.formats {
            let within = Store::file(entry, *format);
            let path = self.store.path(&within);
            match format {
                Format::Wav => export::wav::preview(&path, &finished.audio, list.coding, &tags, seed)?,
                Format::Flac => export::flac::write(&path, &finished.audio, list.coding, (&tags, MADE_BY), seed)?,
                #[cfg(feature = "mp3")]
                Format::Mp3 => {
                    let (tempo, key) = (project.first().time.tempo, project.first().key.as_deref());
                    export::mp3::write(&path, &finished.audio, &tags, tempo, key)?;
                }
            }
            written.push(Written {
                bytes: fs::metadata(&path)
                    .map_err(|error| unread(&path, plainly(&error)))?
                    .len(),
                sha256: files::sha256(&path)
                    .map_err(|refused| Problem::new(format!("{} {refused}", path.display())))?,
                file: within,
            });
        }
        Ok(written)
    }
}

fn unread(path: &Path, why: impl std::fmt::Display) -> Problem {
    Problem::new(format!("{} can't be read: {why}", path.display()))
}

/// The most kits that are held open.
const MOST_KITS: usize = 16;

/// Kits as they were opened, for as long as a run lasts: the latest few.
#[derive(Default)]
pub(super) struct Kits(Mutex<Vec<(Vec<PathBuf>, Opened)>>);

/// A kit, once the first who asks has opened it; others wait for it.
type Opened = Arc<Mutex<Option<Kit>>>;

impl Kits {
    fn open(&self, folders: &[PathBuf], swaps: &[(String, PathBuf)]) -> Result<Kit, Problems> {
        let opened = self.of(folders);
        let mut opened = opened.lock().unwrap_or_else(PoisonError::into_inner);
        match &*opened {
            Some(kit) => Ok(kit.clone()),
            None => Ok(opened.insert(Kit::open(folders, swaps)?).clone()),
        }
    }

    fn of(&self, folders: &[PathBuf]) -> Opened {
        let mut kits = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, opened)) = kits.iter().find(|(own, _)| own == folders) {
            return opened.clone();
        }
        if kits.len() == MOST_KITS {
            kits.remove(0);
        }
        let opened = Opened::default();
        kits.push((folders.to_vec(), opened.clone()));
        opened
    }
}
