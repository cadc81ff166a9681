//! What may not be meant in a project.

use super::{Plays, Project};
use crate::render::headroom::{Out, clipping};
use crate::render::{Order, broken_off};
use crate::score;
use crate::text::{Problem, Problems};

impl Project {
    /// What is unlikely to be meant in what [`Project::check`] lets through, each thing once: notes outside of the key, levels
    /// that would clip, pieces that are substituted, and the like.
    ///
    /// # Errors
    /// As [`Project::score`].
    pub fn hints(&self, order: &Order) -> Result<Vec<Problem>, Problems> {
        let mut hints: Vec<Problem> = self.notices();
        hints.extend(self.loans());
        // Bars asked for are those of the loop or of the whole form.
        let bars = order.bars.filter(|_| matches!(self.plays, Plays::Loop(..)));
        let mut scores = Vec::new();
        for (song, kit) in self.loops() {
            let score = score::write(song, kit.index(), bars)?;
            hints.extend(score::hints(song, &score));
            hints.extend(score::harmony_hints(song));
            hints.extend(score::low_notes(song, kit.index()));
            hints.extend(kit.doubtful_roots(score::pitched(song)));
            scores.push(score);
        }
        match &self.plays {
            Plays::Loop(song, kit) => {
                let out = Out::of_loop(song);
                hints.extend(out.too_loud());
                hints.extend(broken_off(song, kit, &scores[0]));
                hints.extend(clipping(song, kit, &scores[0], out)?);
            }
            Plays::Form(form, kits) => {
                hints.extend(score::form_hints(form));
                let out = Out::of_form(form);
                hints.extend(out.too_loud());
                let (first, last) = order.bars.unwrap_or((1, u32::MAX));
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
        Ok(hints)
    }
}
