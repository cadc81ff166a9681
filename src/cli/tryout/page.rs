//! The listening page of a tryout.

use std::borrow::Cow;
use std::path::Path;

use super::report::Tried;
use crate::base::audio::Audio;
use crate::cli::report::{Octaves, octaves_of};
use crate::export::bars::Bars;
use crate::export::page::{self, Entry, LONGEST, MOST, Page};
use crate::export::picture::{self, Versions};
use crate::measure::octave_bands;
use crate::project::Project;
use crate::render::Order;
use crate::text::{Problem, Problems};

/// Writes the page: what was tried, in order; `blind` as [`Page`] has it. False where it is more than a page takes.
///
/// # Errors
/// As [`page::write`]; a render that was put aside and is gone.
pub(crate) fn write(
    path: &Path,
    (project, source, order): (&Project, &Path, &Order),
    tried: &[Tried],
    (matched, blind): (Option<f64>, bool),
) -> Result<bool, Problems> {
    let longest = tried.iter().map(|one| one.audio.frames()).max().unwrap_or(0);
    let seconds = (longest * tried.len()) as f64 / f64::from(order.rate);
    if tried.len() > MOST || seconds > LONGEST {
        return Ok(false);
    }
    let sounds = tried.iter().map(|one| one.audio.take_up());
    let sounds = sounds.collect::<Result<Vec<Cow<Audio>>, Problem>>()?;
    let octaves: Vec<Octaves> = tried
        .iter()
        .zip(&sounds)
        .map(|(one, audio)| octaves(one, audio))
        .collect();
    let entry = |number: usize, (one, audio): (&Tried, _)| Entry {
        setting: one.reference.then(|| "the kit’s own sound".to_string()),
        moved_db: matched.map(|_| one.gain_db),
        figures: figures(one),
        octaves: octaves_of(&octaves[number], (number > 0).then_some(&octaves[0])),
        ..Entry::new(one.name.clone(), audio)
    };
    let bars = project.barlines(order);
    let source = source.file_name().unwrap_or_default();
    let page = Page {
        title: project.title().to_string(),
        source: source.to_string_lossy().into_owned(),
        about: project.about(),
        picture: picture(&project.title(), &bars, tried, &sounds),
        bars,
        repeats: tried.iter().all(|one| one.repeats),
        matched_lufs: matched,
        blind,
        entries: tried
            .iter()
            .zip(&sounds)
            .enumerate()
            .map(|(number, (one, audio))| entry(number, (one, &**audio)))
            .collect(),
        seed: project.first().seed,
    };
    page::write(path, &page)?;
    Ok(true)
}

/// The waveforms one under another, each with what sets it apart from the first; none where there are too many.
fn picture(title: &str, bars: &Bars, tried: &[Tried], sounds: &[Cow<Audio>]) -> Option<String> {
    let version = |(one, audio): (&Tried, _)| picture::Version {
        name: one.name.clone(),
        audio,
    };
    let drawn = Versions {
        title: title.to_string(),
        about: Vec::new(),
        bars: bars.clone(),
        versions: tried
            .iter()
            .zip(sounds)
            .map(|(one, audio)| version((one, &**audio)))
            .collect(),
    };
    drawn.for_page()
}

/// The octaves and the loudness of one before its level was matched.
fn octaves(one: &Tried, audio: &Audio) -> Octaves {
    let before = octave_bands(audio).map(|octave| octave.map(|db| db - one.gain_db));
    (before, one.lufs)
}

/// The figures of one, as they are to be read.
fn figures(one: &Tried) -> Vec<(String, String)> {
    let told = |name: &str, figure: Option<f64>, digits: usize, unit: &str| {
        figure.map(|figure| (name.to_string(), format!("{figure:.digits$} {unit}")))
    };
    let figures = [
        told("brightness", one.brightness_hz, 0, "Hz"),
        told("length", one.length_ms, 0, "ms"),
        told("level", one.level_db, 1, "dB"),
    ];
    figures.into_iter().flatten().collect()
}
