//! `pressroll check`.

use clap::Args;

use super::options::{LoopOptions, STANDARD_RATE};
use super::session::Work;
use super::{Done, output, telling};
use crate::kit::Kit;
use crate::render::headroom::{Out, clipping};
use crate::render::{form_suits, suits};
use crate::score;
use crate::text::{Problem, Problems};

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
        suits_rate(&work)?;
        let mut hints: Vec<Problem> = work.notices();
        hints.extend(work.loans());
        // Bars asked for are those of the loop or of the whole form.
        let bars = self.options.bars.filter(|_| matches!(work, Work::Loop(..)));
        for (song, kit) in work.loops() {
            let score = score::write(song, kit.index(), bars)?;
            hints.extend(score::hints(song, &score));
            hints.extend(score::harmony_hints(song));
            hints.extend(kit.doubtful_roots(score::pitched(song))?);
        }
        match &work {
            Work::Loop(song, kit) => {
                let out = Out::of_loop(song);
                hints.extend(out.too_loud());
                hints.extend(clipping(song, kit, &score::write(song, kit.index(), bars)?, out)?);
            }
            Work::Form(form, kits) => {
                let indices: Vec<_> = kits.iter().map(Kit::index).collect();
                score::write_form(form, &indices, self.options.bars, 1)?;
                hints.extend(score::form_hints(form));
                let out = Out::of_form(form);
                hints.extend(out.too_loud());
                for (section, kit) in form.sections.iter().zip(kits) {
                    let score = score::write(&section.plays, kit.index(), Some(section.window))?;
                    hints.extend(clipping(&section.plays, kit, &score, out)?);
                }
            }
        }
        // Sections that play the same loop have the same to be told of it.
        let mut once: Vec<Problem> = Vec::new();
        hints.retain(|hint| {
            let new = !once.contains(hint);
            once.push(hint.clone());
            new
        });
        hints.iter().for_each(telling::tell_hint);
        let file = self.options.file.display();
        Ok(output::to_stdout(&match hints.len() {
            0 => format!("{file}: nothing wrong"),
            1 => format!("{file}: nothing wrong, one thing to look at"),
            count => format!("{file}: nothing wrong, {count} things to look at"),
        })?)
    }
}

/// Refuses what a render at the standard rate would.
fn suits_rate(work: &Work) -> Result<(), Problems> {
    match work {
        Work::Loop(song, _) => suits(&song.centres, STANDARD_RATE),
        Work::Form(form, _) => form_suits(form, STANDARD_RATE),
    }
}
