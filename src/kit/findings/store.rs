//! Findings that outlive the program: one file a folder of one-shots, in the user's cache folder.
//!
//! A finding is known by its file's path, number, length and dates, to the nanosecond. Two programs may write at once: a lock is
//! held from reading to renaming, and readers see the old file or the new one. Whatever goes wrong here goes wrong in silence:
//! files are then listened to again.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, SystemTime};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use tempfile::NamedTempFile;

use super::Findings;
use crate::files::State;

/// What stands first in a file. Its number counts on whenever something is found otherwise than before.
const MARK: &[u8] = b"pressroll findings 3\n";
/// How the files' names end.
const ENDING: &str = "findings";
/// All of them together hold so many bytes; the oldest goes first.
const MOST_BYTES: u64 = 256 << 20;
/// A file that was written so shortly ago may be written again within one tick of the disk's clock: it is not kept.
const TICK: Duration = Duration::from_millis(50);
/// What was used since so long ago counts as used now, so that reading does not write each time.
const USED: Duration = Duration::from_secs(3600);

static FOLDER: OnceLock<PathBuf> = OnceLock::new();
static IGNORED: AtomicBool = AtomicBool::new(false);

/// What was found in one file.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Kept {
    /// Its name in its folder.
    pub name: OsString,
    /// By what it is known for the same.
    pub state: State,
    pub findings: Findings,
}

/// From now on findings are kept in a folder, and what is kept there is known. A process does so once, before it listens to
/// anything.
pub(crate) fn keep_in(folder: PathBuf) {
    let _ = FOLDER.set(folder);
}

/// From now on what was kept before is not asked; what is found is kept all the same.
pub(crate) fn ignore_kept() {
    IGNORED.store(true, Ordering::Relaxed);
}

/// What is kept of the files in a folder.
pub(super) fn read(folder: &Path) -> Vec<Kept> {
    match place(folder) {
        Some(place) if !IGNORED.load(Ordering::Relaxed) => read_from(&place),
        _ => Vec::new(),
    }
}

/// Keeps what was found in some files of a folder, in the place of what was kept of them before.
pub(super) fn add(folder: &Path, mut fresh: Vec<Kept>) {
    let now = SystemTime::now();
    fresh.retain(|kept| kept.state.is_older_than(now, TICK));
    if let Some(place) = place(folder).filter(|_| !fresh.is_empty()) {
        let _ = write_to(&place, folder, fresh);
    }
}

/// Where the findings of a folder are kept.
fn place(folder: &Path) -> Option<PathBuf> {
    let own = FOLDER.get()?;
    let really = fs::canonicalize(if folder.as_os_str().is_empty() {
        Path::new(".")
    } else {
        folder
    })
    .ok()?;
    let sum = Sha256::digest(really.as_os_str().as_encoded_bytes());
    let name: String = sum.iter().take(16).map(|byte| format!("{byte:02x}")).collect();
    Some(own.join(name).with_extension(ENDING))
}

fn read_from(place: &Path) -> Vec<Kept> {
    let Ok(bytes) = fs::read(place) else { return Vec::new() };
    let kept = bytes
        .strip_prefix(MARK)
        .and_then(|bytes| postcard::from_bytes(bytes).ok());
    let used = fs::metadata(place).and_then(|meta| meta.modified()).ok();
    if used
        .and_then(|used| used.elapsed().ok())
        .is_some_and(|since| since > USED)
    {
        let _ = File::options()
            .append(true)
            .open(place)
            .and_then(|file| file.set_modified(SystemTime::now()));
    }
    kept.unwrap_or_default()
}

fn write_to(place: &Path, folder: &Path, fresh: Vec<Kept>) -> io::Result<()> {
    let own = place.parent().unwrap_or(Path::new(""));
    fs::create_dir_all(own)?;
    let lock = File::options().create(true).append(true).open(own.join("lock"))?;
    lock.lock()?;
    let mut all: BTreeMap<OsString, Kept> = BTreeMap::new();
    all.extend(read_from(place).into_iter().map(|old| (old.name.clone(), old)));
    all.extend(fresh.into_iter().map(|new| (new.name.clone(), new)));
    // Files that are gone are forgotten.
    all.retain(|name, _| folder.join(name).symlink_metadata().is_ok());
    let all: Vec<Kept> = all.into_values().collect();
    let bytes = postcard::to_stdvec(&all).map_err(io::Error::other)?;
    let mut file = NamedTempFile::new_in(own)?;
    file.write_all(MARK)?;
    file.write_all(&bytes)?;
    file.persist(place)?;
    let_go(own, place, MOST_BYTES)
}

/// Removes the oldest files until the rest is small enough; never the one that was written last.
fn let_go(own: &Path, last: &Path, most: u64) -> io::Result<()> {
    let mut files: Vec<(SystemTime, PathBuf, u64)> = Vec::new();
    for entry in fs::read_dir(own)?.flatten() {
        let meta = entry.metadata()?;
        files.push((meta.modified()?, entry.path(), meta.len()));
    }
    let mut bytes: u64 = files.iter().map(|(_, _, bytes)| bytes).sum();
    files.sort();
    for (_, path, own) in files {
        if bytes > most && path != last && path.extension().is_some_and(|ending| ending == ENDING) {
            fs::remove_file(&path)?;
            bytes -= own;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::audio::Audio;
    use crate::kit::audio::decode::{Container, Decoded};

    #[test]
    fn the_oldest_is_let_go_of_first_and_the_last_one_never() {
        let own = tempfile::tempdir().expect("a folder");
        let name = |number: u64| own.path().join(format!("{number}.{ENDING}"));
        for number in 1..=4 {
            fs::write(name(number), [0; 100]).expect("a file");
            let file = File::options().append(true).open(name(number)).expect("it is there");
            let time = SystemTime::UNIX_EPOCH + Duration::from_secs(number);
            file.set_modified(time).expect("a time");
        }
        fs::write(own.path().join("lock"), [0; 100]).expect("a file");
        let there = || (1..=4).filter(|number| name(*number).exists()).collect::<Vec<_>>();
        let_go(own.path(), &name(1), 500).expect("enough room");
        assert_eq!(there(), [1, 2, 3, 4]);
        let_go(own.path(), &name(1), 350).expect("two too many");
        assert_eq!(there(), [1, 4]);
        let_go(own.path(), &name(1), 0).expect("all too many");
        assert_eq!(there(), [1]);
    }

    /// A kit that nobody recorded: a struck tone, a breath of noise on two channels, a click on an offset.
    fn invented() -> Vec<Decoded> {
        let mut state = 1_u32;
        let mut noise = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / 8_388_608.0 - 1.0
        };
        let seconds = |n: usize| n as f64 / 48_000.0;
        let tone =
            |n: usize| 0.5 * libm::exp(-9.0 * seconds(n)) * libm::sin(std::f64::consts::TAU * 196.0 * seconds(n));
        let breath = |n: usize| 0.2 * (libm::exp(-4.0 * seconds(n)) - libm::exp(-60.0 * seconds(n))) as f32;
        let wave = |channels: Vec<Vec<f32>>| Decoded {
            audio: Audio { channels, rate: 48_000 },
            container: Container::Wav,
            bits: 24,
            float: false,
            missing: 0,
            root: None,
            loops: Vec::new(),
            crossfade: 0,
            tags: Vec::new(),
        };
        let mut side = || (0..40_000).map(|n| breath(n) * noise()).collect::<Vec<f32>>();
        let breaths = vec![side(), side()];
        let click = (0..9_600).map(|n| if (1_200..1_230).contains(&n) { 0.9 } else { 0.004 });
        vec![
            wave(vec![(0..36_000).map(|n| tone(n) as f32).collect()]),
            wave(breaths),
            wave(vec![click.collect()]),
        ]
    }

    #[test]
    fn what_is_found_otherwise_counts_the_mark_on() {
        let mut sum = Sha256::new();
        // Three decimals: an FFT's last bits differ from processor to processor.
        let found = invented().iter().map(Findings::of).collect::<Vec<_>>();
        sum.update(format!("{found:.3?}"));
        let sum = sum.finalize();
        let sum: String = sum.iter().take(8).map(|byte| format!("{byte:02x}")).collect();
        // Findings that are kept would otherwise be taken for what is found now. Where they change, count the number in the mark
        // on, then settle both here.
        let mark = String::from_utf8_lossy(MARK);
        assert_eq!((&*mark, &*sum), ("pressroll findings 3\n", "3f934bbddc8f209a"));
    }

    #[test]
    fn what_is_no_findings_is_nothing() {
        let own = tempfile::tempdir().expect("a folder");
        let file = own.path().join("a.findings");
        for bytes in [&b""[..], b"other", MARK, b"pressroll findings 3\n\xff\xff\xff\xff\x0f"] {
            fs::write(&file, bytes).expect("a file");
            assert!(read_from(&file).is_empty());
        }
    }
}
