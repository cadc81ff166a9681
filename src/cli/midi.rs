//! What a file plays, written down as MIDI.

use super::session::Work;
use crate::export::midi::{FreeKey, Passage, song};
use crate::kit::{Index, Kit};
use crate::loopfile::{Ending, Form, Loop};
use crate::midi::MidiSong;
use crate::render::Order;
use crate::score;
use crate::text::Problems;

/// What is played, and the pieces that General MIDI has no key for.
type Written = Result<(MidiSong, Vec<FreeKey>), Problems>;

impl Work {
    /// The song that it plays over all rounds that are asked for.
    pub fn midi(&self, order: &Order) -> Written {
        match self {
            Work::Loop(plays, kit) => of_loop(plays, kit.index(), order),
            Work::Form(form, kits) => of_form(form, kits, order),
        }
    }
}

fn of_loop(plays: &Loop, kit: &Index, order: &Order) -> Written {
    let score = score::write(plays, kit, order.bars)?;
    let round = Passage {
        song: plays,
        kit,
        parts: &score.parts,
        counted_from: 0.0,
        seconds: score.round,
        pickup: None,
    };
    let rounds = vec![round; order.rounds as usize];
    Ok(song(&plays.title, &rounds, plays.ending == Ending::Repeat)?)
}

fn of_form(form: &Form, kits: &[Kit], order: &Order) -> Written {
    let indices: Vec<&Index> = kits.iter().map(Kit::index).collect();
    let score = score::write_form(form, &indices, order.bars, order.rounds)?;
    let circle = form.ending == Ending::Repeat;
    let passages = score.stretches.iter().enumerate().map(|(number, stretch)| Passage {
        song: &form.sections[stretch.section].plays,
        kit: indices[stretch.section],
        parts: &stretch.parts,
        counted_from: stretch.begins,
        seconds: stretch.ends - stretch.begins,
        pickup: form.pickup.filter(|_| number == 0 && !circle && order.bars.is_none()),
    });
    Ok(song(&form.title, &passages.collect::<Vec<_>>(), circle)?)
}
