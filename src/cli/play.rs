//! `pressroll play`.

use std::io;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::sleep;
use std::time::Duration;

use clap::Args;

use super::options::{AudioOptions, LoopOptions};
use super::render::tags;
use super::session::rendered;
use super::{Done, telling};
use crate::export;
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

/// Render a loop and play it round and round through the system's player
///
/// Start with the volume low, above all on headphones.
#[derive(Args)]
pub struct Play {
    #[command(flatten)]
    options: LoopOptions,
    #[command(flatten)]
    audio: AudioOptions,
    /// The program that plays: it is given the WAV's path as its last argument
    #[arg(long, value_name = "PROGRAM")]
    player: Option<String>,
}

impl Play {
    /// Renders into a temporary file and plays it until the person stops it.
    pub fn run(self) -> Done {
        let (program, arguments) = find_player(self.player.as_deref())?;
        let (work, mut finished) = rendered(&self.options, &self.audio)?;
        if finished.repeats {
            let times = (AT_LEAST / finished.audio.seconds()).ceil().max(1.0) as usize;
            finished
                .audio
                .channels
                .iter_mut()
                .for_each(|side| *side = side.repeat(times));
        }
        let folder = tempfile::tempdir()
            .map_err(|error| Problem::new(format!("no temporary folder can be made: {}", plainly(&error))))?;
        let file = folder.path().join("loop.wav");
        let tags = tags(&work, self.options.bars, &finished);
        export::wav::write(
            &file,
            &finished.audio,
            self.audio.depth.coding(),
            &tags,
            work.first().seed,
        )?;
        telling::say(&format!(
            "{} plays round and round through {program}; Ctrl-C ends it",
            work.title()
        ));
        Ok(round_and_round(&program, arguments, &file)?)
    }
}

/// Plays a file over and over until a signal comes or the player fails. A signal ends both.
fn round_and_round(program: &str, arguments: &[&str], file: &Path) -> Result<(), Problem> {
    let stopped = Arc::new(AtomicBool::new(false));
    let flag = stopped.clone();
    ctrlc::set_handler(move || flag.store(true, Ordering::SeqCst))
        .map_err(|error| Problem::new(format!("signals can't be watched: {error}")))?;
    let failed = |error: io::Error| {
        Problem::new(format!("{program} can't be run: {}", plainly(&error))).help("name another with --player")
    };
    while !stopped.load(Ordering::SeqCst) {
        let mut command = Command::new(program);
        command
            .args(arguments)
            .arg(file)
            .stdin(Stdio::null())
            .stdout(Stdio::null());
        let mut child = command.spawn().map_err(failed)?;
        if !plays_through(&mut child, &stopped).map_err(failed)? {
            return Err(
                Problem::new(format!("{program} could not play the loop")).help("name another player with --player")
            );
        }
    }
    Ok(())
}

/// Waits for a player, and ends it once `stopped` is set; false where it failed by itself.
fn plays_through(child: &mut Child, stopped: &AtomicBool) -> io::Result<bool> {
    loop {
        if stopped.load(Ordering::SeqCst) {
            child.kill()?;
            child.wait()?;
            return Ok(true);
        }
        if let Some(status) = child.try_wait()? {
            // The terminal's Ctrl-C reaches the player as well, which may be gone before the flag is seen.
            sleep(Duration::from_millis(20));
            return Ok(status.success() || stopped.load(Ordering::SeqCst));
        }
        sleep(Duration::from_millis(20));
    }
}

fn find_player(asked: Option<&str>) -> Result<(String, &'static [&'static str]), Problem> {
    if let Some(program) = asked {
        let known = PLAYERS.iter().find(|(name, _)| *name == program);
        return Ok((program.to_string(), known.map_or(&[], |(_, arguments)| *arguments)));
    }
    let there = |name: &str| {
        let folders = std::env::var_os("PATH").unwrap_or_default();
        std::env::split_paths(&folders).any(|folder| folder.join(name).is_file())
    };
    match PLAYERS.iter().find(|(name, _)| there(name)) {
        Some((name, arguments)) => Ok((name.to_string(), arguments)),
        None => {
            let names: Vec<&str> = PLAYERS.iter().map(|(name, _)| *name).collect();
            Err(
                Problem::new(format!("no player was found; looked for {}", names.join(", ")))
                    .help("name one with --player, or use `pressroll render`"),
            )
        }
    }
}
