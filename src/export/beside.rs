//! Files that are whole or not there: written beside their place, then renamed into it.

use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::Path;

use crate::text::Problem;

/// Writes a file by way of a temporary one in the same folder, which is made if it is missing. Whatever goes wrong,
/// a file that was there before stays as it was and nothing is left behind.
///
/// # Errors
/// A folder that can't be made or written to, a full disk, a folder where the file should be.
pub fn write_beside(
    path: &Path,
    fill: impl FnOnce(&mut BufWriter<&mut fs::File>) -> io::Result<()>,
) -> Result<(), Problem> {
    let failed = |error: io::Error| Problem::new(format!("{} can't be written: {}", path.display(), plainly(&error)));
    if path.is_dir() {
        return Err(Problem::new(format!("{} is a folder", path.display())).help("name a file to write"));
    }
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    fs::create_dir_all(folder).map_err(failed)?;
    let mut file = tempfile::Builder::new()
        .prefix(".pressroll-")
        .tempfile_in(folder)
        .map_err(failed)?;
    let mut out = BufWriter::with_capacity(1 << 18, file.as_file_mut());
    fill(&mut out).and_then(|()| out.flush()).map_err(failed)?;
    drop(out);
    // A temporary file is the owner's alone; a finished one is as any other file of theirs.
    open_to_others(file.as_file()).map_err(failed)?;
    file.persist(path).map_err(|error| failed(error.error))?;
    Ok(())
}

/// The error without the number that the system puts behind it.
fn plainly(error: &io::Error) -> String {
    let text = error.to_string();
    let end = text.find(" (os error").unwrap_or(text.len());
    let mut chars = text[..end].chars();
    chars
        .next()
        .map_or(String::new(), |first| first.to_lowercase().chain(chars).collect())
}

#[cfg(unix)]
fn open_to_others(file: &fs::File) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn open_to_others(_: &fs::File) -> io::Result<()> {
    Ok(())
}
