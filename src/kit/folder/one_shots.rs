//! One-shots by themselves, as they lie in a folder.

use std::path::{Path, PathBuf};

use super::scan::scan;
use crate::text::Problem;

/// The one-shots in a folder and the folders in it, hidden ones left out, in the order of their paths, relative to it. Where the path
/// is a file, that file alone.
///
/// # Errors
/// A path that leads nowhere; a folder that can't be read.
pub(crate) fn one_shots(path: &Path) -> Result<Vec<PathBuf>, Problem> {
    if path.is_file() {
        return Ok(path.file_name().map(PathBuf::from).into_iter().collect());
    }
    if !path.exists() {
        let what = format!("there is no folder `{}`", path.display());
        return Err(Problem::new(what).help("name a folder of one-shots, or some of its files"));
    }
    Ok(scan(path)?.wavs)
}
