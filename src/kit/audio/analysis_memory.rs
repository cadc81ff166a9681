//! What files turned out to be when they were listened to. Each is listened to once in a process, for as long as it stays as it
//! is, however many kits are opened.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use crate::files::{self, State};

/// Files that this process has listened to.
static FILES: AtomicUsize = AtomicUsize::new(0);
/// Nanoseconds for which whoever asked has waited for it.
static WAITED: AtomicU64 = AtomicU64::new(0);

/// What was found out about files, by their paths and states.
pub(crate) struct Known<T>(Mutex<BTreeMap<PathBuf, (State, T)>>);

impl<T: Copy> Known<T> {
    /// Nothing yet.
    pub(crate) const fn new() -> Known<T> {
        Known(Mutex::new(BTreeMap::new()))
    }

    /// What is known of a file, or what listening to it tells.
    ///
    /// # Errors
    /// As `listen`; then nothing is kept.
    pub(crate) fn find_or<E>(&self, file: &Path, listen: impl FnOnce() -> Result<T, E>) -> Result<T, E> {
        let state = files::state(file);
        let known = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((of, found)) = known().get(file).copied()
            && Some(of) == state
        {
            return Ok(found);
        }
        FILES.fetch_add(1, Ordering::Relaxed);
        let found = listen()?;
        if let Some(state) = state {
            known().insert(file.to_path_buf(), (state, found));
        }
        Ok(found)
    }
}

/// Counts the time that some work takes, where it listens to anything.
pub(crate) fn timed<T>(work: impl FnOnce() -> T) -> T {
    let (before, begun) = (FILES.load(Ordering::Relaxed), Instant::now());
    let made = work();
    if FILES.load(Ordering::Relaxed) != before {
        let waited = u64::try_from(begun.elapsed().as_nanos()).unwrap_or(u64::MAX);
        WAITED.fetch_add(waited, Ordering::Relaxed);
    }
    made
}

/// How many times this process has listened to a file to tell its piece or its pitch, and how long that took.
pub(crate) fn listened() -> (usize, Duration) {
    let waited = Duration::from_nanos(WAITED.load(Ordering::Relaxed));
    (FILES.load(Ordering::Relaxed), waited)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_listened_to_again_only_when_it_was_written_to() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("a.wav");
        let known = Known::new();
        let mut count = 0;
        let mut ask = |text: Option<&str>| {
            if let Some(text) = text {
                std::fs::write(&file, text).expect("a file");
            }
            let listen = || {
                count += 1;
                Ok::<_, ()>(count)
            };
            known.find_or(&file, listen)
        };
        assert_eq!(ask(Some("one")), Ok(1));
        assert_eq!(ask(None), Ok(1));
        assert_eq!(ask(Some("longer")), Ok(2));
        assert_eq!(ask(None), Ok(2));
    }

    #[test]
    fn what_fails_is_not_kept() {
        let folder = tempfile::tempdir().expect("a folder");
        let known = Known::new();
        assert_eq!(known.find_or(folder.path(), || Err("no sound")), Err("no sound"));
        assert_eq!(known.find_or(folder.path(), || Ok::<_, &str>(1)), Ok(1));
    }
}
