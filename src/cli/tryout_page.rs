//! The listening page of a tryout.

use std::path::Path;

use super::session::Work;
use super::tried::Tried;
use crate::audio::Audio;
use crate::export::bars::Bars;
use crate::export::page::{self, Entry, LONGEST, MOST, Page};
use crate::render::Order;
use crate::text::{Problem, Problems};

/// Writes the page: what was tried, in order, as `levelled` gives each by its number. False where it is more than a page takes.
///
/// # Errors
/// As [`page::write`]; whatever `levelled` finds wrong.
pub fn write(
    path: &Path,
    (work, source, order): (&Work, &Path, &Order),
    tried: &[Tried],
    matched: Option<f64>,
    levelled: impl Fn(usize) -> Result<Audio, Problem>,
) -> Result<bool, Problems> {
    let longest = tried.iter().map(|one| one.audio.frames()).max().unwrap_or(0);
    let seconds = (longest * tried.len()) as f64 / f64::from(order.rate);
    if tried.len() > MOST || seconds > LONGEST {
        return Ok(false);
    }
    let sounds = (0..tried.len()).map(|number| {
        let mut audio = levelled(number)?;
        // What rings out sooner goes on with silence.
        audio.channels.iter_mut().for_each(|side| side.resize(longest, 0.0));
        Ok(audio)
    });
    let sounds = sounds.collect::<Result<Vec<Audio>, Problem>>()?;
    let entry = |(one, audio): (&Tried, _)| Entry {
        moved_db: matched.map(|_| one.gain_db),
        figures: figures(one),
        ..Entry::new(one.name.clone(), audio)
    };
    let song = work.first();
    let mut about = vec![
        format!("{} beats a minute", song.time.tempo),
        format!("{}/{}", song.time.counts, song.time.unit),
    ];
    about.extend(song.key.clone());
    let source = source.file_name().unwrap_or_default();
    let page = Page {
        title: work.title().to_string(),
        source: source.to_string_lossy().into_owned(),
        about,
        bars: match work {
            Work::Loop(song, _) => Bars::of_loop(song, order.bars, order.rounds, order.rate),
            Work::Form(form, _) => Bars::of_form(form, order.bars, order.rounds, order.rate),
        },
        repeats: tried.iter().all(|one| one.repeats),
        matched_lufs: matched,
        picture: None,
        entries: tried
            .iter()
            .zip(&sounds)
            .map(|(one, audio)| entry((one, audio)))
            .collect(),
        seed: song.seed,
    };
    page::write(path, &page)?;
    Ok(true)
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
