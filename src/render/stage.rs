//! The stage: a loop's score with its sounds, its rooms and its time, ready to be mixed.

use std::sync::{Arc, OnceLock};

use rayon::prelude::*;

use super::{LONGEST_RING, Mixed, PartReport, Progress, frames};
use crate::audio::Audio;
use crate::kit::{decode, resample};
use crate::loopfile::{Ending, Impulse, Loop, SpaceKind, Target};
use crate::mix::desk::{Desk, Run, Source, Sums};
use crate::mix::spaces::Answer;
use crate::mix::sweep::{Clock, Moves, moves};
use crate::mix::{Keys, Span};
use crate::score::Score;
use crate::sound::{Bank, Player, Rounds};
use crate::text::{Problem, Problems};

/// Everything that a mix of some rounds needs.
pub(super) struct Stage<'a> {
    song: &'a Loop,
    score: &'a Score,
    bank: Arc<Bank>,
    spaces: Vec<Answer<'a>>,
    time: Rounds,
    span: Span,
    channels: Vec<usize>,
    /// What is ducked under, followed once for all runs.
    keys: OnceLock<Arc<Keys>>,
    rate: u32,
}

impl<'a> Stage<'a> {
    /// Sets up rounds of a score with its sounds: the steady state of one round on a circle, or a line with its ring.
    pub fn set(
        song: &'a Loop,
        bank: Arc<Bank>,
        score: &'a Score,
        rounds: u32,
        rate: u32,
        circle: bool,
    ) -> Result<Stage<'a>, Problems> {
        let spaces = Answer::all(song, rate, |number| match &song.spaces[number].kind {
            SpaceKind::Impulse(settings) => impulse(settings, rate),
            _ => Ok(Audio::default()),
        })?;
        let length = frames(score.round * f64::from(rounds), rate);
        let time = if circle {
            Rounds::Circle { frames: length }
        } else {
            Rounds::Line {
                rounds,
                length: score.round * f64::from(rate),
            }
        };
        let channels = score
            .parts
            .iter()
            .enumerate()
            .map(|(part, hits)| bank.channels(song, part, hits))
            .collect();
        let mut stage = Stage {
            song,
            score,
            bank,
            spaces,
            time,
            span: Span { frames: length, circle },
            channels,
            keys: OnceLock::new(),
            rate,
        };
        if !circle && song.ending != Ending::Damp {
            stage.span.frames += stage.ring(length);
        }
        Ok(stage)
    }

    fn open(&self, part: usize, from: i64) -> Player {
        Player::new(self.song, self.score, part, &self.bank, self.time, self.rate, from)
    }

    /// Frames that a line needs after its last bar until everything has rung out, as far as can be told beforehand.
    fn ring(&self, length: usize) -> usize {
        let last = (0..self.song.parts.len())
            .into_par_iter()
            .map(|part| self.open(part, 0).end())
            .max()
            .unwrap_or(0);
        let rooms = self.spaces.iter().map(Answer::ring).max().unwrap_or(0);
        // A second for filters and fading gains behind the last hit, and for what `let ring` leaves of silence.
        let after = (last + rooms + self.rate as usize).saturating_sub(length);
        after.min((LONGEST_RING * f64::from(self.rate)) as usize)
    }

    /// Calls `work` with a desk for this stage.
    pub fn at_desk<T>(&self, progress: &Progress, work: impl FnOnce(&Desk) -> T) -> T {
        let open = |part: usize, from: i64| -> Box<dyn Source + '_> { Box::new(self.open(part, from)) };
        let (song, channels, span, rate) = (self.song, &self.channels[..], self.span, self.rate);
        let mut desk = Desk {
            song,
            channels,
            open: &open,
            span,
            clock: self.clock(),
            rate,
            progress,
            keys: Default::default(),
        };
        match self.keys.get() {
            Some(keys) => desk.keys = keys.clone(),
            None => desk = desk.with_keys(),
        }
        let _ = self.keys.set(desk.keys.clone());
        work(&desk)
    }

    /// Mixes everything before the master.
    pub fn mix(&self, progress: &Progress) -> Mixed {
        let mut sums = self.at_desk(progress, |desk| desk.run(Run::Whole));
        let audio = self.answered(&mut sums);
        let parts = self.song.parts.iter().zip(&self.score.parts).zip(sums.part_peaks);
        let report = |((part, hits), peak): ((&crate::loopfile::Part, &Vec<_>), f32)| PartReport {
            name: part.name.clone(),
            hits: hits.len(),
            peak,
            silenced: part.silenced,
        };
        let buses = self
            .song
            .buses
            .iter()
            .map(|bus| bus.name.clone())
            .zip(sums.bus_reductions)
            .collect();
        Mixed {
            audio,
            parts: parts.map(report).collect(),
            buses,
            oddities: Vec::new(),
        }
    }

    /// What moves in a strip, or in the level of a room or delay.
    pub fn moves(&self, target: Target) -> Option<Moves> {
        moves(self.song, target, self.clock(), self.rate)
    }

    /// Where in the loop a frame is.
    fn clock(&self) -> Clock {
        let cycle = &self.score.cycle;
        let rate = f64::from(self.rate);
        let (round, times) = match self.time {
            Rounds::Circle { frames } => (frames as f64, None),
            Rounds::Line { rounds, .. } => (cycle.seconds * rate, Some(rounds * cycle.times)),
        };
        Clock {
            begins: cycle.begins * rate,
            round,
            times,
            first: f64::from(cycle.first),
            bars: f64::from(cycle.bars),
        }
    }

    /// The dry sum with what the rooms and delays answer.
    pub fn answered(&self, sums: &mut Sums) -> Audio {
        let mut audio = std::mem::take(&mut sums.dry);
        // A send goes as soon as it has been answered: over many bars each is much to keep.
        let sends = std::mem::take(&mut sums.sends);
        for (number, (space, send)) in self.spaces.iter().zip(sends).enumerate() {
            space.add(&send, self.span, self.moves(Target::Space(number)), &mut audio);
        }
        Audio {
            channels: audio.into(),
            rate: self.rate,
        }
    }
}

impl Source for Player {
    fn fill(&mut self, block: &mut [&mut [f32]]) {
        Player::fill(self, block);
    }
}

/// A recorded impulse response, at the render's rate.
fn impulse(settings: &Impulse, rate: u32) -> Result<Audio, Problem> {
    let decoded = decode(&settings.file).map_err(|unread| unread.at(&settings.place, &settings.file))?;
    Ok(resample(&decoded.audio, rate))
}
