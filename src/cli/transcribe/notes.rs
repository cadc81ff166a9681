//! What `pressroll transcribe --as notes` is asked besides.

use std::path::PathBuf;

use clap::Args;

use crate::harmony::Key;
use crate::loopfile::{Loop, Time};
use crate::project::{Plays, Project};
use crate::text::{Problem, Problems};
use crate::transcription::{Told, ToldOfNotes};

/// The piece that plays notes unless the person names another: every kit has it.
const PIECE: &str = "stand-in";

/// What is asked of notes.
#[derive(Args)]
pub(super) struct NotesOptions {
    /// Their key, as in "G minor"; it is found otherwise
    #[arg(long, help_heading = "Notes", value_name = "KEY", value_parser = key)]
    key: Option<Key>,
    /// Set each note to the nearest one of the key
    #[arg(long, help_heading = "Notes")]
    in_key: bool,
    /// Write degrees of this loop's chords, at its tempo
    #[arg(long, help_heading = "Notes", value_name = "LOOP", conflicts_with = "output")]
    against: Option<PathBuf>,
    /// The piece that plays them; stand-in is a plain tone
    #[arg(long, help_heading = "Notes", value_name = "PIECE")]
    piece: Option<String>,
}

impl NotesOptions {
    /// Refuses what is asked of notes where something else is transcribed.
    pub(super) fn refuse(&self) -> Result<(), Problem> {
        let given = [
            ("--key", self.key.is_some()),
            ("--in-key", self.in_key),
            ("--against", self.against.is_some()),
            ("--piece", self.piece.is_some()),
        ];
        match given.iter().find(|(_, given)| *given) {
            Some((name, _)) => Err(Problem::new(format!("{name} says how notes are written")).help("add --as notes")),
            None => Ok(()),
        }
    }

    /// The piece that plays them.
    pub(super) fn piece(&self) -> &str {
        self.piece.as_deref().unwrap_or(PIECE)
    }

    /// What the person says of the notes; a loop that they go with says its tempo and its key.
    pub(super) fn told(&self, told: &Told, song: Option<&Loop>) -> ToldOfNotes {
        ToldOfNotes {
            tempo: told.tempo.or(song.map(|song| quarters(&song.time))),
            bars: told.bars.map(|bars| (bars, told.beats)),
            key: self.key.or(song.and_then(|song| song.tonality())),
            in_key: self.in_key,
        }
    }

    /// The loop whose chords are asked for.
    pub(super) fn song(&self) -> Result<Option<Box<Loop>>, Problems> {
        let Some(path) = &self.against else {
            return Ok(None);
        };
        let project = Project::options(path).substitute(true).open()?;
        match project.plays() {
            Plays::Loop(song, _) if !song.chords.is_empty() => Ok(Some(song.clone())),
            _ => {
                let what = format!("`{}` is no loop with [chords]", path.display());
                Err(Problem::new(what)
                    .help("--against takes a loop file whose chords the notes go with")
                    .into())
            }
        }
    }
}

/// A tempo in quarter notes a minute.
fn quarters(time: &Time) -> f64 {
    time.tempo * 4.0 * *time.beat.numer() as f64 / *time.beat.denom() as f64
}

fn key(text: &str) -> Result<Key, String> {
    Key::parse(text).map_err(|misread| misread.to_string())
}
