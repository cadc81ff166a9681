//! `pressroll check`.

use clap::Args;

use super::options::{LoopOptions, STANDARD_RATE};
use super::session::Work;
use super::{Done, output, telling};
use crate::render::headroom::{Out, clipping};
use crate::render::{Order, broken_off};
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
        work.check(&Order {
            rate: STANDARD_RATE,
            rounds: 1,
            bars: self.options.bars,
        })?;
        let mut hints: Vec<Problem> = work.notices();
        hints.extend(work.loans());
        // Bars asked for are those of the loop or of the whole form.
        let bars = self.options.bars.filter(|_| matches!(work, Work::Loop(..)));
        for (song, kit) in work.loops() {
            let score = score::write(song, kit.index(), bars)?;
            hints.extend(score::hints(song, &score));
            hints.extend(score::harmony_hints(song));
            hints.extend(score::low_notes(song, kit.index()));
            hints.extend(kit.doubtful_roots(score::pitched(song)));
        }
        match &work {
            Work::Loop(song, kit) => {
                let out = Out::of_loop(song);
                hints.extend(out.too_loud());
                let score = score::write(song, kit.index(), bars)?;
                hints.extend(broken_off(song, kit, &score));
                hints.extend(clipping(song, kit, &score, out)?);
            }
            Work::Form(form, kits) => {
                hints.extend(score::form_hints(form));
                let out = Out::of_form(form);
                hints.extend(out.too_loud());
                let (first, last) = self.options.bars.unwrap_or((1, u32::MAX));
                let mut before = 0;
                for (section, kit) in form.sections.iter().zip(kits) {
                    let own = before + 1..=before + section.bars();
                    before = *own.end();
                    if *own.end() < first || *own.start() > last {
                        continue;
                    }
                    let score = score::write(&section.plays, kit.index(), Some(section.window))?;
                    hints.extend(broken_off(&section.plays, kit, &score));
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
            0 => format!("{file}: no problems found"),
            1 => format!("{file}: no problems found, one thing to look at"),
            count => format!("{file}: no problems found, {count} things to look at"),
        })?)
    }
}
