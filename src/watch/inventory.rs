//! What a render is made of, and which of it was saved since.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::files::{State, state};
use crate::kit::{MANIFEST, one_shots};

/// What a render is made of.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct MadeOf {
    /// Files.
    pub files: BTreeSet<PathBuf>,
    /// Folders of one-shots.
    pub kits: BTreeSet<PathBuf>,
    /// A file that is none of them wherever it lies: the one that is written.
    pub spared: PathBuf,
}

/// Files as they were at one time.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Inventory {
    files: BTreeMap<PathBuf, Option<State>>,
    kits: BTreeSet<PathBuf>,
}

impl Inventory {
    /// Takes the inventory of what a render is made of.
    pub(crate) fn of(made_of: &MadeOf) -> Inventory {
        let mut inventory = Inventory::of_kits(made_of.kits.iter());
        let spared = made_of.spared.canonicalize().ok();
        let is_spared = |file: &PathBuf| {
            file.file_name() == made_of.spared.file_name() && spared.is_some() && file.canonicalize().ok() == spared
        };
        inventory.files.retain(|file, _| !is_spared(file));
        let own = made_of.files.iter().map(|file| (file.clone(), state(file)));
        inventory.files.extend(own);
        inventory
    }

    fn of_kits<'a>(kits: impl Iterator<Item = &'a PathBuf>) -> Inventory {
        let mut inventory = Inventory::default();
        for kit in kits {
            let shots = one_shots(kit).unwrap_or_default();
            let files = shots.iter().map(PathBuf::as_path).chain([Path::new(MANIFEST)]);
            let files = files.map(|file| kit.join(file));
            inventory.files.extend(files.map(|file| {
                let state = state(&file);
                (file, state)
            }));
            inventory.kits.insert(kit.clone());
        }
        inventory
    }

    /// What was saved, added or taken away since an earlier inventory, as far as that knew of it.
    pub(crate) fn changed_since(&self, earlier: &Inventory) -> Vec<PathBuf> {
        let mut changed: Vec<PathBuf> = Vec::new();
        for (file, state) in &self.files {
            let before = match earlier.files.get(file) {
                Some(before) => before,
                // What lies in a folder that was looked through then was not there.
                None if earlier.covers(file) => &None,
                None => state,
            };
            if before != state {
                changed.push(file.clone());
            }
        }
        let gone = earlier
            .files
            .iter()
            .filter(|(file, state)| state.is_some() && !self.files.contains_key(*file));
        changed.extend(gone.filter(|(file, _)| self.covers(file)).map(|(file, _)| file.clone()));
        changed
    }

    fn covers(&self, file: &Path) -> bool {
        self.kits.iter().any(|kit| file.starts_with(kit))
    }

    /// The folders in which something that is told of would show: those of all files, and the kits' own.
    pub(crate) fn folders(&self) -> BTreeSet<PathBuf> {
        let above = |file: &PathBuf| match file.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
            _ => PathBuf::from("."),
        };
        let mut folders: BTreeSet<PathBuf> = self.files.keys().map(above).collect();
        folders.extend(self.kits.iter().cloned());
        folders
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn tells_what_was_saved_added_and_taken_away() {
        let desk = tempfile::tempdir().unwrap();
        let at = |name: &str| desk.path().join(name);
        fs::create_dir_all(at("kit/cymbals")).unwrap();
        for name in [
            "loop.toml",
            "kit/kick.wav",
            "kit/snare.wav",
            "kit/out.wav",
            "kit/notes.txt",
        ] {
            fs::write(at(name), "a").unwrap();
        }
        let mut made_of = MadeOf {
            files: BTreeSet::from([at("loop.toml")]),
            kits: BTreeSet::from([at("kit")]),
            spared: at("kit/../kit/out.wav"),
        };
        let before = Inventory::of(&made_of);
        assert!(Inventory::of(&made_of).changed_since(&before).is_empty());
        fs::write(at("kit/notes.txt"), "no one-shot").unwrap();
        fs::write(at("kit/out.wav"), "what is written").unwrap();
        assert!(Inventory::of(&made_of).changed_since(&before).is_empty());
        fs::write(at("loop.toml"), "longer").unwrap();
        fs::write(at("kit/cymbals/ride.wav"), "new").unwrap();
        fs::write(at("kit/kit.toml"), "new").unwrap();
        fs::remove_file(at("kit/snare.wav")).unwrap();
        let changed = Inventory::of(&made_of).changed_since(&before);
        let wanted = ["kit/cymbals/ride.wav", "kit/kit.toml", "loop.toml", "kit/snare.wav"];
        assert_eq!(changed, wanted.map(at));
        // What was not known of before is no news.
        fs::write(at("take.mid"), "MThd").unwrap();
        let now = Inventory::of(&made_of);
        made_of.files.insert(at("take.mid"));
        assert!(Inventory::of(&made_of).changed_since(&now).is_empty());
        assert!(now.folders().contains(&at("kit/cymbals")));
    }
}
