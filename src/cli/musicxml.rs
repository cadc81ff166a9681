//! A loop or a form as MusicXML, for `chart` and `render`.

use std::path::{Path, PathBuf};

use super::options::OutputOptions;
use super::replace::Rule;
use super::{Done, messages, output};
use crate::export::musicxml;
use crate::notation::Asked;
use crate::project::Project;
use crate::text::Problem;

/// Writes it for `chart`: to `NAME.musicxml` beside the loop file, to another file, or to the terminal for `-`.
pub(super) fn write(project: &Project, bars: Option<(u32, u32)>, file: Option<&Path>, written: &OutputOptions) -> Done {
    let sheet = project.sheet(Asked {
        bars,
        ..Asked::default()
    });
    messages::report_hints_once(project.notices());
    if file == Some(Path::new("-")) {
        let text = musicxml::text(&sheet);
        return Ok(output::to_stdout(String::from_utf8_lossy(&text).trim_end())?);
    }
    let beside = project.opened_by().path().with_extension("musicxml");
    let path = file.unwrap_or(&beside);
    Rule::new(written.force, "file with -o").keep(project).allow([path])?;
    musicxml::write(path, &sheet)?;
    Ok(output::to_stdout(&path.display().to_string())?)
}

/// Where a render's MusicXML goes: `NAME.musicxml` beside it.
pub(super) fn beside(mix: &Path) -> Result<PathBuf, Problem> {
    let path = mix.with_extension("musicxml");
    if path == mix {
        let what = format!("{} would be both the mix and its MusicXML", path.display());
        return Err(Problem::new(what).help("name the mix NAME.wav"));
    }
    Ok(path)
}
