//! The versions of a file that are rendered, and what each is called.

use std::path::{Path, PathBuf};

pub(super) use crate::export::name::Template;
use crate::export::name::{PLACEHOLDERS, safe};
use crate::project::{Options, Project};
use crate::text::{Problem, Problems};

/// A version: the file as it is written, or as one of its mixes changes it.
pub(super) struct Version {
    /// The mix; none for the file as it is written or as `--mix` says.
    pub mix: Option<String>,
    /// What it plays.
    pub project: Project,
    /// The WAV to write.
    pub path: PathBuf,
}

impl Version {
    /// Opens the file and, with `mixes`, each of its mixes. `place` is where the first goes; a template names them all
    /// instead.
    ///
    /// # Errors
    /// What is wrong with the file; two versions of one name.
    pub(super) fn open(
        options: Options,
        bars: Option<(u32, u32)>,
        mixes: bool,
        place: &Path,
        template: Option<&Template>,
    ) -> Result<Vec<Version>, Problems> {
        let first = options.clone().open()?;
        let names = if mixes { first.mixes() } else { Vec::new() };
        if mixes && names.is_empty() {
            let what = format!("{} has no mixes", options.path().display());
            return Err(Problem::new(what)
                .help("write a [[mix]] with a `name` and what it changes by `set`")
                .into());
        }
        let mut projects = vec![(None, first)];
        for name in names {
            projects.push((Some(name.clone()), options.clone().mix(name).open()?));
        }
        let mut versions: Vec<Version> = Vec::new();
        for (mix, project) in projects {
            let path = match (template, &mix) {
                (Some(template), _) => place.with_file_name(filled(template, &project, bars)),
                (None, Some(mix)) => of_mix(place, mix),
                (None, None) => place.to_path_buf(),
            };
            if let Some(other) = versions.iter().find(|other| alike(&other.path, &path)) {
                return Err(same_name(other, mix.as_deref(), &path).into());
            }
            versions.push(Version { mix, project, path });
        }
        Ok(versions)
    }
}

/// Reads a template from the command line.
pub(super) fn template(text: &str) -> Result<Template, String> {
    Template::read(text, PLACEHOLDERS).map_err(|problem| problem.to_string())
}

fn filled(template: &Template, project: &Project, bars: Option<(u32, u32)>) -> String {
    let first = project.played(bars)[0];
    let time = &first.time;
    let value = |name: &str| match name {
        "title" => project.title().to_string(),
        "tempo" => time.tempo.to_string(),
        "key" => first.key.clone().unwrap_or_default(),
        "metre" => format!("{}/{}", time.counts, time.unit),
        "bars" => bars
            .map_or(project.bars(), |(first, last)| last - first + 1)
            .to_string(),
        _ => project.opened_by().chosen_mix().unwrap_or_default().to_string(),
    };
    format!("{}.wav", template.fill(value))
}

/// `NAME-MIX.wav` beside `NAME.wav`, with hyphens for spaces.
fn of_mix(place: &Path, mix: &str) -> PathBuf {
    let stem = place.file_stem().unwrap_or_default().to_string_lossy();
    let mut name = format!("{stem}-{}", safe(mix).replace(' ', "-"));
    if let Some(ending) = place.extension() {
        name.push('.');
        name.push_str(&ending.to_string_lossy());
    }
    place.with_file_name(name)
}

/// Some file systems do not tell small letters from capitals.
fn alike(one: &Path, other: &Path) -> bool {
    one.to_string_lossy().to_lowercase() == other.to_string_lossy().to_lowercase()
}

fn same_name(other: &Version, mix: Option<&str>, path: &Path) -> Problem {
    let called = |mix: Option<&str>| mix.map_or("the loop as it is written".to_string(), |mix| format!("\"{mix}\""));
    let what = format!(
        "{} and {} would both be written to {}",
        called(other.mix.as_deref()),
        called(mix),
        path.display()
    );
    Problem::new(what).help("put {mix} into the template, or give the mixes names that differ in more than signs")
}
