//! What was found in files so far. Each is listened to once in a process, for as long as it stays as it is, however many kits
//! are opened.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, LazyLock, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use rayon::prelude::*;

use super::Findings;
use super::store::{self, Kept};
use crate::files::{self, State};
use crate::kit::audio::decode::{Sides, decode};
use crate::text::Problem;

/// Files that this process has listened to.
static FILES: AtomicUsize = AtomicUsize::new(0);
/// Nanoseconds for which whoever asked has waited for it.
static WAITED: AtomicU64 = AtomicU64::new(0);
/// Files after which what was found is kept, so that little is lost where somebody stops the program.
const BATCH: usize = 2_000;

static MEMORY: LazyLock<Mutex<Memory>> = LazyLock::new(Mutex::default);

#[derive(Default)]
struct Memory {
    known: BTreeMap<PathBuf, (State, Arc<Findings>)>,
    /// Folders whose kept findings were taken in.
    taken_in: BTreeSet<PathBuf>,
}

fn memory() -> MutexGuard<'static, Memory> {
    MEMORY.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Memory {
    /// What is known of a file as it is now.
    fn get(&mut self, file: &Path, state: Option<State>) -> Option<Arc<Findings>> {
        let folder = file.parent().unwrap_or(Path::new(""));
        if !self.taken_in.contains(folder) {
            for Kept { name, state, findings } in store::read(folder) {
                let place = self.known.entry(folder.join(name));
                place.or_insert((state, Arc::new(findings)));
            }
            self.taken_in.insert(folder.to_path_buf());
        }
        let (of, findings) = self.known.get(file)?;
        (Some(*of) == state).then(|| findings.clone())
    }
}

/// Is told, whenever files are listened to, which share of them is done; 1 at the end. A process has one, set once.
pub(crate) fn show_listening(shown: impl Fn(f64) + Send + Sync + 'static) {
    let _ = SHOWN.set(Box::new(shown));
}

static SHOWN: OnceLock<Box<dyn Fn(f64) + Send + Sync>> = OnceLock::new();

/// What is found in each of some recordings, of one file or two.
pub(crate) fn find_recordings(recordings: &[Sides]) -> Vec<Result<Arc<Findings>, Problem>> {
    let files: Vec<&Path> = recordings.iter().flat_map(Sides::files).collect();
    let mut found = find_all(&files).into_iter();
    let mut next = || found.next().expect("one for each file");
    let one = |sides: &Sides| match (next(), sides.right.as_ref().map(|_| next())) {
        (Ok(left), Some(Ok(right))) => Ok(Arc::new(Findings::joined(&left, &right))),
        (left, None | Some(Ok(_))) => left,
        (left, Some(right)) => left.and(right),
    };
    recordings.iter().map(one).collect()
}

/// What is found in each of some files, which are listened to on all cores.
pub(crate) fn find_all(files: &[&Path]) -> Vec<Result<Arc<Findings>, Problem>> {
    let begun = Instant::now();
    let states: Vec<Option<State>> = files.par_iter().map(|file| files::state(file)).collect();
    let mut found: Vec<Option<Result<Arc<Findings>, Problem>>> = {
        let mut memory = memory();
        let known = files.iter().zip(&states).map(|(file, state)| memory.get(file, *state));
        known.map(|known| known.map(Ok)).collect()
    };
    let new: Vec<usize> = (0..files.len()).filter(|at| found[*at].is_none()).collect();
    if new.is_empty() {
        return found.into_iter().flatten().collect();
    }
    let done = AtomicUsize::new(0);
    for batch in new.chunks(BATCH) {
        let heard: Vec<_> = batch
            .par_iter()
            .map(|at| {
                let heard = listen(files[*at]);
                let done = done.fetch_add(1, Ordering::Relaxed) + 1;
                if let Some(shown) = SHOWN.get() {
                    shown(done as f64 / new.len() as f64);
                }
                heard
            })
            .collect();
        let mut fresh: BTreeMap<&Path, Vec<Kept>> = BTreeMap::new();
        let mut memory = memory();
        for (at, heard) in batch.iter().zip(heard) {
            if let (Ok(findings), Some(state)) = (&heard, states[*at]) {
                memory.known.insert(files[*at].to_path_buf(), (state, findings.clone()));
                if let (Some(folder), Some(name)) = (files[*at].parent(), files[*at].file_name()) {
                    fresh.entry(folder).or_default().push(Kept {
                        name: name.to_os_string(),
                        state,
                        findings: Findings::clone(findings),
                    });
                }
            }
            found[*at] = Some(heard);
        }
        drop(memory);
        fresh.into_iter().for_each(|(folder, fresh)| store::add(folder, fresh));
    }
    let waited = u64::try_from(begun.elapsed().as_nanos()).unwrap_or(u64::MAX);
    WAITED.fetch_add(waited, Ordering::Relaxed);
    found.into_iter().flatten().collect()
}

fn listen(file: &Path) -> Result<Arc<Findings>, Problem> {
    FILES.fetch_add(1, Ordering::Relaxed);
    let decoded = decode(file).map_err(|unread| unread.problem(file))?;
    Ok(Arc::new(Findings::of(&decoded)))
}

/// How many times this process has listened to a file to tell its piece or its pitch, and how long that took.
pub(crate) fn listened() -> (usize, Duration) {
    let waited = Duration::from_nanos(WAITED.load(Ordering::Relaxed));
    (FILES.load(Ordering::Relaxed), waited)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn find(file: &Path) -> Result<Arc<Findings>, Problem> {
        find_all(&[file]).pop().expect("one for each")
    }

    const FLOATS: hound::WavSpec = hound::WavSpec {
        channels: 1,
        sample_rate: 48_000,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };

    #[test]
    fn a_file_is_listened_to_again_only_when_it_was_written_to() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("a.wav");
        let write = |level: f32| {
            let mut wav = hound::WavWriter::create(&file, FLOATS).expect("a file");
            (0..1000).for_each(|_| wav.write_sample(level).expect("a sample"));
            wav.finalize().expect("a file");
        };
        assert!(find(&file).is_err(), "nothing is there");
        write(0.5);
        let first = find(&file).expect("a sound");
        assert!(Arc::ptr_eq(&first, &find(&file).expect("the same")));
        write(0.25);
        let second = find(&file).expect("another");
        assert!(!Arc::ptr_eq(&first, &second));
        assert_ne!(first.sum, second.sum);
    }
}
