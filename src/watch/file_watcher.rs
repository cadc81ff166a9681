//! The system's word that something happened in a folder.

use std::collections::BTreeSet;
use std::path::PathBuf;

use notify::event::{AccessKind, AccessMode};
use notify::{Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};

/// Has the system tell when something may have been saved in some folders. What it was, if anything, an
/// [`Inventory`](super::Inventory) tells: systems differ in what they say of a save, and some say nothing.
pub(crate) struct FileWatcher {
    /// None where the system can't tell: then it is for whoever asks to look now and then.
    watcher: Option<RecommendedWatcher>,
    folders: BTreeSet<PathBuf>,
}

impl FileWatcher {
    /// A lookout over no folder yet; `tell` is called for whatever happens, from a thread of its own.
    pub(crate) fn new(tell: impl Fn() + Send + 'static) -> FileWatcher {
        let heard = move |event: Result<Event, notify::Error>| {
            if event.map_or(true, |event| matters(&event.kind)) {
                tell();
            }
        };
        FileWatcher {
            watcher: notify::recommended_watcher(heard).ok(),
            folders: BTreeSet::new(),
        }
    }

    /// Watches these folders and no others; true where some are watched only from now on. Editors write beside a file and
    /// rename, so it is folders that are watched and not files.
    pub(crate) fn watch(&mut self, folders: BTreeSet<PathBuf>) -> bool {
        let Some(watcher) = &mut self.watcher else { return false };
        for gone in self.folders.difference(&folders) {
            // A folder that is no longer there is watched no longer.
            let _ = watcher.unwatch(gone);
        }
        let kept = self.folders.intersection(&folders).cloned().collect::<BTreeSet<_>>();
        let added: Vec<PathBuf> = folders.difference(&kept).cloned().collect();
        self.folders = kept;
        let before = self.folders.len();
        for folder in added {
            if watcher.watch(&folder, RecursiveMode::NonRecursive).is_ok() {
                self.folders.insert(folder);
            }
        }
        self.folders.len() > before
    }
}

/// Opening and reading is none of it: looking would tell of looking.
fn matters(kind: &EventKind) -> bool {
    match kind {
        EventKind::Access(AccessKind::Close(AccessMode::Write)) => true,
        EventKind::Access(_) => false,
        _ => true,
    }
}
