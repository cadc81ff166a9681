//! The listening page of a comparison.

use std::path::{Path, PathBuf};

use super::{Version, report};
use crate::export::page::{self, Entry, Page};
use crate::export::picture::{self, Versions};
use crate::loopfile::Ending;
use crate::project::Project;
use crate::text::Problems;

/// Letters of a value before and after a change.
const VALUE: usize = 60;
/// Letters of a name that a picture has room for.
const DRAWN: usize = 24;

/// Writes it: `source` is the loop file's name; `blind` as [`Page`] has it. None where there are more versions, or more of them, than it takes.
///
/// # Errors
/// As [`page::write`].
pub(super) fn write(
    path: &Path,
    (project, source): (&Project, &str),
    compared: &[Version],
    (matched, blind): (Option<f64>, bool),
) -> Result<Option<PathBuf>, Problems> {
    let seconds: f64 = compared.iter().map(|one| one.compared.audio.seconds()).sum();
    if compared.len() > page::MOST || seconds > page::LONGEST {
        return Ok(None);
    }
    let first = &compared[0];
    let page = Page {
        title: project.title().to_string(),
        source: source.to_string(),
        about: project.about(),
        bars: first.bars.clone(),
        repeats: project.ending() == Ending::Repeat,
        matched_lufs: matched,
        picture: picture(&project.title(), compared),
        blind,
        entries: compared.iter().map(|one| entry(one, first, matched)).collect(),
        seed: project.first().seed,
    };
    page::write(path, &page)?;
    Ok(Some(path.to_path_buf()))
}

/// The versions' waveforms one under another, each with what sets it apart from the first; none where there are more of
/// them than can be taken in at a look, or where they are not in step.
fn picture(title: &str, compared: &[Version]) -> Option<String> {
    let versions: Vec<&Version> = compared.iter().filter(|one| !one.compared.beside).collect();
    let bars = &versions[0].bars;
    if versions.iter().any(|one| one.bars != *bars) {
        return None;
    }
    let drawn = Versions {
        title: title.to_string(),
        about: Vec::new(),
        bars: bars.clone(),
        versions: versions
            .iter()
            .map(|one| picture::Version {
                name: report::brief(&one.name, DRAWN),
                audio: &one.compared.audio,
            })
            .collect(),
    };
    drawn.for_page()
}

/// A version as the listening page shows it.
fn entry<'a>(one: &'a Version, first: &Version, matched: Option<f64>) -> Entry<'a> {
    Entry {
        moved_db: matched.map(|_| one.compared.gain_db),
        figures: report::figures_of(one),
        octaves: report::octaves_of(one, first),
        bars: (!one.compared.beside && one.bars != first.bars).then(|| one.bars.clone()),
        setting: setting(one),
        beside: one.compared.beside,
        ..Entry::new(one.name.clone(), &one.compared.audio)
    }
}

/// What is set otherwise in a version, and what sounds otherwise for it; none where nothing is.
fn setting(one: &Version) -> Option<String> {
    let mut words: Vec<String> = one
        .compared
        .settings
        .iter()
        .map(|setting| report::set_otherwise(setting, VALUE))
        .collect();
    if !one.compared.changed.is_empty() {
        words.push(format!("changes {}", one.compared.changed.join(", ")));
    }
    (!words.is_empty()).then(|| words.join("; "))
}
