//! `pressroll transcribe`.

mod by_ear;
mod kit;
mod notes;
mod report;

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use self::notes::NotesOptions;
use super::options::OutputOptions;
use super::replace::Rule;
use super::{Done, messages, output};
use crate::export::transcribed::{self, Writing, rounded};
use crate::export::{mark, midi, write_beside};
use crate::loopfile::limits::{LONGEST_NAME, MOST_BARS};
use crate::loopfile::{Exact, Loop, Time};
use crate::schema;
use crate::text::{Problem, shown_json};
use crate::transcription::{self, MOST_SOUNDS, Take, Told, Transcript};
use by_ear::Checks;
use kit::{KitFolder, KitOrder};

/// The names of a low, a middle and a high sound, unless the person has others.
const SOUNDS: &str = "kick snare hat-closed";

/// Transcribe a recording of one player into lines of a loop file
#[derive(Args)]
pub(super) struct Transcribe {
    /// The WAV, AIFF or FLAC
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,
    /// hits (drums, a mouth), notes (one at a time), kit (drums cut)
    #[arg(
        long = "as",
        value_name = "WHAT",
        default_value = "hits",
        hide_possible_values = true
    )]
    what: What,
    /// Names of the low, the middle and the high sound
    #[arg(long, value_name = "NAMES", default_value = SOUNDS)]
    sounds: String,
    /// It begins with each of --sounds, struck once
    #[arg(long, requires = "sounds")]
    sounds_first: bool,
    #[command(flatten)]
    notes: NotesOptions,
    /// Its tempo in BPM; it is found otherwise
    #[arg(long, value_name = "BPM", value_parser = tempo)]
    tempo: Option<f64>,
    /// In how many bars it was played, to find its tempo
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=i64::from(MOST_BARS)), conflicts_with = "tempo")]
    bars: Option<u32>,
    /// Its metre
    #[arg(long, value_name = "METRE", default_value = "4/4", value_parser = metre)]
    metre: (u32, u32),
    /// keep: write the times as played, in ms off the grid
    #[arg(long, value_name = "KEEP", hide_possible_values = true)]
    feel: Option<Feel>,
    /// The kit of a loop that -o writes
    #[arg(long, value_name = "FOLDER", requires = "output")]
    kit: Option<PathBuf>,
    /// Write a whole loop file; as a kit, a folder
    #[arg(short, long, help_heading = "Output", value_name = "FILE")]
    output: Option<PathBuf>,
    /// Write what was played as MIDI, as [feel] like takes it
    #[arg(long, help_heading = "Output", value_name = "FILE")]
    midi: Option<PathBuf>,
    /// Draw the waveform with what was heard, as SVG or PNG
    #[arg(long, help_heading = "Output", value_name = "FILE")]
    picture: Option<PathBuf>,
    /// Render the recording on the left, the loop on the right
    #[arg(long, help_heading = "Output", value_name = "FILE")]
    audition: Option<PathBuf>,
    /// Print a JSON object and nothing else
    #[arg(long, help_heading = "Output")]
    json: bool,
    #[command(flatten)]
    written: OutputOptions,
}

/// What a recording is transcribed as.
#[derive(Clone, Copy, ValueEnum)]
enum What {
    /// Something struck
    Hits,
    /// A voice or an instrument
    Notes,
    /// Something struck, to be cut apart
    Kit,
}

/// What becomes of the times at which hits were played.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Feel {
    /// They stand in the lines
    Keep,
}

impl Transcribe {
    /// Transcribes it, and prints or writes what it heard.
    pub(super) fn run(self) -> Done {
        let told = self.told()?;
        let song = self.notes.song()?;
        let take = Take::read(&self.recording)?;
        let transcript = match self.what {
            What::Hits | What::Kit => self
                .notes
                .refuse()
                .and_then(|()| transcription::hits(&take, &told).map_err(|problem| self.of_recording(problem))),
            What::Notes => {
                let told = self.notes.told(&told, song.as_deref());
                transcription::notes(&take, &told).map_err(|problem| self.of_recording(problem))
            }
        }?;
        let doubts = transcript.doubts.iter().cloned();
        messages::report_hints_once(doubts.map(|doubt| self.of_recording(doubt)));
        let checks = self.checks();
        checks.allow()?;
        let writing = self.writing(&transcript, told.sounds, song.as_deref());
        if matches!(self.what, What::Kit) {
            return self.write_kit(&take, &transcript, writing.as_ref(), &checks);
        }
        self.write_files(&transcript, writing.as_ref())?;
        if let (Some(path), Some(writing)) = (&self.output, &writing) {
            let from = libm::round(writing.first * f64::from(take.recorded.rate)) as i64;
            checks.play(&take, path, from)?;
        } else if self.audition.is_some() {
            let what = "--audition plays the loop that -o writes, and there is none";
            let advice = "name it, as in -o first.toml --kit my-shots";
            return Err(Problem::new(what).help(advice).into());
        }
        checks.draw(&take, &transcript)?;
        if self.json {
            let told = serde_json::to_string(&transcript).expect("figures and names are always JSON");
            return Ok(output::to_stdout(&shown_json(told))?);
        }
        let writing = writing.ok_or_else(|| self.no_tempo())?;
        let heard = report::heard(&transcript, &writing);
        let paths = [&self.output, &self.midi];
        let paths: Vec<String> = paths
            .into_iter()
            .flatten()
            .map(|path| path.display().to_string())
            .collect();
        Ok(output::to_stdout(&match paths.as_slice() {
            [] => report::lines(&heard, &self.parts(&transcript, &writing, song.as_deref())),
            written => format!("{}: {heard}", written.join(", ")),
        })?)
    }

    fn told(&self) -> Result<Told, Problem> {
        let sounds: Vec<String> = self
            .sounds
            .split([' ', ','])
            .filter(|name| !name.is_empty())
            .map(str::to_string)
            .collect();
        let twice = (1..sounds.len()).find(|place| sounds[..*place].contains(&sounds[*place]));
        if let Some(place) = twice {
            let what = format!("--sounds names `{}` twice", sounds[place]);
            return Err(Problem::new(what).help("name each sound once"));
        }
        if let Some(long) = sounds.iter().find(|name| name.chars().count() > LONGEST_NAME) {
            let what = format!("`{long}` of --sounds has more than {LONGEST_NAME} letters");
            return Err(Problem::new(what).help("name a piece of a kit, as in --sounds \"kick snare\""));
        }
        let most = if self.sounds_first { MOST_SOUNDS } else { 3 };
        match sounds.len() {
            0 => Err(Problem::new("--sounds names no sound").help("name them, as in --sounds \"kick snare\"")),
            many if many > most => {
                let what = format!("--sounds names {many} sounds; {most} are the most that are told apart");
                Err(Problem::new(what).help(match self.sounds_first {
                    true => "name those that you play",
                    false => "strike each once at the beginning, and add --sounds-first",
                }))
            }
            _ => Ok(Told {
                sounds,
                sounds_first: self.sounds_first,
                tempo: self.tempo,
                bars: self.bars,
                beats: f64::from(self.metre.0) * 4.0 / f64::from(self.metre.1),
            }),
        }
    }

    /// How it is written down; none where no tempo was found.
    fn writing(&self, transcript: &Transcript, sounds: Vec<String>, song: Option<&Loop>) -> Option<Writing> {
        let (tempo, first) = (rounded(transcript.tempo?), transcript.beat_offset?);
        let time = Time {
            tempo,
            beat: Exact::new(1, 4),
            counts: self.metre.0,
            unit: self.metre.1,
        };
        let time = song.map_or(time, |song| song.time.clone());
        let last = transcript.last()?;
        Some(Writing {
            bars: self.bars.unwrap_or_else(|| Writing::bars_to(&time, first, last)),
            time,
            first,
            feel: self.feel == Some(Feel::Keep),
            sounds,
            piece: self.notes.piece().to_string(),
        })
    }

    /// What was heard as parts of a loop file.
    fn parts(&self, transcript: &Transcript, writing: &Writing, song: Option<&Loop>) -> String {
        match (self.what, song) {
            (What::Hits | What::Kit, _) => transcribed::hits(transcript, writing),
            (What::Notes, None) => transcribed::notes(transcript, writing),
            (What::Notes, Some(song)) => transcribed::degrees(transcript, writing, song),
        }
    }

    /// Writes the files that are asked for.
    fn write_files(&self, transcript: &Transcript, writing: Option<&Writing>) -> Done {
        let paths: Vec<&PathBuf> = [&self.output, &self.midi].into_iter().flatten().collect();
        if paths.is_empty() {
            return Ok(());
        }
        let writing = writing.ok_or_else(|| self.no_tempo())?;
        Rule::new(self.written.force, "file with -o or --midi")
            .keep_files([self.recording.clone()])
            .allow(paths)?;
        let title = self.recording.file_stem().unwrap_or_default().to_string_lossy();
        if let Some(path) = &self.output {
            let kit = self.kit_from(path)?;
            let parts = self.parts(transcript, writing, None);
            let page = transcribed::loop_file(&title, &kit, transcript.key.as_deref(), writing, &parts);
            let seal = mark::seal(&page);
            write_beside(path, |out| {
                [seal, page].iter().try_for_each(|text| out.write_all(text.as_bytes()))
            })?;
        }
        if let Some(path) = &self.midi {
            midi::write(path, &transcribed::song(&title, transcript, writing)?)?;
        }
        Ok(())
    }

    /// Cuts the recording, and writes the kit and its loop.
    fn write_kit(&self, take: &Take, heard: &Transcript, writing: Option<&Writing>, checks: &Checks) -> Done {
        let order = KitOrder {
            recording: &self.recording,
            output: self.output.as_deref(),
            tempo: self.tempo,
            bars: self.bars,
            metre: self.metre,
            force: self.written.force,
        };
        let folder = KitFolder::of(&order, take, heard)?.ok_or_else(|| self.no_tempo())?;
        folder.allow(&order)?;
        if let (Some(path), Some(writing)) = (&self.midi, writing) {
            let title = self.recording.file_stem().unwrap_or_default().to_string_lossy();
            Rule::new(self.written.force, "file with --midi")
                .keep_files([self.recording.clone()])
                .allow([path])?;
            midi::write(path, &transcribed::song(&title, heard, writing)?)?;
        }
        folder.write()?;
        checks.draw(take, heard)?;
        checks.play(take, &folder.loop_path(), folder.fitted().from)?;
        if self.json {
            let told = serde_json::to_string(&folder.told(heard)).expect("figures and names are always JSON");
            return Ok(output::to_stdout(&shown_json(told))?);
        }
        Ok(output::to_stdout(&folder.report())?)
    }

    fn checks(&self) -> Checks<'_> {
        Checks {
            recording: &self.recording,
            picture: self.picture.as_ref(),
            audition: self.audition.as_ref(),
            force: self.written.force,
        }
    }

    /// The kit as a loop at some place names it.
    fn kit_from(&self, path: &Path) -> Result<String, Problem> {
        let Some(kit) = &self.kit else { return Ok(".".into()) };
        let found = kit.canonicalize().ok().filter(|kit| kit.is_dir());
        let Some(found) = found else {
            let what = format!("`{}` is no folder, so no kit", kit.display());
            return Err(Problem::new(what).help("name a folder of one-shots"));
        };
        // As it was typed, it holds from the folder that the command runs in.
        let here = path.parent() == Some(Path::new(""));
        Ok(if here { kit } else { &found }.display().to_string())
    }

    fn no_tempo(&self) -> Problem {
        let played = match self.what {
            What::Hits | What::Kit => "hits",
            What::Notes => "notes",
        };
        let what = match self.bars {
            Some(bars) => format!("has no tempo at which its {played} lie in {bars} bars"),
            None => format!("has too few {played} to tell a tempo"),
        };
        let what = format!("`{}` {what}", self.recording.display());
        Problem::new(what).help("give it, as in --tempo 96")
    }

    /// The same problem, which says of what recording it is.
    fn of_recording(&self, problem: Problem) -> Problem {
        Problem {
            what: format!("`{}`: {}", self.recording.display(), problem.what),
            ..problem
        }
    }
}

/// A tempo as a loop file may have it.
fn tempo(text: &str) -> Result<f64, String> {
    let range = 5.0..=999.0;
    let tempo = text.trim().parse().ok().filter(|tempo| range.contains(tempo));
    tempo.ok_or_else(|| format!("expected a tempo from {} to {} BPM", range.start(), range.end()))
}

/// A metre as a loop file may have it.
fn metre(text: &str) -> Result<(u32, u32), String> {
    schema::metre(text).ok_or_else(|| "expected a metre from 1/1 to 32/32, such as 4/4 or 6/8".to_string())
}
