//! `pressroll check`.

use clap::Args;

use super::options::LoopOptions;
use super::session::Work;
use super::{Done, telling};
use crate::score;
use crate::text::Problem;

/// Find what is wrong or unlikely in a loop, and render nothing
#[derive(Args)]
pub struct Check {
    #[command(flatten)]
    options: LoopOptions,
}

impl Check {
    /// Reads everything, tells all errors at once, then what may not be meant.
    pub fn run(self) -> Done {
        let work = Work::open(&self.options, None)?;
        let mut hints: Vec<Problem> = work.notices();
        for (song, kit) in work.loops() {
            let score = score::write(song, kit.index(), self.options.bars)?;
            hints.extend(score::hints(song, &score));
        }
        hints.iter().for_each(telling::tell_hint);
        let file = self.options.file.display();
        telling::say(&match hints.len() {
            0 => format!("{file}: nothing wrong"),
            1 => format!("{file}: nothing wrong, one thing to look at"),
            count => format!("{file}: nothing wrong, {count} things to look at"),
        });
        Ok(())
    }
}
