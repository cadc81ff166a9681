//! The rooms and delays of a loop, ready to answer what they are sent.

use super::convolve::{self, Shape};
use super::room::{Response, recorded, synthesise};
use super::sweep::Moves;
use super::{delay, time::Span};
use crate::audio::{Audio, gain_of_db};
use crate::loopfile::{Field, Loop, Space, SpaceKind};

/// One room or delay, prepared for a rate.
pub struct Answer<'a> {
    space: &'a Space,
    response: Option<Response>,
    rate: u32,
}

impl<'a> Answer<'a> {
    /// Prepares every room and delay of a loop. `impulse` gives the recorded impulse response of a room, by the
    /// room's number, at the rate of the render.
    ///
    /// # Errors
    /// Whatever `impulse` finds wrong.
    pub fn all<E>(
        song: &'a Loop,
        rate: u32,
        impulse: impl Fn(usize) -> Result<Audio, E>,
    ) -> Result<Vec<Answer<'a>>, E> {
        let mut answers = Vec::new();
        for (number, space) in song.spaces.iter().enumerate() {
            let response = match &space.kind {
                SpaceKind::Room(room) => Some(synthesise(room, rate)),
                SpaceKind::Impulse(settings) => Some(recorded(&impulse(number)?, settings)),
                SpaceKind::Delay(_) => None,
            };
            answers.push(Answer { space, response, rate });
        }
        Ok(answers)
    }

    /// Frames for which it goes on after its send has ended.
    pub fn ring(&self) -> usize {
        match (&self.response, &self.space.kind) {
            (Some(response), _) => response.frames(),
            (None, SpaceKind::Delay(settings)) => (delay::ring_seconds(settings) * f64::from(self.rate)) as usize,
            (None, _) => 0,
        }
    }

    /// Adds what comes back from a send to a mix, at a level that may move.
    pub fn add(&self, send: &[Vec<f32>; 2], span: Span, moves: Option<Moves>, mix: &mut [Vec<f32>; 2]) {
        let Some(moves) = moves else {
            return self.add_at(self.space.level_db, send, span, mix);
        };
        let mut back = [vec![0.0; span.frames], vec![0.0; span.frames]];
        self.add_at(0.0, send, span, &mut back);
        let mut gains = Vec::new();
        moves.gains(Field::Level, 0, &mut gains, span.frames);
        for (mix, back) in mix.iter_mut().zip(&back) {
            mix.iter_mut()
                .zip(back)
                .zip(&gains)
                .for_each(|((sum, sample), gain)| *sum += sample * gain);
        }
    }

    fn add_at(&self, level_db: f64, send: &[Vec<f32>; 2], span: Span, mix: &mut [Vec<f32>; 2]) {
        let gain = gain_of_db(level_db) as f32;
        let silent = |side: &Vec<f32>| side.iter().all(|sample| *sample == 0.0);
        if gain == 0.0 || send.iter().all(silent) {
            return;
        }
        let shape = if span.circle { Shape::Circle } else { Shape::Line };
        match (&self.response, &self.space.kind) {
            (Some(response), _) => convolve::add(response, send, shape, gain, mix),
            (None, SpaceKind::Delay(settings)) => delay::add(settings, self.rate, send, shape, gain, mix),
            (None, _) => {}
        }
    }
}
