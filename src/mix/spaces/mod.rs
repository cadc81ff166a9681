//! Rooms and delays, ready to answer what they are sent.
//!
//! A room is an impulse response, synthesised or recorded, and [`convolution`]; a delay is a line with feedback. In: the sum of
//! all sends over the whole time. Out: what comes back from it. It knows nothing of strips.

pub mod convolution;
pub mod delay;
pub(crate) mod early_reflections;
pub(crate) mod late_reverb;
pub mod room;

use std::sync::{Arc, OnceLock};

use rayon::prelude::*;

use super::engine::cache_keys::{Moving, moving};
use super::engine::inputs::Stereo;
use super::engine::time::Span;
use super::strip::sweep::{Clock, Moves};
use crate::base::audio::{Audio, gain_of_db};
use crate::base::stages::each;
use crate::loopfile::{Delay, Field, Loop, Room, Space, SpaceKind, Target};
use crate::render_cache::{CacheKey, Turn};
use convolution::{Convolution, Shape};
use room::{Response, recorded, synthesise};

/// One room or delay, prepared for a rate.
pub(crate) struct Answer<'a> {
    space: &'a Space,
    response: Arc<Option<Response>>,
    /// The response, ready for sends of the mix's length, once that has been asked for.
    ready: OnceLock<Convolution>,
    /// What stands for what it is in the cache, where there is one.
    name: Option<CacheKey>,
    rate: u32,
}

/// What a room or delay is, but for its level. A recorded one goes by the name of its recording.
#[derive(Debug, PartialEq)]
enum Kind {
    Room(Room, u32),
    Impulse(CacheKey, f64, Option<f64>),
    Delay(Delay, u32),
}

/// Everything that an answer comes from; no level where it moves.
#[derive(Debug, PartialEq)]
struct Answered {
    kind: CacheKey,
    send: CacheKey,
    level_db: Option<f64>,
    span: Span,
}

/// The dry sum and the answers to it, each with what moves its level.
#[derive(Debug, PartialEq)]
struct Whole {
    dry: CacheKey,
    answers: Vec<(CacheKey, Moving)>,
}

/// The names of the answers to the sends in `sums` (the dry sum first), and of all of them with the dry sum.
///
/// # Panics
/// Where the answers were not prepared from a render cache.
pub(crate) fn names(
    song: &Loop,
    clock: Clock,
    answers: &[Answer],
    sums: &[CacheKey],
    span: Span,
) -> (Vec<CacheKey>, CacheKey) {
    let mut named = Vec::new();
    for (number, (answer, send)) in answers.iter().zip(&sums[1..]).enumerate() {
        let moves = moving(song, clock, Target::Space(number), |_| true);
        let name = CacheKey::of(&Answered {
            kind: answer.name.expect("an answer prepared from a keep has a name"),
            send: *send,
            level_db: moves.is_none().then_some(answer.space.level_db),
            span,
        });
        named.push((name, moves));
    }
    let names = named.iter().map(|(name, _)| *name).collect();
    let whole = CacheKey::of(&Whole {
        dry: sums[0],
        answers: named,
    });
    (names, whole)
}

impl<'a> Answer<'a> {
    /// Prepares every room and delay of a loop. `impulse` gives the recorded impulse response of a room, by the
    /// room's number, at the rate of the render.
    ///
    /// # Errors
    /// Whatever `impulse` finds wrong.
    pub(crate) fn all<E>(
        song: &'a Loop,
        rate: u32,
        impulse: impl Fn(usize) -> Result<Audio, E>,
    ) -> Result<Vec<Answer<'a>>, E> {
        let prepared = song.spaces.iter().enumerate().map(|(number, space)| {
            let response = response(space, rate, || impulse(number))?;
            Ok(Answer {
                space,
                response: Arc::new(response),
                ready: OnceLock::new(),
                name: None,
                rate,
            })
        });
        prepared.collect()
    }

    /// The same in a turn at a render cache, in which `recording` stands for the recorded impulse response of a room.
    ///
    /// # Errors
    /// As [`Answer::all`].
    pub(crate) fn all_from<E>(
        turn: &Turn,
        song: &'a Loop,
        rate: u32,
        recording: impl Fn(usize) -> CacheKey,
        impulse: impl Fn(usize) -> Result<Audio, E>,
    ) -> Result<Vec<Answer<'a>>, E> {
        let tally = turn.tally();
        let prepared = song.spaces.iter().enumerate().map(|(number, space)| {
            let name = CacheKey::of(&match &space.kind {
                SpaceKind::Room(room) => Kind::Room(room.clone(), rate),
                SpaceKind::Impulse(settings) => Kind::Impulse(recording(number), settings.predelay, settings.low_cut),
                SpaceKind::Delay(delay) => Kind::Delay(delay.clone(), rate),
            });
            let made = || {
                tally.add("responses", 1);
                response(space, rate, || impulse(number)).map(Arc::new)
            };
            let kept = turn.find(name).and_then(|kept| kept.get());
            let response = kept.map_or_else(made, Ok)?;
            Ok(Answer {
                space,
                response,
                ready: OnceLock::new(),
                name: Some(name),
                rate,
            })
        });
        prepared.collect()
    }

    /// Keeps what it answers by, where that was prepared in a turn.
    pub(crate) fn keep(&self, turn: &Turn) {
        if let Some(name) = self.name {
            let bytes = self.response.as_ref().as_ref().map_or(0, Response::bytes);
            turn.put(name, &self.response, bytes);
        }
    }

    /// Makes ready whatever needs no send to be known, so that it may be done while the sends are mixed.
    pub(crate) fn prepare(&self, span: Span, moves: bool) {
        if let Some(response) = &*self.response {
            self.ready(response, span, moves);
        }
    }

    fn ready(&self, response: &Response, span: Span, moves: bool) -> &Convolution {
        self.ready.get_or_init(|| {
            let gain = gain_of_db(self.level_db(moves)) as f32;
            Convolution::new(response, span.frames, span.frames, shape(span), gain)
        })
    }

    /// The level at which it answers: where that moves, it is given later.
    fn level_db(&self, moves: bool) -> f64 {
        if moves { 0.0 } else { self.space.level_db }
    }

    /// What comes back from a send, at the level that the loop gives it or, where that moves, at 0 dB: a signal of its
    /// own, empty where nothing comes. A send that nobody else needs gives its place to it.
    pub(crate) fn signal(&self, send: Arc<Stereo>, span: Span, moves: bool) -> Stereo {
        let level_db = self.level_db(moves);
        if self.is_silent(level_db, &send) {
            return Stereo::default();
        }
        match (&*self.response, &self.space.kind) {
            (Some(response), _) => {
                let mut back = [vec![0.0; span.frames], vec![0.0; span.frames]];
                self.ready(response, span, moves).add(&send, &mut back);
                back
            }
            (None, SpaceKind::Delay(settings)) => {
                let mut sides = Arc::unwrap_or_clone(send);
                delay::answer(
                    settings,
                    self.rate,
                    &mut sides,
                    shape(span),
                    gain_of_db(level_db) as f32,
                );
                sides
            }
            (None, _) => Stereo::default(),
        }
    }

    /// True for a delay, whose echoes one core makes from front to back.
    pub(crate) fn echoes(&self) -> bool {
        matches!(self.space.kind, SpaceKind::Delay(_))
    }

    /// Frames for which it goes on after its send has ended.
    pub(crate) fn ring(&self) -> usize {
        match (&*self.response, &self.space.kind) {
            (Some(response), _) => response.frames(),
            (None, SpaceKind::Delay(settings)) => (delay::ring_seconds(settings) * f64::from(self.rate)) as usize,
            (None, _) => 0,
        }
    }

    /// Adds what comes back from a send to a mix, at a level that may move.
    pub(crate) fn add(&self, send: Arc<Stereo>, span: Span, moves: Option<Moves>, mix: &mut Stereo) {
        match (&*self.response, &moves) {
            (Some(response), None) if !self.is_silent(self.space.level_db, &send) => {
                self.ready(response, span, false).add(&send, mix);
            }
            _ => add_back(&self.signal(send, span, moves.is_some()), moves, mix),
        }
    }

    fn is_silent(&self, level_db: f64, send: &Stereo) -> bool {
        let silent = |side: &Vec<f32>| side.iter().all(|sample| *sample == 0.0);
        gain_of_db(level_db) as f32 == 0.0 || send.iter().all(silent)
    }
}

/// What lies at the ends of a send in a mix of some time.
fn shape(span: Span) -> Shape {
    if span.circle { Shape::Circle } else { Shape::Line }
}

/// Adds what came back from a send to a mix; with `moves`, at the level that moves.
pub(crate) fn add_back(back: &Stereo, moves: Option<Moves>, mix: &mut Stereo) {
    let mut gains = Vec::new();
    if let Some(moves) = &moves {
        moves.gains(Field::Level, 0, &mut gains, back[0].len());
    }
    each("add back", mix.par_iter_mut().zip(back), |(mix, back)| {
        let pairs = mix.iter_mut().zip(back);
        match moves {
            Some(_) => pairs
                .zip(&gains)
                .for_each(|((sum, sample), gain)| *sum += sample * gain),
            None => pairs.for_each(|(sum, sample)| *sum += sample),
        }
    });
}

fn response<E>(space: &Space, rate: u32, impulse: impl FnOnce() -> Result<Audio, E>) -> Result<Option<Response>, E> {
    Ok(match &space.kind {
        SpaceKind::Room(room) => Some(synthesise(room, rate)),
        SpaceKind::Impulse(settings) => Some(recorded(&impulse()?, settings)),
        SpaceKind::Delay(_) => None,
    })
}
