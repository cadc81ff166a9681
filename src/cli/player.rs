//! The system's player: finding it, and having it play a file over and over.

use std::io;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::sleep;
use std::time::Duration;

use crate::base::audio::Audio;
use crate::files::plainly;
use crate::text::Problem;

/// Programs that play a WAV, with what they need to be told, in the order in which they are tried.
const PLAYERS: [(&str, &[&str]); 6] = [
    ("pw-play", &[]),
    ("paplay", &[]),
    ("aplay", &["-q"]),
    ("afplay", &[]),
    ("play", &["-q"]),
    ("ffplay", &["-nodisp", "-autoexit", "-loglevel", "error"]),
];

/// A player starts with a gap each time, so it is handed at least so many seconds of a repeating loop.
const AT_LEAST: f64 = 120.0;
/// How often is looked whether a player has ended.
pub(super) const GLANCE: Duration = Duration::from_millis(20);

/// A program that plays WAVs.
pub(super) struct Player {
    program: String,
    arguments: &'static [&'static str],
}

impl Player {
    /// The one that is asked for, else the first that the system has.
    ///
    /// # Errors
    /// That it has none.
    pub(super) fn find(asked: Option<&str>) -> Result<Player, Problem> {
        if let Some(program) = asked {
            let known = PLAYERS.iter().find(|(name, _)| *name == program);
            return Ok(Player {
                program: program.to_string(),
                arguments: known.map_or(&[], |(_, arguments)| *arguments),
            });
        }
        let there = |name: &str| {
            let folders = std::env::var_os("PATH").unwrap_or_default();
            std::env::split_paths(&folders).any(|folder| folder.join(name).is_file())
        };
        match PLAYERS.iter().find(|(name, _)| there(name)) {
            Some((name, arguments)) => Ok(Player {
                program: name.to_string(),
                arguments,
            }),
            None => {
                let names: Vec<&str> = PLAYERS.iter().map(|(name, _)| *name).collect();
                Err(
                    Problem::new(format!("no player was found; looked for {}", names.join(", ")))
                        .help("name one with --player, or use `pressroll render`"),
                )
            }
        }
    }

    /// What it is called.
    pub(super) fn name(&self) -> &str {
        &self.program
    }

    /// Begins to play a file.
    ///
    /// # Errors
    /// A program that can't be run.
    pub(super) fn start(&self, file: &Path) -> Result<Child, Problem> {
        let mut command = Command::new(&self.program);
        command.args(self.arguments).arg(file);
        let child = command.stdin(Stdio::null()).stdout(Stdio::null()).spawn();
        child.map_err(|error| self.failed(&error))
    }

    /// Plays a file over and over until `stopped` is set or the player fails. A signal ends both.
    ///
    /// # Errors
    /// A program that can't be run, or that can't play the file.
    pub(super) fn round_and_round(&self, file: &Path, stopped: &AtomicBool) -> Result<(), Problem> {
        while !stopped.load(Ordering::SeqCst) {
            let mut child = self.start(file)?;
            let through = plays_through(&mut child, stopped).map_err(|error| self.failed(&error))?;
            if !through {
                return Err(self.unable());
            }
        }
        Ok(())
    }

    /// The problem of a player that ends with an error.
    pub(super) fn unable(&self) -> Problem {
        Problem::new(format!("{} could not play the loop", self.program)).help("name another player with --player")
    }

    fn failed(&self, error: &io::Error) -> Problem {
        Problem::new(format!("{} can't be run: {}", self.program, plainly(error))).help("name another with --player")
    }
}

/// Waits for a player, and ends it once `stopped` is set; false where it failed by itself.
fn plays_through(child: &mut Child, stopped: &AtomicBool) -> io::Result<bool> {
    loop {
        if stopped.load(Ordering::SeqCst) {
            end(child)?;
            return Ok(true);
        }
        if let Some(status) = child.try_wait()? {
            // The terminal's Ctrl-C reaches the player as well, which may be gone before the flag is seen.
            sleep(GLANCE);
            return Ok(status.success() || stopped.load(Ordering::SeqCst));
        }
        sleep(GLANCE);
    }
}

/// Ends a player.
pub(super) fn end(child: &mut Child) -> io::Result<()> {
    child.kill()?;
    child.wait().map(|_| ())
}

/// Enough rounds of repeating audio that the player seldom has to start again.
pub(super) fn lengthen(audio: &mut Audio) {
    let times = (AT_LEAST / audio.seconds()).ceil().max(1.0) as usize;
    audio.channels.iter_mut().for_each(|side| *side = side.repeat(times));
}
