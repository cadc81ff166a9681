//! Files that are whole or not there: written beside their place, then renamed into it.

use std::collections::BTreeSet;
use std::fs::{self, File, TryLockError};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use tempfile::NamedTempFile;

use crate::files::{self, plainly};
use crate::text::Problem;

/// How the names of unfinished files begin and end. Hidden, and no name that any kit or loop would have.
const UNFINISHED: (&str, &str) = (".pressroll-", ".part");
/// How often an unfinished file is begun anew when another run clears it away before it is held.
const TRIES: usize = 16;

/// Writes a file by way of a temporary one in the same folder, which is made if it is missing; where a link stands, what
/// it leads to is written, and it stays. Whatever goes wrong,
/// a file that was there before stays as it was and nothing is left behind. Where a run was killed before it could clear
/// up, the next one that writes into that folder does. Once it returns, the file outlives a loss of power.
///
/// # Errors
/// A folder that can't be made or written to, a full disk, a folder or a device where the file should be.
pub(crate) fn write_beside(
    path: &Path,
    fill: impl FnOnce(&mut BufWriter<&mut File>) -> io::Result<()>,
) -> Result<(), Problem> {
    write(path, true, fill)
}

/// The same for a preview, which is soon made again: whoever listens does not wait for the disk.
///
/// # Errors
/// As [`write_beside`].
pub(crate) fn write_preview(
    path: &Path,
    fill: impl FnOnce(&mut BufWriter<&mut File>) -> io::Result<()>,
) -> Result<(), Problem> {
    write(path, false, fill)
}

/// Fills a folder beside its place, then puts it there whole, in the place of one that was there. Whatever goes wrong, what was there
/// stays as it was; where a run was killed, the next one clears up what it left.
///
/// # Errors
/// A folder that can't be made or moved, and whatever `fill` finds wrong.
pub(crate) fn write_folder<E: From<Problem>>(place: &Path, fill: impl FnOnce(&Path) -> Result<(), E>) -> Result<(), E> {
    let failed = |error: io::Error| Problem::new(format!("{} can't be written: {}", place.display(), plainly(&error)));
    let meant = files::meant(place).map_err(failed)?;
    let around = meant.parent().filter(|folder| !folder.as_os_str().is_empty());
    let around = around.unwrap_or(Path::new("."));
    fs::create_dir_all(around).map_err(failed)?;
    clear_folders(around);
    let mut builder = tempfile::Builder::new();
    let desk = builder
        .prefix(UNFINISHED.0)
        .suffix(UNFINISHED.1)
        .tempdir_in(around)
        .map_err(failed)?;
    // Held as long as this run lives, where systems let a folder be opened.
    let held = File::open(desk.path());
    let _ = held.as_ref().map(File::try_lock);
    // One that the person's umask gives its rights, unlike the one around it.
    let (new, old) = (desk.path().join("new"), desk.path().join("old"));
    fs::create_dir(&new).map_err(failed)?;
    fill(&new)?;
    let there = meant.exists();
    if there {
        fs::rename(&meant, &old).map_err(failed)?;
    }
    if let Err(error) = fs::rename(&new, &meant) {
        if there {
            let _ = fs::rename(&old, &meant);
        }
        return Err(failed(error).into());
    }
    Ok(sync_folder(around).map_err(failed)?)
}

/// Removes unfinished folders whose writers are dead.
fn clear_folders(around: &Path) {
    for entry in fs::read_dir(around).into_iter().flatten().flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        let unfinished = name.starts_with(UNFINISHED.0) && name.ends_with(UNFINISHED.1);
        if unfinished && entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            let free = File::open(entry.path()).is_ok_and(|folder| folder.try_lock().is_ok());
            // An old folder whose successor never came into its place is not thrown away.
            let moving = ["old", "new"].iter().all(|name| entry.path().join(name).exists());
            if free && !moving {
                let _ = fs::remove_dir_all(entry.path());
            }
        }
    }
}

fn write(
    path: &Path,
    lasting: bool,
    fill: impl FnOnce(&mut BufWriter<&mut File>) -> io::Result<()>,
) -> Result<(), Problem> {
    let failed = |error: io::Error| Problem::new(format!("{} can't be written: {}", path.display(), plainly(&error)));
    // A rename would put a file in the place of whatever stands there, of a link too.
    let place = &files::meant(path).map_err(failed)?;
    match files::check(place, u64::MAX) {
        Ok(()) | Err(files::Refused::Absent | files::Refused::Machine(_)) => {}
        Err(strange) => {
            return Err(Problem::new(format!("{} {strange}", path.display())).help("name a file to write"));
        }
    }
    let folder = place
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    fs::create_dir_all(folder).map_err(failed)?;
    clear(folder);
    let mut file = begin(folder, place).map_err(failed)?;
    let mut out = BufWriter::with_capacity(1 << 18, file.as_file_mut());
    fill(&mut out).and_then(|()| out.flush()).map_err(failed)?;
    drop(out);
    // A rename may reach the disk before what is renamed.
    if lasting {
        file.as_file().sync_all().map_err(failed)?;
    }
    file.persist(place).map_err(|error| failed(error.error))?;
    if lasting {
        sync_folder(folder).map_err(failed)?;
    }
    Ok(())
}

/// Brings the names in a folder to the disk, where systems let a folder be opened and know how.
fn sync_folder(folder: &Path) -> io::Result<()> {
    if !cfg!(unix) {
        return Ok(());
    }
    let synced = File::open(folder).and_then(|folder| folder.sync_all());
    synced.or_else(|error| match error.kind() {
        ErrorKind::PermissionDenied | ErrorKind::InvalidInput | ErrorKind::Unsupported => Ok(()),
        _ => Err(error),
    })
}

/// Begins an unfinished file and holds it, so that other runs see that its writer lives.
fn begin(folder: &Path, place: &Path) -> io::Result<NamedTempFile> {
    for _ in 0..TRIES {
        let mut builder = tempfile::Builder::new();
        builder.prefix(UNFINISHED.0).suffix(UNFINISHED.1);
        permit(&mut builder, place);
        let file = builder.tempfile_in(folder)?;
        match file.as_file().lock() {
            // Some network's disks know no locks: nobody clears up there, and nobody is in the way.
            Err(_) => return Ok(file),
            // Another run may have taken it for a dead one's between its making and this lock.
            Ok(()) if file.path().exists() => return Ok(file),
            Ok(()) => {}
        }
    }
    Err(io::Error::other("other runs keep clearing away what is begun"))
}

/// Folders that this process has cleared: what is unfinished in them is its own or another's that lives.
static CLEARED: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

/// Removes unfinished files whose writers are dead: those that nobody holds. What can't be told or removed stays. It is done once for
/// a folder: to look through one with many thousands of files for each that comes into it would take longer than to write them.
fn clear(folder: &Path) {
    let mut cleared = CLEARED.lock().unwrap_or_else(PoisonError::into_inner);
    if !cleared.insert(folder.to_path_buf()) {
        return;
    }
    drop(cleared);
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        let unfinished = name.starts_with(UNFINISHED.0) && name.ends_with(UNFINISHED.1);
        if !unfinished || !entry.file_type().is_ok_and(|kind| kind.is_file()) {
            continue;
        }
        // Held until it is gone, so that its name can't be another's by then.
        let Ok(file) = File::options().write(true).open(entry.path()) else {
            continue;
        };
        match file.try_lock() {
            Ok(()) => drop(fs::remove_file(entry.path())),
            Err(TryLockError::WouldBlock | TryLockError::Error(_)) => {}
        }
    }
}

/// A finished file may be read by whom the person lets read any new file of theirs, or could read the old one.
#[cfg(unix)]
fn permit(builder: &mut tempfile::Builder, place: &Path) {
    use std::os::unix::fs::PermissionsExt;
    let old = fs::metadata(place).map(|meta| meta.permissions().mode() & 0o777);
    // The owner has to write it; what else is asked for passes through the person's umask.
    builder.permissions(fs::Permissions::from_mode(old.unwrap_or(0o666) | 0o600));
}

#[cfg(not(unix))]
fn permit(_: &mut tempfile::Builder, _: &Path) {}

#[cfg(test)]
mod tests {
    use super::*;

    fn unfinished(folder: &Path) -> usize {
        let names = fs::read_dir(folder).unwrap().flatten();
        names
            .filter(|entry| entry.file_name().to_string_lossy().starts_with(UNFINISHED.0))
            .count()
    }

    #[test]
    fn what_the_dead_left_is_cleared_and_what_the_living_write_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("mix.wav");
        fs::write(folder.path().join(".pressroll-left.part"), "half a").unwrap();
        fs::write(folder.path().join(".pressroll-notes"), "a person's own").unwrap();
        let living = begin(folder.path(), &place).unwrap();
        write_beside(&place, |out| out.write_all(b"whole")).unwrap();
        assert_eq!(fs::read(&place).unwrap(), b"whole");
        assert!(living.path().exists() && folder.path().join(".pressroll-notes").exists());
        assert_eq!(unfinished(folder.path()), 2);
        drop(living);
        assert_eq!(unfinished(folder.path()), 1);
    }

    #[test]
    fn two_may_write_one_file_at_a_time() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("mix.wav");
        let write = |byte: u8| write_beside(&place, |out| out.write_all(&vec![byte; 100_000]));
        std::thread::scope(|scope| {
            for byte in 0..8 {
                scope.spawn(move || (0..20).for_each(|_| write(byte).unwrap()));
            }
        });
        let bytes = fs::read(&place).unwrap();
        assert_eq!(bytes.len(), 100_000);
        assert!(bytes.iter().all(|byte| *byte == bytes[0]), "of one writer");
        assert_eq!(unfinished(folder.path()), 0);
    }

    #[test]
    fn a_device_is_not_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let refused = write_beside(folder.path(), |_| Ok(())).unwrap_err();
        assert!(refused.what.ends_with("is a folder, not a file"), "{refused:?}");
        #[cfg(unix)]
        {
            let refused = write_beside(Path::new("/dev/null"), |_| Ok(())).unwrap_err();
            assert!(refused.what.ends_with("is a device, not a file"), "{refused:?}");
        }
    }
}
