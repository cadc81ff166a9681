//! `pressroll play`.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use clap::Args;

use super::options::{AudioOptions, LoopOptions};
use super::player::{Player, lengthen};
use super::progress::render_unmetered;
use super::{Done, messages, output};
use crate::export;
use crate::files::plainly;
use crate::project::Project;
use crate::render::Rendered;
use crate::text::{Problem, Problems};

/// Render a loop and play it, repeating, through the system's player
///
/// Start with the volume low, above all on headphones.
#[derive(Args)]
pub(super) struct Play {
    #[command(flatten)]
    options: LoopOptions,
    #[command(flatten)]
    audio: AudioOptions,
    /// The program that plays; the WAV is its last word
    #[arg(long, value_name = "PROGRAM")]
    player: Option<String>,
}

impl Play {
    /// Renders, and plays it until the person stops it.
    pub(super) fn run(self) -> Done {
        #[cfg(feature = "sound")]
        if self.player.is_none() {
            return self.sound();
        }
        self.play_through_a_player()
    }

    /// Plays by itself and repeats without a gap.
    #[cfg(feature = "sound")]
    fn sound(self) -> Done {
        let output = crate::device::Output::open(self.audio.rate)?;
        let (project, finished) = self.rendered()?;
        output.put(crate::device::Record {
            audio: finished.audio.into(),
            bars: Vec::new(),
        });
        output::to_stdout(&format!("{} repeats; Ctrl-C ends it", project.title()))?;
        let stopped = until_stopped()?;
        while !stopped.load(Ordering::SeqCst) {
            std::thread::sleep(super::player::GLANCE);
        }
        Ok(())
    }

    /// Opens and renders it, and reports what is odd about it.
    fn rendered(&self) -> Result<(Project, Rendered), Problems> {
        let project = self.options.project(self.audio.ending).open()?;
        let rendered = render_unmetered(&project, &self.audio.order(&self.options), None)?;
        messages::report_hints_once(project.notices().into_iter().chain(project.loans()));
        Ok((project, rendered))
    }

    /// Renders into a temporary file, which another program plays.
    fn play_through_a_player(self) -> Done {
        let player = Player::find(self.player.as_deref())?;
        let (project, mut finished) = self.rendered()?;
        if finished.repeats {
            lengthen(&mut finished.audio);
        }
        let folder = tempfile::tempdir()
            .map_err(|error| Problem::new(format!("no temporary folder can be made: {}", plainly(&error))))?;
        let file = folder.path().join("loop.wav");
        let tags = project.tags(self.options.bars, finished.repeating());
        export::wav::preview(
            &file,
            &finished.audio,
            self.audio.depth.coding(),
            &tags,
            project.first().seed,
        )?;
        output::to_stdout(&format!(
            "{} repeats, played through {}; Ctrl-C ends it",
            project.title(),
            player.name()
        ))?;
        let stopped = until_stopped()?;
        Ok(player.round_and_round(&file, &stopped)?)
    }
}

/// A flag that is set once the person wants it to end.
fn until_stopped() -> Result<Arc<AtomicBool>, Problem> {
    let stopped = Arc::new(AtomicBool::new(false));
    let flag = stopped.clone();
    ctrlc::set_handler(move || flag.store(true, Ordering::SeqCst))
        .map_err(|error| Problem::new(format!("signals can't be watched: {error}")))?;
    Ok(stopped)
}
