//! The newest render on the page that is served.

use std::path::Path;

use crate::export::page::{self, Entry, Page};
use crate::files;
use crate::project::Project;
use crate::render::{Order, Rendered};
use crate::text::{Problem, Problems};
use crate::watch::server::{Server, Shown};

/// Puts a render on the page: what was written to `path`, as it is there.
///
/// # Errors
/// As [`page::served`]; a file that can't be read again.
pub(super) fn show(
    server: &Server,
    number: u64,
    project: &Project,
    order: &Order,
    path: &Path,
    finished: &Rendered,
) -> Result<(), Problems> {
    let figure = |name: &str, figure: Option<f64>, unit: &str| {
        figure.map(|figure| (name.to_string(), format!("{figure:.1} {unit}")))
    };
    let loudness = figure("loudness", finished.lufs, "LUFS");
    let peak = figure("true peak", finished.true_peak_db, "dBTP");
    let source = project.opened_by().path().file_name().unwrap_or_default();
    let page = Page {
        title: project.title().to_string(),
        source: source.to_string_lossy().into_owned(),
        about: project.about(),
        bars: project.barlines(order),
        repeats: finished.repeats,
        matched_lufs: None,
        picture: None,
        blind: false,
        entries: vec![Entry {
            lufs: finished.lufs,
            figures: loudness.into_iter().chain(peak).collect(),
            ..Entry::new(
                project.opened_by().chosen_mix().unwrap_or("as written"),
                &finished.audio,
            )
        }],
        seed: project.first().seed,
    };
    let page = page::served(&page, (number, server.token()), "the WAV as it was written")?;
    let unread = |refused: files::Refused| Problem::new(format!("{} {refused}", path.display()));
    let sound = files::read(path, u32::MAX.into()).map_err(unread)?;
    server.show(Shown { number, page, sound });
    Ok(())
}
