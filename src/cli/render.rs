//! `pressroll render`.

use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::Args;

use super::options::{AudioOptions, LoopOptions};
use super::session::{Work, rendered};
use super::{Done, summary, telling};
use crate::export;
use crate::render::Rendered;
use crate::wav::Tags;

/// Render a loop or a form to a WAV
#[derive(Args)]
pub struct Render {
    #[command(flatten)]
    options: LoopOptions,
    #[command(flatten)]
    audio: AudioOptions,
    /// The WAV to write; renders/NAME.wav where none is named
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Print one JSON object on standard output and nothing else
    #[arg(long)]
    json: bool,
}

impl Render {
    /// Renders, writes, tells.
    pub fn run(self) -> Done {
        let begun = Instant::now();
        let (work, finished) = rendered(&self.options, &self.audio)?;
        let path = self.output.unwrap_or_else(|| place_for(&self.options.file));
        let seed = work.first().seed;
        export::wav::write(&path, &finished.audio, self.audio.depth.coding(), &tags(&work, &finished), seed)?;
        let told = summary::Told { work: &work, finished: &finished, path: &path, seconds: begun.elapsed().as_secs_f64() };
        if self.json {
            telling::say(&told.json());
        } else {
            telling::say(&told.text());
        }
        told.warnings().iter().for_each(telling::tell_hint);
        Ok(())
    }
}

/// Where a render goes when nothing else is said: `renders/`, under the file's name.
pub fn place_for(file: &Path) -> PathBuf {
    let mut name = file.file_stem().unwrap_or(file.as_os_str()).to_os_string();
    name.push(".wav");
    Path::new("renders").join(name)
}

/// What the WAV says of itself: its title, tempo and key, and where a repeating one goes round.
pub fn tags(work: &Work, finished: &Rendered) -> Tags {
    let song = work.first();
    // The INFO list knows no tempo and no musical key: they go into its comment, which every reader shows.
    let mut comment = format!("tempo {}, metre {}/{}", song.time.tempo, song.time.counts, song.time.unit);
    song.key.iter().for_each(|key| comment.push_str(&format!(", key {key}")));
    let software = format!("pressroll {}", env!("CARGO_PKG_VERSION"));
    let info = vec![(*b"INAM", work.title().to_string()), (*b"ICMT", comment), (*b"ISFT", software)];
    let last = finished.audio.frames().saturating_sub(1) as u32;
    Tags { round: finished.repeats.then_some((0, last)), info, cues: Vec::new() }
}
