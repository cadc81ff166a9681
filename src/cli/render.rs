//! `pressroll render`.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::{Args, ValueEnum};

use super::options::{AudioOptions, LoopOptions, OutputOptions};
use super::picture::Pictures;
use super::progress::render_unmetered;
use super::replace::Rule;
use super::verify::verify;
use super::versions::{Template, Version, template};
use super::{Done, messages, musicxml, output, summary};
use crate::base::audio::peak;
use crate::export;
use crate::kit;
use crate::notation::Asked;
use crate::project::Project;
use crate::render::{Order, Rendered, Stems};
use crate::render_cache::RenderCache;
use crate::text::{Problem, Problems};
use crate::wav::Coding;

/// Render a loop or a form to a WAV
#[derive(Args)]
pub(super) struct Render {
    #[command(flatten)]
    options: LoopOptions,
    #[command(flatten)]
    audio: AudioOptions,
    #[command(flatten)]
    written: OutputOptions,
    /// The WAV to write, in place of renders/NAME.wav
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Template, as in "{title} {tempo} {key} {mix}"
    #[arg(long, value_name = "TEMPLATE", value_parser = template, conflicts_with = "output")]
    name: Option<Template>,
    /// Also write stems of parts, buses, or parts dry
    #[arg(long, value_name = "WHICH", hide_possible_values = true, num_args = 0..=1, default_missing_value = "parts")]
    stems: Option<StemsName>,
    /// Also render every mix to a file of its own
    #[arg(long, conflicts_with = "mix")]
    mixes: bool,
    /// Also write the notes played, as NAME.mid
    #[arg(long)]
    midi: bool,
    /// Also write staves and notes, as NAME.musicxml
    #[arg(long)]
    musicxml: bool,
    /// Also draw bars, hits and notes, as SVG and PNG
    #[arg(long)]
    picture: bool,
    /// Also list the one-shots played, with licences
    #[arg(long)]
    credits: bool,
    /// Also measure every bus; --json always does
    #[arg(long, help_heading = "Output")]
    figures: bool,
    /// Render twice and compare, to the bit
    #[arg(long, help_heading = "Output")]
    verify: bool,
    /// Print one JSON object and nothing else
    #[arg(long, help_heading = "Output")]
    json: bool,
}

impl Render {
    /// Renders, writes, tells.
    pub(super) fn run(self) -> Done {
        let mut begun = Instant::now();
        let place = self.output.clone().unwrap_or_else(|| place_for(&self.options.file));
        let options = self.options.project(self.audio.ending);
        let versions = Version::open(options, self.options.bars, self.mixes, &place, self.name.as_ref())?;
        self.allow(&versions)?;
        // One version alone has nobody to share with, and what is shared is not measured.
        let keep = (versions.len() > 1 && !self.measures()).then(RenderCache::default);
        let mut told = Vec::new();
        for version in &versions {
            // What was read for all is the first one's time.
            let mut one = self.hand_over(version, keep.as_ref(), begun)?;
            if told.is_empty() {
                one.listened = kit::listened();
            }
            told.push(one);
            begun = Instant::now();
        }
        let said = output::to_stdout(&match self.json {
            true => summary::json(&told),
            false => told
                .iter()
                .map(summary::RenderReport::text)
                .collect::<Vec<_>>()
                .join("\n\n"),
        });
        let warnings = told.iter().flat_map(summary::RenderReport::warnings);
        messages::report_hints_once(warnings);
        Ok(said?)
    }

    /// True where each bus is measured.
    fn measures(&self) -> bool {
        self.figures || self.json
    }

    /// Makes sure, before anything is made, that all of it may be written.
    fn allow(&self, versions: &[Version]) -> Done {
        let rule = Rule::new(self.written.force, "file with -o");
        let rule = versions.iter().fold(rule, |rule, version| rule.keep(&version.project));
        for version in versions {
            rule.allow(self.places(version)?)?;
        }
        Ok(())
    }

    /// The files that are written for a version.
    fn places(&self, version: &Version) -> Result<Vec<PathBuf>, Problems> {
        let Version { project, path, .. } = version;
        let mut places = vec![path.clone()];
        places.extend(self.midi.then(|| midi_beside(path)).transpose()?);
        places.extend(self.musicxml.then(|| musicxml::beside(path)).transpose()?);
        let pictures = self.pictures(version)?;
        places.extend(pictures.iter().flat_map(Pictures::paths).map(Path::to_path_buf));
        places.extend(self.credits.then(|| credits_beside(path)));
        let stems = self
            .stems
            .into_iter()
            .flat_map(|which| project.stem_names(which.stems()));
        places.extend(stems.map(|name| stem(&stems_beside(path), &name)));
        Ok(places)
    }

    /// What is to be drawn of a version, where that is asked for.
    fn pictures(&self, version: &Version) -> Result<Option<Pictures>, Problems> {
        let order = self.audio.order(&self.options);
        let draw = || Pictures::beside(&version.path, &version.project, version.mix.as_deref(), &order);
        self.picture.then(draw).transpose()
    }

    /// Renders one version and writes it with all that is to lie beside it; its time counts from when it was begun.
    fn hand_over<'a>(
        &self,
        version: &'a Version,
        keep: Option<&RenderCache>,
        begun: Instant,
    ) -> Result<summary::RenderReport<'a>, Problems> {
        let Version { project, path, .. } = version;
        let midi = self.midi.then(|| midi_beside(path)).transpose()?;
        let musicxml = self.musicxml.then(|| musicxml::beside(path)).transpose()?;
        let pictures = self.pictures(version)?;
        let credits = credits_beside(path);
        let order = Order {
            bus_figures: self.measures(),
            ..self.audio.order(&self.options)
        };
        let finished = render_unmetered(project, &order, keep)?;
        let verified = if self.verify {
            Some(verify(project, &order, &finished)?)
        } else {
            None
        };
        let coding = self.audio.depth.coding();
        let tags = project.tags(order.bars, finished.repeating());
        let (finished, written) = finished
            .metered_beside(|finished| export::wav::write(path, &finished.audio, coding, &tags, project.first().seed));
        written?;
        if let Some(which) = self.stems {
            self.write_stems(which, project, &finished, &stems_beside(path))?;
        }
        let midi = midi.map(|path| write_midi(project, &order, path)).transpose()?;
        if let Some(path) = &musicxml {
            let asked = Asked {
                bars: order.bars,
                ..Asked::default()
            };
            export::musicxml::write(path, &project.sheet(asked))?;
        }
        if let Some(pictures) = &pictures {
            pictures.write(&finished)?;
            messages::report_hints_once(pictures.left_over());
        }
        if self.credits {
            let mix = path.file_name().unwrap_or_default().to_string_lossy();
            export::credits::write(&credits, &project.title(), &mix, &project.cast(&order)?)?;
        }
        Ok(summary::RenderReport {
            project,
            cut: order.bars,
            mix: version.mix.as_deref(),
            finished,
            path,
            midi,
            musicxml,
            pictures,
            bars: project.barlines(&order),
            credits: self.credits.then_some(credits),
            verified,
            figures: self.figures,
            seconds: begun.elapsed().as_secs_f64(),
            listened: messages::Listened::default(),
        })
    }

    /// Writes every stem as a WAV of its own; hints at those that can't sum to the mix.
    fn write_stems(&self, which: StemsName, project: &Project, finished: &Rendered, folder: &Path) -> Done {
        let order = self.audio.order(&self.options);
        let tags = project.tags(order.bars, finished.repeating());
        let coding = self.audio.depth.coding();
        let seed = project.first().seed;
        let mut written = BTreeSet::new();
        project.stems(&order, which.stems(), finished.audio.frames(), |name, audio| {
            written.insert(format!("{name}.wav"));
            if coding != Coding::Float32 && peak(&audio.channels) > 1.0 {
                let what = format!("the stem `{name}` is clipped: it is louder than full scale before the master");
                messages::tell_hint(&Problem::new(what).help("write stems with --depth float"));
            }
            export::wav::write(&stem(folder, name), &audio, coding, &tags, seed)
        })?;
        if which.stems() == Stems::Parts {
            messages::report_hints_once(driven_buses(project));
        }
        messages::report_hints_once(strangers(folder, &written));
        Ok(())
    }
}

/// A hint at the WAVs of a folder of stems that this render did not write: they are of an earlier one, or a person's own, so
/// none is taken away.
fn strangers(folder: &Path, written: &BTreeSet<String>) -> Option<Problem> {
    /// The most that are named.
    const NAMED: usize = 4;
    let names = std::fs::read_dir(folder).ok()?.flatten();
    let names = names.map(|entry| entry.file_name().to_string_lossy().into_owned());
    let mut strange: Vec<String> = names
        .filter(|name| name.ends_with(".wav") && !name.starts_with('.') && !written.contains(name))
        .collect();
    strange.sort();
    let (them, more) = match strange.len() {
        0 => return None,
        1 => ("it", String::new()),
        count if count > NAMED => ("them", format!(" and {} more", count - NAMED)),
        _ => ("them", String::new()),
    };
    let what = format!(
        "{} also holds {}{more}, which this render did not write",
        folder.display(),
        strange[..strange.len().min(NAMED)].join(", ")
    );
    Some(Problem::new(what).help(format!("take {them} out if an earlier render left {them} there")))
}

/// Hints at the buses whose parts' stems can't sum to what they make together.
fn driven_buses(project: &Project) -> impl Iterator<Item = Problem> {
    let buses = project.loops().into_iter().flat_map(|(song, _)| &song.buses);
    buses.filter(|bus| bus.strip.drive.is_some()).map(|bus| {
        let what = format!(
            "`{}` is driven: the stems of its parts do not sum to what they make together",
            bus.name
        );
        Problem::new(what).help("--stems buses gives the bus as one")
    })
}

/// Where a version's MIDI goes: `NAME.mid` beside it.
fn midi_beside(mix: &Path) -> Result<PathBuf, Problem> {
    let path = mix.with_extension("mid");
    if path == mix {
        let what = format!("{} would be both the mix and its MIDI", path.display());
        return Err(Problem::new(what).help("name the mix NAME.wav"));
    }
    Ok(path)
}

/// Where a version's credits go: `NAME.credits.txt` beside it.
fn credits_beside(mix: &Path) -> PathBuf {
    mix.with_extension("credits.txt")
}

fn write_midi(project: &Project, order: &Order, path: PathBuf) -> Result<summary::Midi, Problems> {
    let (song, free) = project.midi(order)?;
    export::midi::write(&path, &song)?;
    let unbent = crate::midi::unbent(&song);
    Ok(summary::Midi { path, free, unbent })
}

/// Which stems, by their name on the command line.
#[derive(Clone, Copy, ValueEnum)]
enum StemsName {
    /// Every part through its buses, with its own sends
    Parts,
    /// Every bus with all that feeds it
    Buses,
    /// Every part through its own strip alone
    Dry,
}

impl StemsName {
    fn stems(self) -> Stems {
        match self {
            StemsName::Parts => Stems::Parts,
            StemsName::Buses => Stems::Buses,
            StemsName::Dry => Stems::Dry,
        }
    }
}

/// The folder of a render's stems: `NAME-stems` beside it.
fn stems_beside(path: &Path) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_os_string();
    name.push("-stems");
    path.with_file_name(name)
}

fn stem(folder: &Path, name: &str) -> PathBuf {
    folder.join(format!("{name}.wav"))
}

/// Where a render goes when nothing else is said: `renders/`, under the file's name.
pub(super) fn place_for(file: &Path) -> PathBuf {
    let mut name = file.file_stem().unwrap_or(file.as_os_str()).to_os_string();
    name.push(".wav");
    Path::new("renders").join(name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::counts::{LITTLE, Line, desk, line, of_one, on_any_threads};
    use crate::render_cache::ROOM;

    #[test]
    fn mixes_share_what_they_leave_as_it_is_on_any_number_of_threads() {
        let folder = desk();
        let Line::Render(render) = line(&folder.path().join("loop.toml"), &["render", "--mixes"]) else {
            panic!("it says render");
        };
        let options = render.options.project(None);
        let versions = Version::open(options, None, true, &folder.path().join("bed.wav"), None);
        let versions = versions.expect("the mixes open");
        for room in [ROOM, LITTLE] {
            let made = on_any_threads(
                || RenderCache::new(room),
                |keep| {
                    for version in &versions {
                        render
                            .hand_over(version, Some(keep), Instant::now())
                            .expect("a mix renders");
                    }
                },
            );
            if room == ROOM {
                let one = of_one(&render.options, &render.audio);
                // "near" and "far" run the snare; "deep" the kick, the snare, their bus and the shaker, which ducks under the kick;
                // "deep and far" the snare alone; "hard" the bus and the snare.
                assert_eq!(made["strips"], one["strips"] + 1 + 1 + 4 + 1 + 2, "{made:?}");
                assert_eq!(made["recordings"], one["recordings"]);
            }
        }
    }
}
