//! How far into its sound each hit plays: what lies behind that need not be made.

use super::envelope::Ends;
use super::rounds::Rounds;
use crate::loopfile::limits::LONGEST_RING;
use crate::loopfile::{Ending, Envelope, Loop, Sound};
use crate::score::{Hit, Stop};

/// Seconds by which strips may ask for a part's audio ahead of what they give: far more than all latencies on a way of
/// the most buses.
const AHEAD: f64 = 2.0;

/// The time in which hits are audible.
#[derive(Debug, Clone, Copy)]
pub struct Extent {
    time: Rounds,
    rate: u32,
    /// The frame of a line from which on nothing is audible.
    ends: Option<f64>,
    /// The frames that any hit plays at the most, where that is known.
    most: Option<usize>,
}

impl Extent {
    /// The extent of some rounds of a loop: on a circle every hit plays out, on a line until the loop ends or has rung out.
    pub fn of(song: &Loop, time: Rounds, rate: u32) -> Extent {
        let ring = if song.ending == Ending::Damp { 0.0 } else { LONGEST_RING };
        let ends = match time {
            Rounds::Circle { .. } => None,
            Rounds::Line { rounds, length } => Some(f64::from(rounds) * length + (ring + AHEAD) * f64::from(rate)),
        };
        Extent {
            time,
            rate,
            ends,
            most: None,
        }
    }

    /// The extent of hits of which so many frames are looked at, on a line.
    pub fn of_onsets(frames: usize, rate: u32) -> Extent {
        let time = Rounds::Line {
            rounds: 1,
            length: frames as f64,
        };
        Extent {
            time,
            rate,
            ends: None,
            most: Some(frames),
        }
    }

    /// Frames per second.
    pub(super) fn rate(&self) -> u32 {
        self.rate
    }

    /// Frames from the beginning of its sound that a hit may play at the most, those that it leaves out counted; none where it
    /// plays out. `start` is how many of them it leaves out.
    pub(super) fn frames(&self, sound: &Sound, hit: &Hit, start: usize) -> Option<usize> {
        let (rate, line) = (self.rate, matches!(self.time, Rounds::Line { .. }));
        let stopped = stopped(hit, line, rate);
        let ends = Ends::new(envelope(sound, hit).as_ref(), stopped, released(hit, sound, rate), rate).frame();
        // The first of its rounds is the one with the most time left.
        let left = |end: f64| (end - self.time.frame(0, hit.at, rate) as f64).max(0.0) as usize;
        let bounds = [ends, self.ends.map(left), self.most];
        let frames = bounds.into_iter().flatten().min()?;
        Some(start + frames)
    }
}

/// The envelope of a hit, if it has one: without an attack where it goes on from another, with a short decay where it is damped.
pub(super) fn envelope(sound: &Sound, hit: &Hit) -> Option<Envelope> {
    let own = sound.envelope.clone();
    let attack = own.as_ref().map_or(0.0, |own| own.attack);
    let own = match hit.decay {
        Some(decay) => Some(Envelope {
            attack: attack.min(decay / 2.0),
            hold: 0.0,
            decay: Some(decay),
        }),
        None => own,
    };
    own.map(|own| Envelope {
        attack: if hit.legato { 0.0 } else { own.attack },
        ..own
    })
}

/// Frames after which a hit is choked, if it is; in a last round nothing of a next one stops it.
pub(super) fn stopped(hit: &Hit, last: bool, rate: u32) -> Option<usize> {
    match hit.stop? {
        Stop::NextRound(_) if last => None,
        stop => Some((stop.after() * f64::from(rate)).round() as usize),
    }
}

/// Frames after which a hit is released, if it is, and the seconds that this takes.
pub(super) fn released(hit: &Hit, sound: &Sound, rate: u32) -> Option<(usize, f64)> {
    let length = hit.length?;
    Some((
        (length * f64::from(rate)).round() as usize,
        hit.release.unwrap_or(sound.release),
    ))
}
