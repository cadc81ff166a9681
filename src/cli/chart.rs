//! `pressroll chart`.

use clap::Args;

use super::options::LoopOptions;
use super::session::Work;
use super::{Done, telling};
use crate::chart;
use crate::score::{self, Score};
use crate::text::{Problem, Problems};

/// Print the groove as a musician reads it: bars, counts, marks
#[derive(Args)]
pub struct Chart {
    #[command(flatten)]
    options: LoopOptions,
    /// Print under each part how many ms its hits come after the grid (or, negative, ahead of it)
    #[arg(long)]
    feel: bool,
}

impl Chart {
    /// Prints the page.
    pub fn run(self) -> Done {
        let work = Work::open(&self.options, None)?;
        let all = work.bars();
        let bars = self.options.bars.unwrap_or((1, all));
        if bars.1 > all {
            return Err(Problem::new(format!(
                "bars {}-{} are not in this file, which has bars 1-{all}",
                bars.0, bars.1
            ))
            .into());
        }
        let scores: Option<Vec<Score>> = if self.feel {
            let scores = work
                .loops()
                .into_iter()
                .map(|(song, kit)| score::write(song, kit.index(), None));
            Some(scores.collect::<Result<_, Problems>>()?)
        } else {
            None
        };
        telling::say(&match &work {
            Work::Loop(song, _) => chart::song(song, bars, scores.as_ref().and_then(|scores| scores.first())),
            Work::Form(form, _) => chart::form(form, bars, scores.as_deref()),
        });
        Ok(())
    }
}
