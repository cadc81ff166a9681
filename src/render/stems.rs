//! Stems: parts or buses as files of their own.

use super::stage::Stage;
use super::{Order, cut_off, frames, repeat, suits};
use crate::base::audio::Audio;
use crate::kit::Kit;
use crate::loopfile::{Ending, Loop};
use crate::mix::engine::inputs::Run;
use crate::score;
use crate::text::{Problem, Problems};

/// What becomes a stem.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stems {
    /// Every part, through its buses with the gains that the whole buses had, and with its own sends: where no bus is
    /// driven, the stems sum to the mix before the master.
    Parts,
    /// Every bus that goes to the master, with all that feeds it, and every part that goes there by itself.
    Buses,
    /// Every part through its own strip alone: no buses, no rooms, no delays.
    Dry,
}

/// Renders stems one by one, each as long as the finished mix (`length` frames), and hands them on with their names.
///
/// # Errors
/// As [`super::render`], and whatever `each` finds wrong.
pub(crate) fn stems(
    song: &Loop,
    kit: &Kit,
    order: &Order,
    what: Stems,
    length: usize,
    mut each: impl FnMut(&str, Audio) -> Result<(), Problem>,
) -> Result<(), Problems> {
    suits(&song.centres, order.rate)?;
    let score = score::write(song, kit.index(), order.bars)?;
    let circle = song.ending == Ending::Repeat;
    let rounds = if circle { 1 } else { order.rounds };
    let plain = without_buses(song);
    let song = if what == Stems::Dry { &plain } else { song };
    let recordings = kit.load(&score.takes(song), order.rate)?;
    let stage = Stage::set(song, &recordings, &score, rounds, order.rate, circle, None)?;
    stage.at_desk(&|_| (), |desk| {
        let gains = desk.run(Run::Keeping).gains;
        for (name, members) in groups(song, what) {
            let mut sums = desk.run(Run::Stem(&members, &gains));
            let mut audio = stage.answered(&mut sums);
            if song.ending == Ending::Damp {
                cut_off(&mut audio, frames(score.round * f64::from(rounds), order.rate));
            }
            if circle {
                repeat(&mut audio, order.rounds);
            }
            audio.channels.iter_mut().for_each(|side| side.resize(length, 0.0));
            each(&name, audio)?;
        }
        Ok(())
    })
}

/// The names of a loop's stems.
pub(crate) fn stem_names(song: &Loop, what: Stems) -> Vec<String> {
    groups(song, what).into_iter().map(|(name, _)| name).collect()
}

/// The stems with their names and, for each part, whether it is in.
pub(super) fn groups(song: &Loop, what: Stems) -> Vec<(String, Vec<bool>)> {
    let heard = |part: &usize| !song.parts[*part].silenced;
    let alone = |part: usize| {
        (
            song.parts[part].name.clone(),
            (0..song.parts.len()).map(|other| other == part).collect(),
        )
    };
    let parts = || (0..song.parts.len()).filter(heard);
    if what != Stems::Buses {
        return parts().map(alone).collect();
    }
    let outermost = |part: usize| {
        let first = song.parts[part].bus;
        std::iter::successors(first, |bus| song.buses[*bus].bus).last()
    };
    let bus = |bus: usize| {
        let members: Vec<bool> = (0..song.parts.len()).map(|part| outermost(part) == Some(bus)).collect();
        (song.buses[bus].name.clone(), members)
    };
    let buses = (0..song.buses.len())
        .filter(|bus| song.buses[*bus].bus.is_none())
        .map(bus);
    let buses = buses.filter(|(_, members)| members.iter().any(|member| *member));
    buses
        .chain(parts().filter(|part| song.parts[*part].bus.is_none()).map(alone))
        .collect()
}

/// The loop with every part straight to the master and sent nowhere.
pub(super) fn without_buses(song: &Loop) -> Loop {
    let mut plain = song.clone();
    for part in &mut plain.parts {
        part.bus = None;
        part.strip.sends.clear();
    }
    plain.buses.clear();
    plain.spaces.clear();
    plain
}
