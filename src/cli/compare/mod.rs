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
use super::render::tags;
use super::replace::Rule;
use super::{Done, output, telling};
use crate::base::audio::{Audio, gain_of_db};
use crate::export;
use crate::export::bars::Bars;
use crate::export::name::safe;
use crate::kit::audio::decode::decode;
use crate::kit::audio::resampling::resample;
use crate::measure::{
    Energies, Figures, Level, Sides, common, difference_db, figures_beside, octave_bands, true_peak_db,
};
use crate::project::Project;
use crate::project::side_by_side;
use crate::project::{Plays, changes};
use crate::render::{Order, Rendered};
use crate::render_cache::{Keep, Versions};
use crate::schema::Difference;
use crate::text::{Problem, Problems};
use crate::wav::Tags;
use asked::{Asked, Vary};
use report::Told;

/// The most versions of one comparison.
pub const MOST: usize = 64;
/// The most seconds of all versions together: they are held in memory side by side.
pub const LONGEST: f64 = 3600.0;

/// What the listening page is called.
const PAGE: &str = "index.html";

/// Render the loop and its mixes, or one setting at several values, at matched loudness, and tell what differs
///
/// Writes a WAV each, all of one length, and a listening page, index.html. Start with the volume low.
#[derive(Args)]
pub struct Compare {
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
    /// In place of renders/NAME-compare
    #[arg(short, long, value_name = "FOLDER")]
    output: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long, help_heading = "Report")]
    json: bool,
}

/// A version, or a recording beside them, with all that is told of it.
pub struct Compared {
    /// What it is called.
    pub name: String,
    /// The WAV that it is written to.
    pub file: PathBuf,
    /// Its figures before it was matched.
    pub figures: Figures,
    /// Its octaves, in dB, as it was rendered.
    pub octaves: [Option<f64>; 10],
    /// How wide it is.
    pub width_percent: Option<f64>,
    /// The dB by which it was moved.
    pub gain_db: f64,
    /// What is left between it and the loop as written, as they are written; none where nothing is.
    pub difference_db: Option<f64>,
    /// What sounds otherwise than in the loop as written.
    pub changed: Vec<String>,
    /// The keys that are set otherwise, each with its value before and after.
    pub settings: Vec<Difference>,
    /// True for a recording beside the versions.
    pub beside: bool,
    audio: Audio,
    /// What its loudness is reckoned from.
    energies: Option<Energies>,
    tags: Tags,
    /// Its own bars, where they lie elsewhere than the first one's.
    bars: Bars,
    repeats: bool,
}

impl Compare {
    /// Renders all, matches them, writes, tells.
    pub fn run(self) -> Done {
        let begun = Instant::now();
        let place = self.place();
        let asked = Asked::of(&self.options.project(self.audio.ending), &self.vary, &self.bypass)?;
        self.allow(&asked, &place)?;
        // Before any of them is made; what rings on behind them is counted once they are.
        let order = self.audio.order(&self.options);
        let once = Order { rounds: 1, ..order };
        // Bars that are not there are the render's to refuse.
        let there = |version: &&Asked| order.bars.is_none_or(|(_, last)| last <= version.project.bars());
        let seconds = |version: &Asked| {
            let round = version.project.barlines(&once).end as f64 / f64::from(order.rate);
            round * f64::from(order.rounds)
        };
        allow(asked.iter().filter(there).map(seconds).sum())?;
        let (mut compared, hints) = self.rendered(&asked, &place, &Keep::sparing(self.versions()))?;
        let project = &asked[0].project;
        for path in &self.beside {
            compared.push(self.beside(path, &place, compared.len() + 1)?);
        }
        even_out(&mut compared);
        let matched = (!self.no_match).then(|| level(&mut compared, project)).flatten();
        self.write(&mut compared, project.first().seed)?;
        let seconds = begun.elapsed().as_secs_f64();
        let begun = Instant::now();
        let source = self.options.file.file_name().unwrap_or_default().to_string_lossy();
        let page = page::write(&place.join(PAGE), (project, &*source), &compared, matched)?;
        let told = Told {
            project,
            place: &place,
            page: page.as_deref(),
            compared: &compared,
            matched,
            seconds,
            page_seconds: begun.elapsed().as_secs_f64(),
        };
        let said = output::to_stdout(&if self.json { told.json() } else { told.text() });
        telling::tell_hints_once(hints);
        Ok(said?)
    }

    fn versions(&self) -> Versions {
        if self.vary.len() + self.bypass.len() == 1 {
            Versions::OfOneThing
        } else {
            Versions::OfMany
        }
    }

    /// Renders all versions by way of one keep: the first by itself, so that the others find there what they share.
    fn rendered(&self, asked: &[Asked], place: &Path, keep: &Keep) -> Result<(Vec<Compared>, Vec<Problem>), Problems> {
        let order = self.audio.order(&self.options);
        let shown = Together::new(asked.len());
        let render = |number: usize| {
            let (project, keep) = (&asked[number].project, keep.queued(number));
            project.render_sharing(&order, Some(&keep), &|share| shown.show(number, share))
        };
        let first = render(0)?;
        allow(asked.len() as f64 * first.audio.seconds())?;
        let at_once = side_by_side::how_many(first.audio.bytes());
        let parts = first.parts.clone();
        let mut hints = asked[0].project.notices();
        hints.extend(first.oddities.clone());
        let mut compared = vec![self.compared((0, &asked[0]), place, first)];
        let others = side_by_side::make(asked.len() - 1, at_once, |number| {
            let (number, own) = (number + 1, &asked[number + 1]);
            let finished = render(number)?;
            let changed = changes::changed((&asked[0].project, &parts), (&own.project, &finished.parts));
            let hints = (own.project.notices(), finished.oddities.clone());
            let one = Compared {
                changed,
                settings: changes::settings(&asked[0].project, &own.project),
                ..self.compared((number, own), place, finished)
            };
            Ok::<_, Problems>((one, hints))
        });
        for other in others {
            let (one, (notices, oddities)) = other?;
            hints.extend(notices.into_iter().chain(oddities));
            compared.push(one);
        }
        allow(compared.iter().map(|one| one.audio.seconds()).sum())?;
        Ok((compared, hints))
    }

    /// Holds the versions against the first, and writes all.
    fn write(&self, compared: &mut [Compared], seed: u64) -> Result<(), Problem> {
        let coding = self.audio.depth.coding();
        let (first, others) = compared.split_at_mut(1);
        let write = |one: &Compared| export::wav::write(&one.file, &one.audio, coding, &one.tags, seed);
        let (of_first, of_others) = rayon::join(
            || write(&first[0]),
            || {
                others.par_iter_mut().try_for_each(|one| {
                    if !one.beside {
                        one.difference_db = difference_db(&one.audio, &first[0].audio);
                    }
                    write(&*one)
                })
            },
        );
        of_first.and(of_others)
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

    fn compared(&self, (number, asked): (usize, &Asked), place: &Path, finished: Rendered) -> Compared {
        let order = self.audio.order(&self.options);
        let tags = tags(&asked.project, order.bars, &finished);
        let sides = Sides::of(&finished.audio);
        Compared {
            figures: figures_beside(
                &finished.audio,
                &sides,
                finished.energies.as_ref(),
                finished.true_peak_db,
            ),
            octaves: octave_bands(&finished.audio),
            width_percent: sides.width_percent(),
            gain_db: 0.0,
            difference_db: None,
            changed: Vec::new(),
            settings: Vec::new(),
            beside: false,
            audio: finished.audio,
            energies: finished.energies,
            tags,
            bars: asked.project.barlines(&order),
            repeats: finished.repeats,
            name: asked.name.clone(),
            file: file(place, number + 1, &asked.name),
        }
    }

    /// A recording of the person's, brought to the render's rate.
    fn beside(&self, path: &Path, place: &Path, number: usize) -> Result<Compared, Problem> {
        let decoded = decode(path).map_err(|unread| unread.problem(path))?;
        let audio = resample(&decoded.audio, self.audio.rate);
        if audio.channels.len() > 2 {
            let what = format!("`{}` has {} channels", path.display(), audio.channels.len());
            return Err(Problem::new(what).help("put a mono or stereo recording beside the versions"));
        }
        if audio.frames() == 0 {
            return Err(Problem::new(format!("`{}` holds no sound", path.display())));
        }
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let (energies, sides) = (Energies::of(&audio), Sides::of(&audio));
        Ok(Compared {
            figures: figures_beside(&audio, &sides, energies.as_ref(), true_peak_db(&audio)),
            energies,
            octaves: octave_bands(&audio),
            width_percent: sides.width_percent(),
            file: file(place, number, &beside_name(path)),
            name,
            gain_db: 0.0,
            difference_db: None,
            changed: Vec::new(),
            settings: Vec::new(),
            beside: true,
            audio,
            tags: Tags::default(),
            bars: Bars::default(),
            repeats: false,
        })
    }
}

/// The WAV of a version of that number, counted from 1.
fn file(place: &Path, number: usize, name: &str) -> PathBuf {
    place.join(format!("{number:02}-{}.wav", safe(name).replace(' ', "-")))
}

/// What a recording beside the versions is called among their files.
fn beside_name(path: &Path) -> String {
    format!("beside {}", path.file_stem().unwrap_or_default().to_string_lossy())
}

/// Makes sure that the versions can be held, seconds long together.
fn allow(seconds: f64) -> Result<(), Problem> {
    if seconds <= LONGEST {
        return Ok(());
    }
    let what = format!("the versions would be more than {:.0} minutes together", LONGEST / 60.0);
    Err(Problem::new(what).help("compare fewer of them, or fewer bars with --bars"))
}

/// Makes all versions equally long, with silence behind those that are shorter; such a one no longer goes round. A
/// recording beside them keeps its length.
fn even_out(compared: &mut [Compared]) {
    let versions = compared.iter().filter(|one| !one.beside);
    let longest = versions.map(|one| one.audio.frames()).max().unwrap_or(0);
    for one in compared
        .iter_mut()
        .filter(|one| !one.beside && one.audio.frames() < longest)
    {
        one.audio.channels.iter_mut().for_each(|side| side.resize(longest, 0.0));
        one.energies = Energies::of(&one.audio);
        one.tags.round = None;
    }
}

/// Brings all to the loudness that all can have under the ceiling, which it gives; what has none stays.
fn level(compared: &mut [Compared], project: &Project) -> Option<f64> {
    let own = |one: &Compared| {
        Some(Level {
            lufs: one.figures.lufs?,
            true_peak_db: one.figures.true_peak_db?,
        })
    };
    let levels: Vec<Level> = compared.iter().filter_map(own).collect();
    let ceiling = match project.plays() {
        Plays::Loop(song, _) => song.master.ceiling_db,
        Plays::Form(form, _) => form.master.ceiling_db,
    };
    let target = common(&levels, ceiling.unwrap_or(0.0))?;
    compared.par_iter_mut().for_each(|one| {
        let own = one.energies.as_ref().and_then(|energies| energies.gain_to(target));
        one.gain_db = own.unwrap_or(0.0);
        let gain = gain_of_db(one.gain_db) as f32;
        let samples = one.audio.channels.iter_mut().flatten();
        samples.for_each(|sample| *sample *= gain);
    });
    Some(target)
}
