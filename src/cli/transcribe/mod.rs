//! `pressroll transcribe`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::options::OutputOptions;
use super::replace::Rule;
use super::{Done, messages, output};
use crate::export::transcribed::{self, Writing, rounded};
use crate::export::{mark, write_beside};
use crate::loopfile::{Exact, Time};
use crate::text::{Problem, shown_json};
use crate::transcription::{self, Take, Told, Transcript};

/// The names of a low, a middle and a high sound, unless the person has others.
const SOUNDS: &str = "kick snare hat-closed";

/// Transcribe a recording of one player into lines of a loop file
#[derive(Args)]
pub(super) struct Transcribe {
    /// The WAV, AIFF or FLAC
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,
    /// What it is: hits (taps, drums, a mouth)
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
    /// Its tempo in BPM; it is found otherwise
    #[arg(long, value_name = "BPM", value_parser = tempo)]
    tempo: Option<f64>,
    /// keep: write the times as played, in ms off the grid
    #[arg(long, value_name = "KEEP", hide_possible_values = true)]
    feel: Option<Feel>,
    /// The kit of a loop that -o writes
    #[arg(long, value_name = "FOLDER", requires = "output")]
    kit: Option<PathBuf>,
    /// Write a whole loop file
    #[arg(short, long, help_heading = "Output", value_name = "FILE")]
    output: Option<PathBuf>,
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
        let take = Take::read(&self.recording)?;
        let transcript = match self.what {
            What::Hits => transcription::hits(&take, &self.told()?),
        };
        messages::report_hints_once(transcript.doubts.iter().cloned());
        let lines = match self.what {
            What::Hits => self.writing(&transcript).map(|writing| {
                let parts = transcribed::hits(&transcript, &writing);
                (writing, parts)
            }),
        };
        if let Some(path) = &self.output {
            let (writing, parts) = lines.as_ref().ok_or_else(|| no_tempo(&self.recording))?;
            self.write(path, writing, parts)?;
        }
        if self.json {
            let told = serde_json::to_string(&transcript).expect("figures and names are always JSON");
            return Ok(output::to_stdout(&shown_json(told))?);
        }
        let (writing, parts) = lines.ok_or_else(|| no_tempo(&self.recording))?;
        Ok(output::to_stdout(&match &self.output {
            Some(path) => format!("{}: {}", path.display(), summary(&writing)),
            None => format!("# {}\n{}", summary(&writing), parts.trim_end()),
        })?)
    }

    fn told(&self) -> Result<Told, Problem> {
        let sounds: Vec<String> = self.sounds.split_whitespace().map(str::to_string).collect();
        if sounds.is_empty() {
            return Err(Problem::new("--sounds names no sound").help("name them, as in --sounds \"kick snare\""));
        }
        Ok(Told {
            sounds,
            tempo: self.tempo,
        })
    }

    /// How it is written down; none where no tempo was found.
    fn writing(&self, transcript: &Transcript) -> Option<Writing> {
        let (tempo, first) = (rounded(transcript.tempo?), transcript.beat_offset?);
        let time = Time {
            tempo,
            beat: Exact::new(1, 4),
            counts: 4,
            unit: 4,
        };
        let last = transcript.hits.last()?.seconds;
        Some(Writing {
            bars: Writing::bars_to(&time, first, last),
            time,
            first,
            feel: self.feel == Some(Feel::Keep),
        })
    }

    fn write(&self, path: &Path, writing: &Writing, parts: &str) -> Done {
        let kit = self.kit.as_deref().unwrap_or(Path::new("."));
        let kit = kit.display().to_string();
        let title = self.recording.file_stem().unwrap_or_default().to_string_lossy();
        let page = transcribed::loop_file(&title, &kit, writing, parts);
        Rule::new(self.written.force, "file with -o")
            .keep_files([self.recording.clone()])
            .allow([path])?;
        let seal = mark::seal(&page);
        Ok(write_beside(path, |out| {
            [seal, page].iter().try_for_each(|text| out.write_all(text.as_bytes()))
        })?)
    }
}

fn summary(writing: &Writing) -> String {
    format!(
        "{} bars at {} BPM; beat 1 at {:.3} s",
        writing.bars, writing.time.tempo, writing.first
    )
}

fn no_tempo(path: &Path) -> Problem {
    let what = format!("`{}` has too few hits to tell a tempo", path.display());
    Problem::new(what).help("say it, as in --tempo 96")
}

/// A tempo as a loop file may have it.
fn tempo(text: &str) -> Result<f64, String> {
    let range = 20.0..=400.0;
    let tempo = text.trim().parse().ok().filter(|tempo| range.contains(tempo));
    tempo.ok_or_else(|| format!("expected a tempo from {} to {} BPM", range.start(), range.end()))
}
