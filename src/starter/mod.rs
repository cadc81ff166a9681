//! The starter: two demo kits, synthesised, with loops that play them.
//!
//! What [`demos`] gives is committed under `kits/`. After a change here, remove that folder, run `pressroll start kits`
//! and commit what it writes; `tests/starter.rs` keeps both the same.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

mod first;
mod kits;
mod metal;
mod pack;
mod pitched;
mod shed;
mod skins;
mod small;
mod stairwell;
mod workshop;

pub use first::first_loop;

/// A demo kit with its loops.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Demo {
    /// The name of its folder.
    pub name: &'static str,
    /// Its files: paths relative to the folder, and what is in them.
    pub files: Vec<(PathBuf, Vec<u8>)>,
}

/// All demo kits with their loops, the same bytes on every machine.
pub fn demos() -> Vec<Demo> {
    vec![kits::harbour_studio(), kits::boat_shed()]
}

/// Writes all demo kits and loops under a folder, each kit in a folder of its own, and gives the paths written.
///
/// # Errors
/// When a folder or file can't be made, or a file is there already: nothing is overwritten, and nothing is written
/// at all if any file stands in the way.
pub fn write(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let files: Vec<(PathBuf, Vec<u8>)> = demos()
        .into_iter()
        .flat_map(|demo| {
            let home = folder.join(demo.name);
            demo.files
                .into_iter()
                .map(move |(path, bytes)| (home.join(path), bytes))
        })
        .collect();
    if let Some((taken, _)) = files.iter().find(|(path, _)| path.symlink_metadata().is_ok()) {
        let sentence = format!("{} is there already; choose another folder", taken.display());
        return Err(io::Error::new(io::ErrorKind::AlreadyExists, sentence));
    }
    let mut written = Vec::new();
    for (path, bytes) in files {
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent)?;
        }
        fs::File::create_new(&path)?.write_all(&bytes)?;
        written.push(path);
    }
    Ok(written)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_overwritten_and_nothing_half_written() {
        let folder = tempfile::tempdir().unwrap();
        let taken = folder.path().join("boat-shed/kit.toml");
        fs::create_dir_all(taken.parent().unwrap()).unwrap();
        fs::write(&taken, "mine").unwrap();
        let error = write(folder.path()).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(fs::read_to_string(&taken).unwrap(), "mine");
        assert!(!folder.path().join("harbour-studio").exists());
    }

    #[test]
    fn all_files_are_written_where_they_say() {
        let folder = tempfile::tempdir().unwrap();
        let written = write(folder.path()).unwrap();
        let mut expected = demos().into_iter().flat_map(|demo| demo.files);
        for path in written {
            assert_eq!(fs::read(path).unwrap(), expected.next().unwrap().1);
        }
        assert!(expected.next().is_none());
    }
}
