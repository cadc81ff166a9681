//! `pressroll compare`.

mod asked;
mod bypass;
mod changed;
mod told;

use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::Args;
use rayon::prelude::*;

use super::options::{AudioOptions, LoopOptions};
use super::render::tags;
use super::session::Work;
use super::{Done, telling};
use crate::audio::Audio;
use crate::export;
use crate::export::bars::Bars;
use crate::export::name::safe;
use crate::export::page::{self, Entry, Page};
use crate::export::picture::{self, Versions};
use crate::keep::Keep;
use crate::kit::{decode, resample};
use crate::measure::{
    Figures, Level, bring_to, common, difference_db, figures, figures_beside, octave_bands, width_percent,
};
use crate::render::{Order, PartReport, Rendered};
use crate::text::{Problem, Problems};
use crate::wav::Tags;
use asked::{Asked, Vary};
use told::Told;

/// The most versions of one comparison.
pub const MOST: usize = 64;
/// The most seconds of all versions together: they are held in memory side by side.
pub const LONGEST: f64 = 3600.0;
/// The most versions of which a picture is drawn.
const MOST_DRAWN: usize = 16;

/// Render the loop and its mixes, or one setting at several values, at matched loudness, and tell what differs
///
/// Writes a WAV each, all of one length, and a listening page, index.html. Start with the volume low.
#[derive(Args)]
pub struct Compare {
    #[command(flatten)]
    options: LoopOptions,
    #[command(flatten)]
    audio: AudioOptions,
    /// Set a key to each of some values, as in drums.compress.ratio=2,4,8; given more than once, to all combinations
    #[arg(long, value_name = "KEY=A,B,C", value_parser = asked::vary)]
    vary: Vec<Vary>,
    /// A part, a bus or `master` with its effects off: cuts, eq, compress, drive, duck, spread, width, a bus's ceiling
    #[arg(long, value_name = "NAME")]
    bypass: Vec<String>,
    /// Put a recording of yours beside the versions
    #[arg(long, value_name = "FILE")]
    beside: Vec<PathBuf>,
    /// Leave levels as they are rendered
    #[arg(long)]
    no_match: bool,
    /// The folder to write to; renders/NAME-compare where none is named
    #[arg(short, long, value_name = "FOLDER")]
    output: Option<PathBuf>,
    /// Print one JSON object on standard output and nothing else
    #[arg(long)]
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
    /// True for a recording beside the versions.
    pub beside: bool,
    audio: Audio,
    tags: Tags,
    /// Its own bars, where they lie elsewhere than the first one's.
    bars: Bars,
    repeats: bool,
}

impl Compare {
    /// Renders all, matches them, writes, tells.
    pub fn run(self) -> Done {
        let begun = Instant::now();
        let place = self.place()?;
        let asked = Asked::of(&self.options, &self.vary, &self.bypass, self.audio.ending)?;
        // Before any of them is made; what rings on behind them is counted once they are.
        let order = self.audio.order(&self.options);
        let once = Order { rounds: 1, ..order };
        // Bars that are not there are the render's to refuse.
        let there = |work: &Work| order.bars.is_none_or(|(_, last)| last <= work.bars());
        let of_one = asked.iter().filter(|version| there(&version.work)).map(|version| {
            let round = version.work.barlines(&once).end as f64 / f64::from(order.rate);
            round * f64::from(order.rounds)
        });
        within_length(of_one)?;
        let keep = Keep::default();
        let (mut compared, mut hints) = (Vec::new(), Vec::new());
        let mut first: Option<(Work, Vec<PartReport>)> = None;
        for (number, version) in asked.into_iter().enumerate() {
            let finished = version
                .work
                .render_sharing(&self.audio.order(&self.options), Some(&keep))?;
            hints.extend(version.work.notices());
            hints.extend(finished.oddities.clone());
            let changed = match &first {
                Some((work, parts)) => changed::changed((work, parts), (&version.work, &finished.parts)),
                None => Vec::new(),
            };
            let file = place.join(format!(
                "{:02}-{}.wav",
                number + 1,
                safe(&version.name).replace(' ', "-")
            ));
            let parts = finished.parts.clone();
            compared.push(self.compared(version.name, file, &version.work, finished, changed));
            first.get_or_insert((version.work, parts));
            within_length(compared.iter().map(|one| one.audio.seconds()))?;
        }
        let (work, _) = first.expect("the loop as written is a version");
        for path in &self.beside {
            compared.push(self.beside(path, &place, compared.len() + 1)?);
        }
        even_out(&mut compared);
        let matched = if self.no_match {
            None
        } else {
            level(&mut compared, &work)
        };
        let (written, others) = compared.split_at_mut(1);
        for other in others.iter_mut().filter(|other| !other.beside) {
            other.difference_db = difference_db(&other.audio, &written[0].audio);
        }
        self.spare_inputs(&work, &compared)?;
        let (coding, seed) = (self.audio.depth.coding(), work.first().seed);
        compared
            .par_iter()
            .try_for_each(|one| export::wav::write(&one.file, &one.audio, coding, &one.tags, seed))?;
        let page = self.write_page(&place.join("index.html"), &work, &compared, matched)?;
        let told = Told {
            work: &work,
            place: &place,
            page: page.as_deref(),
            compared: &compared,
            matched,
            seconds: begun.elapsed().as_secs_f64(),
        };
        telling::say(&if self.json { told.json() } else { told.text() });
        telling::tell_hints_once(hints);
        Ok(())
    }

    fn place(&self) -> Result<PathBuf, Problem> {
        let stem = self.options.file.file_stem().unwrap_or_default().to_string_lossy();
        let own = || Path::new("renders").join(format!("{stem}-compare"));
        let place = self.output.clone().unwrap_or_else(own);
        match place.is_file() {
            true => Err(Problem::new(format!("{} is a file", place.display())).help("name a folder with -o")),
            false => Ok(place),
        }
    }

    fn compared(&self, name: String, file: PathBuf, work: &Work, finished: Rendered, changed: Vec<String>) -> Compared {
        let order = self.audio.order(&self.options);
        let bars = match work {
            Work::Loop(song, _) => Bars::of_loop(song, order.bars, order.rounds, order.rate),
            Work::Form(form, _) => Bars::of_form(form, order.bars, order.rounds, order.rate),
        };
        let tags = tags(work, order.bars, &finished);
        let (figures, octaves) = rayon::join(
            || figures_beside(&finished.audio, finished.lufs, finished.true_peak_db),
            || octave_bands(&finished.audio),
        );
        Compared {
            figures,
            octaves,
            width_percent: width_percent(&finished.audio),
            gain_db: 0.0,
            difference_db: None,
            changed,
            beside: false,
            audio: finished.audio,
            tags,
            bars,
            repeats: finished.repeats,
            name,
            file,
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
        let shown = safe(&format!("beside {name}")).replace(' ', "-");
        Ok(Compared {
            figures: figures(&audio),
            octaves: octave_bands(&audio),
            width_percent: width_percent(&audio),
            file: place.join(format!("{number:02}-{shown}.wav")),
            name,
            gain_db: 0.0,
            difference_db: None,
            changed: Vec::new(),
            beside: true,
            audio,
            tags: Tags::default(),
            bars: Bars::default(),
            repeats: false,
        })
    }

    /// Makes sure that nothing is written over what is read.
    fn spare_inputs(&self, work: &Work, compared: &[Compared]) -> Result<(), Problem> {
        let mut inputs = work.performances();
        inputs.push(self.options.file.clone());
        inputs.extend(self.beside.iter().cloned());
        for (song, kit) in work.loops() {
            // The kit's folder may hold this one: what lies in it is played only where a part asks for it.
            let pieces = song.parts.iter().flat_map(|part| &part.pieces);
            let played = pieces.filter_map(|piece| kit.index().find(&piece.piece));
            let layers = played.flat_map(|piece| &kit.index().pieces[piece].layers);
            let takes = layers.flat_map(|layer| layer.takes.iter().chain(&layer.zones));
            inputs.extend(takes.map(|take| kit.file(*take).to_path_buf()));
        }
        let inputs: Vec<PathBuf> = inputs.iter().filter_map(|path| path.canonicalize().ok()).collect();
        for one in compared {
            if one.file.canonicalize().is_ok_and(|path| inputs.contains(&path)) {
                let what = format!("{} would be overwritten, which is played here", one.file.display());
                return Err(Problem::new(what).help("name another folder with -o"));
            }
        }
        Ok(())
    }

    /// Writes the listening page; none where there are more versions, or more of them, than it takes.
    fn write_page(
        &self,
        path: &Path,
        work: &Work,
        compared: &[Compared],
        matched: Option<f64>,
    ) -> Result<Option<PathBuf>, Problems> {
        let seconds: f64 = compared.iter().map(|one| one.audio.seconds()).sum();
        if compared.len() > page::MOST || seconds > page::LONGEST {
            return Ok(None);
        }
        let first = &compared[0];
        let song = work.first();
        let mut about = vec![
            format!("{} beats a minute", song.time.tempo),
            format!("{}/{}", song.time.counts, song.time.unit),
        ];
        about.extend(song.key.clone());
        let source = self.options.file.file_name().unwrap_or_default();
        let title = work.title().to_string();
        let page = Page {
            title: title.clone(),
            source: source.to_string_lossy().into_owned(),
            about,
            bars: first.bars.clone(),
            repeats: first.repeats,
            matched_lufs: matched,
            picture: picture(&title, compared),
            entries: compared.iter().map(|one| entry(one, first, matched)).collect(),
            seed: song.seed,
        };
        page::write(path, &page)?;
        Ok(Some(path.to_path_buf()))
    }
}

/// The versions' waveforms one under another, each with what sets it apart from the first; none where there are more of them than can be
/// taken in at a look, or where they are not in step.
fn picture(title: &str, compared: &[Compared]) -> Option<String> {
    let versions: Vec<&Compared> = compared.iter().filter(|one| !one.beside).collect();
    let bars = &versions[0].bars;
    if !(2..=MOST_DRAWN).contains(&versions.len()) || versions.iter().any(|one| one.bars != *bars) {
        return None;
    }
    let drawn = Versions {
        title: title.to_string(),
        about: Vec::new(),
        bars: bars.clone(),
        versions: versions
            .iter()
            .map(|one| picture::Version {
                name: one.name.clone(),
                audio: &one.audio,
            })
            .collect(),
    };
    Some(drawn.picture().for_page())
}

/// A version as the listening page shows it.
fn entry<'a>(one: &'a Compared, first: &Compared, matched: Option<f64>) -> Entry<'a> {
    Entry {
        moved_db: matched.map(|_| one.gain_db),
        figures: told::figures_of(one),
        bars: (!one.beside && one.bars != first.bars).then(|| one.bars.clone()),
        setting: (!one.changed.is_empty()).then(|| format!("changes {}", one.changed.join(", "))),
        beside: one.beside,
        ..Entry::new(one.name.clone(), &one.audio)
    }
}

/// Refuses versions whose seconds come to too many.
fn within_length(seconds: impl Iterator<Item = f64>) -> Result<(), Problem> {
    if seconds.sum::<f64>() <= LONGEST {
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
        one.tags.round = None;
    }
}

/// Brings all to the loudness that all can have under the ceiling, which it gives; what has none stays.
fn level(compared: &mut [Compared], work: &Work) -> Option<f64> {
    let own = |one: &Compared| {
        Some(Level {
            lufs: one.figures.lufs?,
            true_peak_db: one.figures.true_peak_db?,
        })
    };
    let levels: Vec<Level> = compared.iter().filter_map(own).collect();
    let ceiling = match work {
        Work::Loop(song, _) => song.master.ceiling_db,
        Work::Form(form, _) => form.master.ceiling_db,
    };
    let target = common(&levels, ceiling.unwrap_or(0.0))?;
    compared.par_iter_mut().for_each(|one| {
        if let Some(lufs) = one.figures.lufs {
            one.gain_db = bring_to(&mut one.audio, lufs, target);
        }
    });
    Some(target)
}
