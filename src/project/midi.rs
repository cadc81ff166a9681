//! What a project plays, written down as MIDI.

use super::{Plays, Project};
use crate::export::midi::{FreeKey, Passage, song};
use crate::loopfile::Ending;
use crate::midi::MidiSong;
use crate::render::Order;
use crate::score::Cycle;
use crate::text::Problems;

impl Project {
    /// The song that it plays over all rounds that are asked for, and the pieces that General MIDI has no note number for.
    pub(crate) fn midi(&self, order: &Order) -> Result<(MidiSong, Vec<FreeKey>), Problems> {
        let circle = self.ending() == Ending::Repeat;
        let pickup = match &self.plays {
            Plays::Form(form, _) if !circle && order.bars.is_none() => form.pickup,
            _ => None,
        };
        let score = self.score(order)?;
        let passages = score.passages.iter().enumerate().map(|(number, passage)| Passage {
            song: passage.song,
            kit: passage.kit.index(),
            parts: &passage.parts,
            counted_from: passage.begins - passage.offset,
            seconds: passage.ends - passage.begins,
            pickup: pickup.filter(|_| number == 0),
            cycle: Cycle {
                begins: passage.cycle.begins - passage.offset,
                ..passage.cycle
            },
            section: match &self.plays {
                Plays::Form(form, _) => Some(form.sections[passage.section].name.as_str()),
                Plays::Loop(..) => None,
            },
        });
        Ok(song(self.plain_title(), &passages.collect::<Vec<_>>(), circle)?)
    }
}
