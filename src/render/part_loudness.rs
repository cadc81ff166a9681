//! How loud each part is where it plays, as it goes into its bus.

use super::stage::Stage;
use super::stems::without_buses;
use super::{Order, load, prepared};
use crate::kit::Kit;
use crate::loopfile::{Bus, Ending, Field, Loop, Strip, Sweep, Target};
use crate::text::Problems;

/// How loud a part is, with its doubles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct PartLoudness {
    /// Integrated loudness in LUFS as if its gain were 0 dB, unless a sweep sets that; where it rests is gated. None for silence
    /// and less than 400 ms.
    pub lufs: Option<f64>,
    /// True where a sweep sets its gain, whatever its own is.
    pub swept: bool,
}

/// The loudness of each part that is no double, in the loop's order, behind its strip: one bus for each, and all of them in one
/// go.
///
/// # Errors
/// As [`super::render`].
pub(crate) fn part_loudness(song: &Loop, kit: &Kit, order: &Order) -> Result<Vec<PartLoudness>, Problems> {
    let swept = |part: usize| {
        let mut sweeps = song.sweeps.iter();
        sweeps.any(|sweep| sweep.target == Target::Part(part) && sweep.field == Field::Gain)
    };
    let own: Vec<usize> = (0..song.parts.len()).filter(|part| !song.parts[*part].double).collect();
    let mut apart = without_buses(song);
    apart.master = Strip::plain();
    // Nothing is sent, and the buses are others.
    let stays = |sweep: &Sweep| matches!(sweep.target, Target::Part(_)) && !matches!(sweep.field, Field::Send(_));
    apart.sweeps.retain(stays);
    apart.buses = own.iter().map(|part| plain_bus(&song.parts[*part].name)).collect();
    for part in &mut apart.parts {
        // A double stands where its part does.
        part.bus = own.iter().position(|own| song.parts[*own].place == part.place);
        let gain_db = part.bus.map_or(0.0, |of| song.parts[own[of]].strip.gain_db);
        // Without a part's gain, what is gated does not depend on it.
        if gain_db.is_finite() {
            part.strip.gain_db -= gain_db;
        }
    }
    let circle = song.ending == Ending::Repeat;
    let (score, rounds) = prepared(&apart, kit, order)?;
    let (recordings, _) = load(kit, &score.takes(&apart), order.rate, None)?;
    let mut stage = Stage::set(&apart, &recordings, &score, rounds, order.rate, circle, None)?;
    stage.measures = true;
    let mixed = stage.mix(&|_| (), None);
    let heard = own.iter().zip(mixed.reports.buses);
    Ok(heard
        .map(|(part, bus)| PartLoudness {
            lufs: bus.heard.and_then(|heard| heard.figures().lufs),
            swept: swept(*part),
        })
        .collect())
}

/// A bus that changes nothing.
fn plain_bus(name: &str) -> Bus {
    Bus {
        name: name.to_string(),
        strip: Strip::plain(),
        bus: None,
        silenced: false,
    }
}
