//! Opening the person's files: regular ones of bearable length, and nothing else.
//!
//! Everything that reads a file that a person names goes through here, so a device, a pipe or a folder in its place is
//! refused at once, in words, and never waited for.

use std::fmt;
use std::fs::{self, File, FileType, Metadata};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use serde::{Deserialize, Serialize};

mod sum;

pub(crate) use sum::{hexadecimal, sha256};

/// The longest recording that is read, in bytes: 2 GiB.
pub(crate) const LONGEST: u64 = 1 << 31;
/// The longest text that is read, in bytes: 4 MiB, hundreds of times a long loop file.
pub(crate) const LONGEST_TEXT: u64 = 1 << 22;

/// Why a file is not opened.
///
/// Displays as the rest of a sentence that begins with the file's name: "is a folder, not a file".
#[derive(Debug)]
pub enum Refused {
    /// Nothing is there.
    Absent,
    /// A folder.
    Folder,
    /// Neither a file nor a folder, with what it is: a device, a pipe, a socket.
    NoFile(&'static str),
    /// Longer than is read: its bytes, and the most.
    TooLong(u64, u64),
    /// The system would not let it be read.
    Machine(io::Error),
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refused::Absent => f.write_str("is not there"),
            Refused::Folder => f.write_str("is a folder, not a file"),
            Refused::NoFile(what) => write!(f, "is {what}, not a file"),
            Refused::TooLong(bytes, most) => {
                write!(f, "is {} long; {} are the most", size(*bytes), size(*most))
            }
            Refused::Machine(error) => write!(f, "can't be read: {}", plainly(error)),
        }
    }
}

impl std::error::Error for Refused {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Refused::Machine(error) => Some(error),
            _ => None,
        }
    }
}

/// What there is nothing of is absent; other errors are the machine's.
impl From<io::Error> for Refused {
    fn from(error: io::Error) -> Refused {
        match error.kind() {
            io::ErrorKind::NotFound => Refused::Absent,
            _ => Refused::Machine(error),
        }
    }
}

/// Looks whether a path leads to a regular file of at most so many bytes, without opening it; links are followed.
///
/// # Errors
/// When it does not; see [`Refused`].
pub(crate) fn check(path: &Path, most: u64) -> Result<(), Refused> {
    allow(&fs::metadata(path)?, most)
}

/// Opens a regular file of at most so many bytes.
///
/// # Errors
/// As [`check`], and when the system won't let it be read.
pub(crate) fn open(path: &Path, most: u64) -> Result<File, Refused> {
    // Asked before opening: that keeps a pipe without a writer from holding everything up.
    check(path, most)?;
    let file = File::open(path)?;
    // And after: what is open is what is read.
    allow(&file.metadata()?, most)?;
    Ok(file)
}

/// Reads a regular file of at most so many bytes.
///
/// # Errors
/// As [`open`].
pub(crate) fn read(path: &Path, most: u64) -> Result<Vec<u8>, Refused> {
    let mut bytes = Vec::new();
    // A file may grow while it is read, and some of the system's own say that they are empty and never end.
    open(path, most)?.take(most + 1).read_to_end(&mut bytes)?;
    match bytes.len() as u64 {
        length if length > most => Err(Refused::TooLong(length, most)),
        _ => Ok(bytes),
    }
}

/// Reads the first bytes of a regular file, so many at the most.
///
/// # Errors
/// As [`open`].
pub(crate) fn start(path: &Path, bytes: u64) -> Result<Vec<u8>, Refused> {
    let mut start = Vec::new();
    open(path, u64::MAX)?.take(bytes).read_to_end(&mut start)?;
    Ok(start)
}

/// Asks whether a file that is there may be written, by whoever runs this and by its own protection.
///
/// # Errors
/// That it may not.
pub(crate) fn writable(path: &Path) -> io::Result<()> {
    // The system lets an administrator write what is protected from that.
    if fs::metadata(path)?.permissions().readonly() {
        return Err(io::Error::other("it is write-protected"));
    }
    File::options().write(true).open(path).map(drop)
}

/// The place that a path means: where it is a link, what that leads to, whether or not something is there.
///
/// # Errors
/// Links that lead in a circle.
pub(crate) fn meant(path: &Path) -> io::Result<PathBuf> {
    /// As many as Linux follows.
    const MOST_LINKS: usize = 40;
    let mut place = path.to_path_buf();
    for _ in 0..MOST_LINKS {
        match fs::read_link(&place) {
            Ok(target) => place = place.parent().unwrap_or(Path::new("")).join(target),
            Err(_) => return Ok(place),
        }
    }
    Err(io::Error::other("its links lead in a circle"))
}

/// What tells whether a file is still the one that it was, without reading it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct State {
    bytes: u64,
    written: Option<SystemTime>,
    /// Where the system tells: which file it is and when anything about it last changed. One that takes another's place may
    /// well be as long and as old.
    own: Option<(u64, i64, i64)>,
}

impl State {
    /// True where nothing is in the file.
    pub(crate) fn is_empty(&self) -> bool {
        self.bytes == 0
    }

    /// True where the file was last written to, or anything about it changed, longer than that ago.
    pub(crate) fn is_older_than(&self, now: SystemTime, time: Duration) -> bool {
        let since = |then: SystemTime| now.duration_since(then).is_ok_and(|since| since > time);
        let changed = self.own.and_then(|(_, seconds, nanoseconds)| {
            let since_1970 = Duration::new(seconds.try_into().ok()?, nanoseconds.try_into().ok()?);
            Some(SystemTime::UNIX_EPOCH + since_1970)
        });
        self.written.is_some_and(since) && changed.is_none_or(since)
    }
}

/// A file's state; none where nothing is there.
pub(crate) fn state(path: &Path) -> Option<State> {
    let meta = fs::metadata(path).ok()?;
    Some(State {
        bytes: meta.len(),
        written: meta.modified().ok(),
        own: own(&meta),
    })
}

#[cfg(unix)]
fn own(meta: &Metadata) -> Option<(u64, i64, i64)> {
    use std::os::unix::fs::MetadataExt;
    Some((meta.ino(), meta.ctime(), meta.ctime_nsec()))
}

#[cfg(not(unix))]
fn own(_: &Metadata) -> Option<(u64, i64, i64)> {
    None
}

fn allow(meta: &Metadata, most: u64) -> Result<(), Refused> {
    if meta.is_dir() {
        return Err(Refused::Folder);
    }
    if !meta.is_file() {
        return Err(Refused::NoFile(special(meta.file_type())));
    }
    if meta.len() > most {
        return Err(Refused::TooLong(meta.len(), most));
    }
    Ok(())
}

/// What something is that is neither a file nor a folder: "a device", "a pipe" or "a socket".
#[cfg(unix)]
pub(crate) fn special(kind: FileType) -> &'static str {
    use std::os::unix::fs::FileTypeExt;
    if kind.is_fifo() {
        "a pipe"
    } else if kind.is_socket() {
        "a socket"
    } else {
        "a device"
    }
}

/// What something is that is neither a file nor a folder.
#[cfg(not(unix))]
pub(crate) fn special(_: FileType) -> &'static str {
    "a device"
}

/// What the system says, without the number that it puts behind it, as the rest of a sentence.
pub(crate) fn plainly(error: &io::Error) -> String {
    let text = error.to_string();
    let end = text.find(" (os error").unwrap_or(text.len());
    let mut chars = text[..end].chars();
    chars
        .next()
        .map_or(String::new(), |first| first.to_lowercase().chain(chars).collect())
}

/// A length as people say it.
pub(crate) fn size(bytes: u64) -> String {
    let (unit, name) = match bytes {
        ..0x10_0000 => (1 << 10, "KiB"),
        0x10_0000..0x4000_0000 => (1 << 20, "MiB"),
        _ => (1 << 30, "GiB"),
    };
    // Rounded up: what is a byte too long must not read as just long enough.
    let tenths = (u128::from(bytes) * 10).div_ceil(unit);
    match tenths % 10 {
        0 => format!("{} {name}", tenths / 10),
        rest => format!("{}.{rest} {name}", tenths / 10),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_is_rounded_up() {
        assert_eq!(size(LONGEST), "2 GiB");
        assert_eq!(size(LONGEST + 1), "2.1 GiB");
        assert_eq!(size(LONGEST_TEXT), "4 MiB");
        assert_eq!(size(1), "0.1 KiB");
    }

    #[test]
    fn a_file_in_the_place_of_another_has_another_state() {
        let folder = tempfile::tempdir().unwrap();
        let [path, other] = ["kick.wav", "other.wav"].map(|name| folder.path().join(name));
        fs::write(&path, "high tide").unwrap();
        fs::write(&other, "ebb alone").unwrap();
        let before = state(&path);
        assert!(before.is_some() && before == state(&path));
        let written = fs::metadata(&path).unwrap().modified().unwrap();
        File::options()
            .write(true)
            .open(&other)
            .unwrap()
            .set_modified(written)
            .unwrap();
        fs::rename(&other, &path).unwrap();
        if cfg!(unix) {
            assert_ne!(state(&path), before, "as long and as old, and not the same");
        }
        assert_eq!(state(&other), None);
    }

    #[test]
    fn only_files_of_bearable_length_are_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("tide.txt");
        assert!(matches!(read(&path, 9), Err(Refused::Absent)));
        fs::write(&path, "high tide").unwrap();
        assert_eq!(read(&path, 9).unwrap(), b"high tide");
        assert!(matches!(read(&path, 8), Err(Refused::TooLong(9, 8))));
        assert!(matches!(read(folder.path(), 8), Err(Refused::Folder)));
    }
}
