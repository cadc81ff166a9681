//! `pressroll compare`.

mod asked;
mod page;
mod report;
#[cfg(test)]
mod tests;

use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::Args;
use rayon::prelude::*;

use super::options::{AudioOptions, LoopOptions, OutputOptions};
use super::progress::Together;
use super::replace::Rule;
use super::{Done, messages, output};
use crate::base::audio::Audio;
use crate::export;
use crate::export::bars::Bars;
use crate::export::name::safe;
use crate::kit::audio::decode::decode;
use crate::kit::audio::resampling::resample;
use crate::project::compare::{Compared, Comparing};
use crate::render_cache::{RenderCache, Versions};
use crate::text::Problem;
use crate::wav::Tags;
use asked::{Asked, Vary};
use report::ComparisonReport;

/// The most versions of one comparison.
pub(super) const MOST: usize = 64;

/// What the listening page is called.
const PAGE: &str = "index.html";

/// Render the loop and its mixes, or one setting at several values, at matched loudness, and tell what differs
///
/// Writes a WAV each, all of one length, and a listening page, index.html. Start with the volume low.
#[derive(Args)]
pub(super) struct Compare {
    #[command(flatten)]
    options: LoopOptions,
    #[command(flatten)]
    audio: AudioOptions,
    #[command(flatten)]
    written: OutputOptions,
    /// A version a value; more than once: combinations
    #[arg(long, help_heading = "The versions", value_name = "KEY=A,B,C", value_parser = asked::vary)]
    vary: Vec<Vary>,
    /// A part, bus or `master` without its effects
    #[arg(long, help_heading = "The versions", value_name = "NAME")]
    bypass: Vec<String>,
    /// Add a recording of yours
    #[arg(long, help_heading = "The versions", value_name = "FILE")]
    beside: Vec<PathBuf>,
    /// Leave levels as they are rendered
    #[arg(long, help_heading = "The versions")]
    no_match: bool,
    /// The page shows no name until a blind test has ended
    #[arg(long, help_heading = "Output")]
    blind: bool,
    /// In place of renders/NAME-compare
    #[arg(short, long, value_name = "FOLDER")]
    output: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// A version, or a recording beside them, with where it goes.
pub(super) struct Version {
    /// What it is called.
    pub name: String,
    /// The WAV that it is written to.
    pub file: PathBuf,
    /// Its bars; none for a recording.
    pub bars: Bars,
    /// What its WAV says of itself.
    tags: Tags,
    /// What came of it.
    pub compared: Compared,
}

impl Compare {
    /// Renders all, matches them, writes, tells.
    pub(super) fn run(self) -> Done {
        let begun = Instant::now();
        let place = self.place();
        let asked = Asked::of(&self.options.project(self.audio.ending), &self.vary, &self.bypass)?;
        self.allow(&asked, &place)?;
        let order = self.audio.order(&self.options);
        let recordings = self.beside.iter().map(|path| recording(path, self.audio.rate));
        let shown = Together::new(asked.len());
        let comparison = Comparing {
            versions: asked.iter().map(|one| &one.project).collect(),
            recordings: recordings.collect::<Result<_, _>>()?,
            matched: !self.no_match,
            cache: &RenderCache::sparing(self.versions()),
            progress: &|number, share| shown.show(number, share),
        }
        .run(&order)?;
        drop(shown);
        let matched = comparison.matched_lufs;
        let numbered = (0..).zip(comparison.versions);
        let compared: Vec<Version> = numbered
            .map(|(number, one)| self.version(number, &asked, &place, one))
            .collect();
        let project = &asked[0].project;
        let (coding, seed) = (self.audio.depth.coding(), project.first().seed);
        let write = |one: &Version| export::wav::write(&one.file, &one.compared.audio, coding, &one.tags, seed);
        compared.par_iter().try_for_each(write)?;
        let seconds = begun.elapsed().as_secs_f64();
        let begun = Instant::now();
        let source = self.options.file.file_name().unwrap_or_default().to_string_lossy();
        let page = page::write(&place.join(PAGE), (project, &*source), &compared, (matched, self.blind))?;
        let told = ComparisonReport {
            project,
            place: &place,
            page: page.as_deref(),
            compared: &compared,
            matched,
            seconds,
            page_seconds: begun.elapsed().as_secs_f64(),
        };
        let said = output::to_stdout(&if self.json { told.json() } else { told.text() });
        messages::report_hints_once(comparison.hints);
        Ok(said?)
    }

    fn versions(&self) -> Versions {
        if self.vary.len() + self.bypass.len() == 1 {
            Versions::OfOneThing
        } else {
            Versions::OfMany
        }
    }

    fn place(&self) -> PathBuf {
        let stem = self.options.file.file_stem().unwrap_or_default().to_string_lossy();
        let own = || Path::new("renders").join(format!("{stem}-compare"));
        self.output.clone().unwrap_or_else(own)
    }

    /// Makes sure, before anything is made, that all of it may be written.
    fn allow(&self, asked: &[Asked], place: &Path) -> Result<(), Problem> {
        let rule = Rule::new(self.written.force, "folder with -o").keep_files(self.beside.iter().cloned());
        let rule = asked.iter().fold(rule, |rule, one| rule.keep(&one.project));
        let names = asked.iter().map(|one| one.name.clone());
        let names = names.chain(self.beside.iter().map(|path| beside_name(path)));
        let files = (1..).zip(names).map(|(number, name)| file(place, number, &name));
        rule.allow(files.chain([place.join(PAGE)]))?;
        rule.allow_folder(place)
    }

    /// One of what was asked for or, behind them, a recording.
    fn version(&self, number: usize, asked: &[Asked], place: &Path, compared: Compared) -> Version {
        let order = self.audio.order(&self.options);
        let (name, beside, tags, bars) = match asked.get(number) {
            Some(Asked { name, project }) => {
                let round = compared.repeats.then_some(compared.audio.frames());
                let tags = project.tags(order.bars, round);
                (name.clone(), name.clone(), tags, project.barlines(&order))
            }
            None => {
                let path = &self.beside[number - asked.len()];
                let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
                (name, beside_name(path), Tags::default(), Bars::default())
            }
        };
        Version {
            file: file(place, number + 1, &beside),
            name,
            bars,
            tags,
            compared,
        }
    }
}

/// A recording of the person's, brought to a rate.
fn recording(path: &Path, rate: u32) -> Result<Audio, Problem> {
    let decoded = decode(path).map_err(|unread| unread.problem(path))?;
    let audio = resample(&decoded.audio, rate);
    if audio.channels.len() > 2 {
        let what = format!("`{}` has {} channels", path.display(), audio.channels.len());
        return Err(Problem::new(what).help("put a mono or stereo recording beside the versions"));
    }
    if audio.frames() == 0 {
        return Err(Problem::new(format!("`{}` holds no sound", path.display())));
    }
    Ok(audio)
}

/// The WAV of a version of that number, counted from 1.
fn file(place: &Path, number: usize, name: &str) -> PathBuf {
    place.join(format!("{number:02}-{}.wav", safe(name).replace(' ', "-")))
}

/// What a recording beside the versions is called among their files.
fn beside_name(path: &Path) -> String {
    format!("beside {}", path.file_stem().unwrap_or_default().to_string_lossy())
}
