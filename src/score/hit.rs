//! A struck one-shot.

use std::borrow::Cow;
use std::sync::Arc;

use super::pitch_curve::PitchCurve;

/// One hit of one part: when, what, how hard, how long.
#[derive(Debug, Clone, PartialEq)]
pub struct Hit {
    /// Seconds from the first bar of its round; may be negative, or past the last bar, by a push or a drift.
    pub at: f64,
    /// Which of the part's pieces.
    pub piece: usize,
    /// The recording, by its number in the kit.
    pub take: usize,
    /// How hard, from 1 to 127.
    pub velocity: f64,
    /// The velocity at which the take sounds at its recorded level: its layer's top.
    pub top: f64,
    /// The take of the neighbouring layer that sounds with it, where its velocity lies between two layers.
    pub neighbour: Option<Neighbour>,
    /// The pitch that is written, as a MIDI key; none for a hit without one.
    pub pitch: Option<i32>,
    /// Semitones against the recording.
    pub tune: f64,
    /// dB on top of what velocity says.
    pub gain_db: f64,
    /// Seconds into the recording at which it starts.
    pub start: f64,
    /// Seconds after which it is released; none: it rings as long as its recording.
    pub length: Option<f64>,
    /// Octaves by which its treble comes down, beside what velocity does.
    pub dull: f64,
    /// Seconds in which its release fades it, where that is another time than its sound's.
    pub release: Option<f64>,
    /// Seconds in which it decays by 60 dB from its onset on, where it is damped as it is struck.
    pub decay: Option<f64>,
    /// How its pitch moves while it sounds; none where it stands still.
    pub curve: Option<Arc<PitchCurve>>,
    /// True where it goes on from the note before, from the part of its recording that is sustained, without its attack. The note
    /// before ends where it begins.
    pub legato: bool,
    /// True for a grace note, which is left out where it would come before the first sample.
    pub grace: bool,
    /// Which hit of its choke group stops it, if one does.
    pub stop: Option<Stop>,
}

impl Hit {
    /// What is played for it: itself and, between two layers, the take of its neighbour, each as a hit of one take.
    pub fn layers(&self) -> impl Iterator<Item = Cow<'_, Hit>> {
        let neighbour = self.neighbour.as_ref().map(|neighbour| Hit {
            take: neighbour.take,
            top: neighbour.top,
            tune: neighbour.tune,
            gain_db: neighbour.gain_db,
            neighbour: None,
            ..self.clone()
        });
        std::iter::once(Cow::Borrowed(self)).chain(neighbour.map(Cow::Owned))
    }
}

/// The take of a layer into which a hit's own layer turns, with what differs from the hit.
#[derive(Debug, Clone, PartialEq)]
pub struct Neighbour {
    /// As [`Hit::take`].
    pub take: usize,
    /// As [`Hit::top`].
    pub top: f64,
    /// As [`Hit::tune`].
    pub tune: f64,
    /// As [`Hit::gain_db`].
    pub gain_db: f64,
}

/// What stops a hit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stop {
    /// A later hit of the same round, so many seconds after it.
    Later(f64),
    /// The first hit of the next round, so many seconds after it; nothing in a last round.
    NextRound(f64),
}

impl Stop {
    /// Seconds after the hit.
    pub fn after(self) -> f64 {
        match self {
            Stop::Later(seconds) | Stop::NextRound(seconds) => seconds,
        }
    }
}
