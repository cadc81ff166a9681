//! Which files of a folder are which piece: names propose, sound decides.
//!
//! Names group files ([`alike`]). Then sound says of each group: whether a left and a right side are one recording ([`pairs`]),
//! whether files with notes in their names are an instrument's ([`instruments`]), which are strokes of one drum and which are
//! different ones ([`strokes`]), which drum of a set each is ([`sets`]). What can't be read, or is silent, stays what its name says.
//!
//! In: paths and findings. Out: groups, each a piece. It knows nothing of kit.toml, of names that are given twice, and of loops.

mod instruments;
mod matters;
mod pairs;
mod sets;
mod strokes;

pub(crate) use strokes::by_sound;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::audio::pitch::BELIEVED;
use super::findings::fingerprint::Fingerprint;
use super::findings::{Findings, find_all};
use super::names::sides;
use super::names::takes::{Alike, Take, alike};

/// Groups of files, each a piece, in the order of their first files. Paths are relative to `root`, and `kit` is its name. Where only
/// some pieces are wanted, what can't be any of them is not listened to, and stays what names say.
pub(crate) fn pieces<'a>(
    files: impl Iterator<Item = &'a Path> + Clone,
    root: &Path,
    kit: &str,
    wanted: Option<&[&str]>,
) -> Vec<Alike<'a>> {
    let sides = sides::pairs(files.clone());
    let rights: BTreeSet<&Path> = sides.values().copied().collect();
    let groups = alike(files.filter(|file| !rights.contains(file)), kit, &sides);
    let matter = matters::matter(&groups, wanted);
    let ears = Ears::listen(root, groups.iter().zip(&matter).filter(|(_, matters)| **matters));
    // What nobody asked for has not been listened to, and passes through all of this as it is.
    let groups: Vec<Alike> = groups.into_iter().map(|group| pairs::settle(group, &ears)).collect();
    let groups = instruments::found(groups, &ears);
    let mut groups: Vec<Alike> = groups
        .into_iter()
        .flat_map(|group| strokes::part(group, &ears))
        .collect();
    sets::settle(&mut groups, &ears);
    groups
}

/// What was found in the files that matter.
pub(super) struct Ears(BTreeMap<PathBuf, Arc<Findings>>);

impl Ears {
    fn listen<'a: 'b, 'b>(root: &Path, groups: impl Iterator<Item = (&'b Alike<'a>, &'b bool)>) -> Ears {
        let takes = groups.flat_map(|(group, _)| &group.takes);
        let files: Vec<&Path> = takes
            .flat_map(|take| std::iter::once(take.file).chain(take.right))
            .collect();
        let paths: Vec<PathBuf> = files.iter().map(|file| root.join(file)).collect();
        let found = find_all(&paths.iter().map(PathBuf::as_path).collect::<Vec<_>>());
        let found = files
            .iter()
            .zip(found)
            .filter_map(|(file, found)| Some((file.to_path_buf(), found.ok()?)));
        Ears(found.collect())
    }

    fn findings(&self, file: &Path) -> Option<&Findings> {
        self.0.get(file).map(Arc::as_ref)
    }

    fn fingerprint(&self, file: &Path) -> Option<&Fingerprint> {
        self.findings(file)?.fingerprint.as_ref()
    }

    /// The pitch of a file, where it is believed, as a MIDI key.
    fn key(&self, file: &Path) -> Option<f64> {
        let heard = self.findings(file)?.facts.heard?;
        (heard.confidence >= BELIEVED).then_some(heard.key)
    }

    /// The middle one of some figures of a group's files; none where none of them has it.
    fn middle(&self, takes: &[Take], figure: impl Fn(&Findings) -> Option<f64>) -> Option<f64> {
        let mut figures: Vec<f64> = takes
            .iter()
            .filter_map(|take| figure(self.findings(take.file)?))
            .collect();
        figures.sort_by(f64::total_cmp);
        figures.get(figures.len() / 2).copied()
    }
}
