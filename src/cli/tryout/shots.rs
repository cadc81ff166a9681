//! The one-shots that a tryout tries.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::{IN_TURN, REFERENCE};
use crate::export::name::safe;
use crate::kit::find::{self, Sound};
use crate::kit::findings::fingerprint::Fingerprint;
use crate::kit::findings::{find_all, find_recordings};
use crate::kit::{Reading, Sides, kind, one_shots, read_name};
use crate::text::Problem;

/// The most one-shots that are tried at a time: more is more than an ear keeps apart, and than an hour of listening.
pub(in crate::cli) const MOST: usize = 64;

/// A one-shot to be tried.
pub(super) struct Shot {
    pub path: PathBuf,
    /// What it is called here, by a name that no other has.
    pub name: String,
    /// True for the kit's own sound, which the others are compared with.
    pub reference: bool,
}

/// One-shots that were picked out of many.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Picked {
    /// How many there are in all.
    pub of: usize,
    /// How many of them could be the piece.
    pub fitting: usize,
}

/// The kit's own sound as the reference: the last of its recordings, which the hardest strokes play, stands for them where they
/// are measured. None where the kit has none.
pub(super) fn reference(own: &[Sides]) -> Option<Shot> {
    own.last().map(|sides| Shot {
        path: sides.left.clone(),
        name: REFERENCE.into(),
        reference: true,
    })
}

/// The one-shots to try, in the order of the folders and of their paths, by names that differ.
pub(super) fn find(folders: &[PathBuf]) -> Result<Vec<Shot>, Problem> {
    let found = all(folders)?;
    if found.len() > MOST {
        return Err(too_many(&found));
    }
    Ok(called(found))
}

/// So many of the one-shots, those that differ most among all that could be a piece, whose recordings in the loop are `examples`.
pub(super) fn pick(
    folders: &[PathBuf],
    wanted: usize,
    piece: &str,
    examples: &[Sides],
) -> Result<(Vec<Shot>, Picked), Problem> {
    let all = all(folders)?;
    let files: Vec<&Path> = all.iter().map(|(path, _)| path.as_path()).collect();
    let found = find_all(&files);
    let readings: Vec<Reading> = all.iter().map(|(_, shot)| read_name(shot)).collect();
    let mut places = Vec::new();
    let mut sounds = Vec::new();
    for (at, (found, reading)) in found.iter().zip(&readings).enumerate() {
        let like = found.as_ref().ok().and_then(|found| found.fingerprint.as_ref());
        sounds.extend(like.map(|like| Sound {
            like,
            name: reading.piece.unwrap_or_default(),
            sure: reading.piece.map(|_| reading.confidence),
        }));
        places.extend(like.map(|_| at));
    }
    let heard = find_recordings(examples);
    let heard: Vec<&Fingerprint> = heard
        .iter()
        .filter_map(|found| found.as_ref().ok()?.fingerprint.as_ref())
        .collect();
    let picked = find::pick(kind(piece).0, wanted, &sounds, &heard);
    let told = Picked {
        of: all.len(),
        fitting: picked.fitting,
    };
    let mut all: Vec<Option<(PathBuf, PathBuf)>> = all.into_iter().map(Some).collect();
    let chosen = picked.places.iter().filter_map(|place| all[places[*place]].take());
    match called(chosen.collect()) {
        none if none.is_empty() => Err(Problem::new(format!("none of {} one-shots can be heard", told.of))
            .help("name a folder of recordings that are not silent")),
        shots => Ok((shots, told)),
    }
}

/// The one-shots of some folders, with their paths in these.
fn all(folders: &[PathBuf]) -> Result<Vec<(PathBuf, PathBuf)>, Problem> {
    let mut found: Vec<(PathBuf, PathBuf)> = Vec::new();
    let mut known: BTreeSet<PathBuf> = BTreeSet::new();
    for folder in folders {
        let root = if folder.is_file() {
            folder.parent().unwrap_or(Path::new("")).to_path_buf()
        } else {
            folder.clone()
        };
        for shot in one_shots(folder)? {
            let path = root.join(&shot);
            if known.insert(path.clone()) {
                found.push((path, shot));
            }
        }
    }
    if found.is_empty() {
        let shown: Vec<String> = folders.iter().map(|folder| folder.display().to_string()).collect();
        let what = format!("there is nothing to try in {}", shown.join(", "));
        return Err(Problem::new(what).help("name a folder of WAV files, or some of them"));
    }
    Ok(found)
}

/// One-shots with the names that they are called by.
fn called(found: Vec<(PathBuf, PathBuf)>) -> Vec<Shot> {
    let names = distinct(&found.iter().map(|(_, shot)| shot.as_path()).collect::<Vec<_>>());
    let shots = found.into_iter().zip(names);
    let shot = |((path, _), name)| Shot {
        path,
        name,
        reference: false,
    };
    shots.map(shot).collect()
}

/// The names of one-shots without their endings; of alike ones the path tells them apart, else a number.
fn distinct(shots: &[&Path]) -> Vec<String> {
    let stem = |shot: &Path| safe(&shot.file_stem().unwrap_or_default().to_string_lossy());
    let alike = |name: &str, other: &Path| stem(other).to_lowercase() == name.to_lowercase();
    let mut taken: BTreeSet<String> = BTreeSet::from([IN_TURN, REFERENCE].map(String::from));
    let mut names = Vec::new();
    for shot in shots {
        let own = stem(shot);
        let whole = safe(&shot.with_extension("").to_string_lossy());
        let single = shots.iter().filter(|other| alike(&own, other)).count() == 1;
        let name = if single { own } else { whole };
        let numbered = (2..).map(|number| format!("{name}-{number}"));
        let mut free = std::iter::once(name.clone()).chain(numbered);
        names.extend(free.find(|name| taken.insert(name.to_lowercase())));
    }
    names
}

/// The problem of more one-shots than are tried at a time: where fewer lie.
fn too_many(found: &[(PathBuf, PathBuf)]) -> Problem {
    let mut folders: Vec<(&Path, usize)> = Vec::new();
    for (path, _) in found {
        let folder = path.parent().unwrap_or(Path::new("."));
        match folders.iter_mut().find(|(other, _)| *other == folder) {
            Some((_, count)) => *count += 1,
            None => folders.push((folder, 1)),
        }
    }
    let narrow = folders.iter().filter(|(_, count)| *count <= MOST && folders.len() > 1);
    let narrow: Vec<String> = narrow
        .take(3)
        .map(|(folder, count)| format!("{} ({count})", folder.display()))
        .collect();
    let what = format!("there are {} one-shots; {MOST} are tried at a time", found.len());
    Problem::new(what).help(match narrow.as_slice() {
        [] => {
            "name some of the files instead of the folder, as in FOLDER/a*.wav, or let `--pick 12` choose".to_string()
        }
        some => format!(
            "`--pick 12` chooses some that differ; or name a folder with fewer, such as {}",
            some.join(", ")
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alike_names_are_told_apart() {
        let shots = [
            "kick.wav",
            "deep/Kick.wav",
            "snare: 1.wav",
            "all-in-turn.wav",
            "deep/kick.wave",
            "reference.wav",
        ];
        let shots: Vec<&Path> = shots.iter().map(Path::new).collect();
        assert_eq!(
            distinct(&shots),
            [
                "kick",
                "deep-Kick",
                "snare- 1",
                "all-in-turn-2",
                "deep-kick-2",
                "reference-2"
            ]
        );
    }
}
