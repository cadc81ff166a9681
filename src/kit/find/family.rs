//! What one-shots have in common that are of one maker or one session: the folder that they lie in, the words that their names share.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::kit::names::lexicon::meant;
use crate::kit::names::words;

/// What a family shares.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Family {
    /// A folder, as a path within the folder that was looked through.
    pub folder: Option<PathBuf>,
    /// A word of the files' names that tells no instrument, in small letters.
    pub word: Option<String>,
}

impl Family {
    /// The family that has the most roles, and of several the smallest; of a folder's files those that share a word, where that
    /// costs no role. `files` are paths with the role that each could play. What all of them share tells nothing.
    pub(crate) fn of(files: &[(usize, &Path)]) -> Family {
        let folders = |file: &Path| -> Vec<PathBuf> {
            let above = file.ancestors().skip(1).filter(|folder| *folder != Path::new(""));
            above.map(Path::to_path_buf).collect()
        };
        let mut family = Family::default();
        let mut left = files.to_vec();
        let mut least = 2;
        if let Some(folder) = best(&left, least, folders) {
            left.retain(|(_, file)| file.starts_with(&folder));
            least = left.iter().map(|(role, _)| role).collect::<BTreeSet<_>>().len();
            family.folder = Some(folder);
        }
        family.word = best(&left, least, own_words);
        family
    }

    /// True where a file is of the family.
    pub(crate) fn has(&self, file: &Path) -> bool {
        let folder = self.folder.as_ref().is_none_or(|folder| file.starts_with(folder));
        folder && self.word.as_ref().is_none_or(|word| own_words(file).contains(word))
    }
}

/// What files share that have the most roles, and at least so many; of several such things that with the fewest files, and of those
/// the first by its name.
fn best<T: Ord>(files: &[(usize, &Path)], least: usize, shares: impl Fn(&Path) -> Vec<T>) -> Option<T> {
    let mut sharing: BTreeMap<T, (BTreeSet<usize>, usize)> = BTreeMap::new();
    for (role, file) in files {
        let own: BTreeSet<T> = shares(file).into_iter().collect();
        for shared in own {
            let (roles, count) = sharing.entry(shared).or_default();
            roles.insert(*role);
            *count += 1;
        }
    }
    let some = sharing
        .into_iter()
        .filter(|(_, (roles, count))| roles.len() >= least && *count < files.len());
    let best = some.min_by(|(_, a), (_, b)| b.0.len().cmp(&a.0.len()).then(a.1.cmp(&b.1)));
    best.map(|(shared, _)| shared)
}

/// The words of a file's name that tell no instrument, no turn and no dynamic.
fn own_words(file: &Path) -> Vec<String> {
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    let words = words(&stem);
    let known = meant(&words);
    let told = |at: usize| known.iter().any(|meant| (meant.from..meant.to).contains(&at));
    // Short numbers count, letters tell sides and sizes.
    let counts =
        |word: &str| word.bytes().all(|byte| byte.is_ascii_digit()) && (word.len() < 3 || word.starts_with('0'));
    let own = words
        .iter()
        .enumerate()
        .filter(|(at, word)| !told(*at) && word.chars().count() > 1 && !counts(word));
    own.map(|(_, word)| word.clone()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn family(files: &[(usize, &str)]) -> Family {
        let files: Vec<(usize, &Path)> = files.iter().map(|(role, file)| (*role, Path::new(*file))).collect();
        Family::of(&files)
    }

    #[test]
    fn a_word_that_names_share_makes_a_family() {
        let files = [
            (0, "Quay Kick 1.wav"),
            (0, "Pier Kick.wav"),
            (1, "Quay Snare 2.wav"),
            (1, "Room Snare.wav"),
            (2, "Quay Closed Hat.wav"),
        ];
        let family = family(&files);
        assert_eq!((family.folder.clone(), family.word.as_deref()), (None, Some("quay")));
        assert!(family.has(Path::new("Quay Ride.wav")) && !family.has(Path::new("Pier Kick.wav")));
    }

    #[test]
    fn a_folder_comes_before_a_word_and_the_most_roles_before_both() {
        let files = [
            (0, "Pier/Kicks/dry kick.wav"),
            (0, "Pier/Kicks/wet kick.wav"),
            (1, "Pier/Snares/dry snare.wav"),
            (1, "Shed/snare dry.wav"),
            (2, "Shed/hat dry.wav"),
            (2, "Pier/Hats/hat.wav"),
        ];
        let family = family(&files);
        assert_eq!(family.folder.as_deref(), Some(Path::new("Pier")));
        // Of the three roles the word has two alone.
        assert!(family.has(Path::new("Pier/Kicks/dry kick.wav")));
    }

    #[test]
    fn nothing_shared_is_no_family() {
        assert_eq!(family(&[(0, "Kicks/a1.wav"), (1, "Snares/b1.wav")]), Family::default());
        assert_eq!(family(&[]), Family::default());
    }
}
