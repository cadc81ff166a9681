//! What a file plays, written down as MIDI.

use super::session::Work;
use crate::export::midi::{FreeKey, Passage, song};
use crate::loopfile::Ending;
use crate::midi::MidiSong;
use crate::render::Order;
use crate::score::{self, Score};
use crate::text::Problems;

impl Work {
    /// The song that it plays over all rounds that are asked for, with the pieces that General MIDI has no key for.
    pub fn midi(&self, order: &Order) -> Result<(MidiSong, Vec<FreeKey>), Problems> {
        let cut = match self {
            Work::Loop(..) => order.bars,
            Work::Form(..) => None,
        };
        let loops = self.loops();
        let scores = loops.iter().map(|(song, kit)| score::write(song, kit.index(), cut));
        let scores = scores.collect::<Result<Vec<Score>, Problems>>()?;
        let times = |number: usize| match self {
            Work::Loop(..) => 1,
            Work::Form(form, _) => form.sections[number].times,
        };
        let mut passages = Vec::new();
        for _ in 0..order.rounds {
            for (number, ((song, kit), score)) in loops.iter().zip(&scores).enumerate() {
                let passage = Passage {
                    song,
                    kit: kit.index(),
                    parts: &score.parts,
                    seconds: score.round,
                };
                passages.extend((0..times(number)).map(|_| passage));
            }
        }
        Ok(song(self.title(), &passages, self.ending() == Ending::Repeat)?)
    }
}
