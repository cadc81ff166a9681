//! Files that a loop or a form names.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::files::{self, Refused};
use crate::text::{Problem, Source};

/// A path as a file in `folder` names it, relative to the current folder.
pub(crate) fn beside(folder: &Path, path: &str) -> PathBuf {
    match (path, folder.as_os_str().is_empty()) {
        (".", true) => PathBuf::from("."),
        (".", false) => folder.to_path_buf(),
        _ => folder.join(path),
    }
}

/// The text of a loop file or a form file.
pub(crate) fn open(path: &Path) -> Result<Arc<Source>, Problem> {
    open_as(path, "a loop file")
}

/// The text of a file of some kind.
pub(crate) fn open_as(path: &Path, kind: &str) -> Result<Arc<Source>, Problem> {
    let shown = path.display();
    let bytes = files::read(path, files::LONGEST_TEXT).map_err(|refused| match refused {
        Refused::Folder => Problem::new(format!("{shown} is a folder, not {kind}")).help("name a file in it"),
        Refused::Absent => Problem::new(format!("{shown} can't be read: there is no such file")),
        refused => Problem::new(format!("{shown} {refused}")),
    })?;
    match String::from_utf8(bytes) {
        Ok(text) => Ok(Source::new(path, text)),
        Err(_) => Err(Problem::new(format!("{shown} is not a text in UTF-8")).help(format!("is it {kind}?"))),
    }
}

/// A file's name without its folder and ending.
pub(crate) fn stem(path: &Path) -> String {
    path.file_stem()
        .map_or_else(|| "loop".into(), |stem| stem.to_string_lossy().into_owned())
}
