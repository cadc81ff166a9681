//! The stage: a loop's score with its sounds, its rooms and its time, ready to be mixed.

use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use rayon::prelude::*;

use super::{Progress, frames};
use crate::base::audio::Audio;
use crate::base::stages::{all, join};
use crate::kit::audio::decode::check;
use crate::kit::audio::decode::decode;
use crate::kit::audio::resampling::resample;
use crate::kit::{Recording, file_name, told_seconds};
use crate::loopfile::limits::{LONGEST_IMPULSE, LONGEST_RING};
use crate::loopfile::{Ending, Impulse, Loop, SpaceKind, Target};
use crate::mix::engine::inputs::{Mixer, Sharing, Source, Stereo};
use crate::mix::engine::mixer::Sums;
use crate::mix::spaces::{self, Answer};
use crate::mix::strip::sweep::{Clock, Moves, moves};
use crate::mix::{MasterSideChain, SideChains, Span};
use crate::render_cache::{CacheEntry, CacheKey, Turn};
use crate::score::Score;
use crate::sound::{Bank, Dry, DryReader, Extent, Player, Rounds};
use crate::text::{Problem, Problems};

/// What renders share, and what stands there for the recordings of a kit by their numbers.
#[derive(Clone, Copy)]
pub(super) struct Shared<'a> {
    /// The turn in which it is asked for.
    pub turn: &'a Turn,
    pub takes: &'a [Option<CacheKey>],
    /// True where nothing but sounds and rooms is worth keeping: in one render, whose sections sound different.
    pub sounds_alone: bool,
}

/// Everything that a mix of some rounds needs.
pub(super) struct Stage<'a> {
    pub(super) song: &'a Loop,
    pub(super) score: &'a Score,
    pub(super) bank: Bank,
    pub(super) spaces: Vec<Answer<'a>>,
    time: Rounds,
    pub(super) span: Span,
    channels: Vec<usize>,
    /// True for each part that plays anything.
    plays: Vec<bool>,
    /// What is ducked under, followed once for all runs.
    pub(super) keys: OnceLock<Arc<SideChains>>,
    pub(super) rate: u32,
    /// True where each bus is measured while it is mixed.
    pub(super) measures: bool,
    /// What is the cache key for each part's dry audio, where more than sounds is shared.
    sources: Vec<CacheKey>,
    dry: Vec<Played>,
}

/// A part's dry audio: what came of asking for it, and what it then is; none where a player plays it whenever it is needed.
#[derive(Default)]
struct Played {
    asked: Mutex<Option<CacheEntry<Dry>>>,
    dry: OnceLock<Option<Arc<Dry>>>,
}

impl<'a> Stage<'a> {
    /// Sets up rounds of a score on a kit's recordings: the steady state of one round on a circle, or a line with its ring.
    pub(super) fn set(
        song: &'a Loop,
        recordings: &[Option<Arc<Recording>>],
        score: &'a Score,
        rounds: u32,
        rate: u32,
        circle: bool,
        shared: Option<Shared>,
    ) -> Result<Stage<'a>, Problems> {
        let of_space = |number: usize| match &song.spaces[number].kind {
            SpaceKind::Impulse(settings) => impulse(settings, rate),
            _ => Ok(Audio::default()),
        };
        let length = frames(score.round * f64::from(rounds), rate);
        let time = if circle {
            Rounds::Circle { frames: length }
        } else {
            Rounds::Line {
                rounds,
                length: score.round * f64::from(rate),
            }
        };
        let extent = Extent::of(song, time, rate);
        let (bank, spaces) = match shared {
            None => {
                let fill = || Bank::fill(song, score, recordings, extent);
                let (bank, spaces) = join(("sounds", fill), ("responses", || Answer::all(song, rate, of_space)));
                (bank, spaces?)
            }
            Some(Shared { turn, takes, .. }) => {
                let file = |number: usize| match &song.spaces[number].kind {
                    SpaceKind::Impulse(settings) => file_name(&settings.file, rate),
                    _ => CacheKey::of(&()),
                };
                let fill = || Bank::fill_from(turn, takes, song, score, recordings, extent);
                let responses = || Answer::all_from(turn, song, rate, file, of_space);
                let (bank, spaces) = join(("sounds", fill), ("responses", responses));
                let spaces = spaces?;
                bank.keep(turn);
                spaces.iter().for_each(|space| space.keep(turn));
                (bank, spaces)
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
            plays: score.parts.iter().map(|hits| !hits.is_empty()).collect(),
            keys: OnceLock::new(),
            rate,
            measures: false,
            sources: Vec::new(),
            dry: song.parts.iter().map(|_| Played::default()).collect(),
        };
        if !circle && song.ending != Ending::Damp {
            stage.span.frames += stage.ring(length);
        }
        if shared.is_some_and(|shared| !shared.sounds_alone) {
            let whole = (time, rate, stage.span.frames);
            let parts = 0..song.parts.len();
            stage.sources = parts
                .map(|part| Dry::name(song, score, part, &stage.bank, whole))
                .collect();
        }
        Ok(stage)
    }

    fn open(&self, part: usize, from: i64) -> Player {
        Player::new(self.song, self.score, part, &self.bank, self.time, self.rate, from)
    }

    /// Asks for a part's dry audio, which a mix is going to open.
    pub(super) fn ask_dry(&self, turn: &Turn, part: usize) {
        if !turn.is_sparing() {
            let bytes = Dry::bytes(self.channels[part], self.span.frames);
            let mut asked = self.dry[part].asked.lock().unwrap_or_else(PoisonError::into_inner);
            *asked = Some(turn.ask(self.sources[part], bytes));
        }
    }

    /// A part's dry audio: as it is kept or, into the place that there is for it, played now; else from a player.
    fn source(&self, part: usize, from: i64) -> Box<dyn Source + '_> {
        let played = &self.dry[part];
        let dry = played.dry.get_or_init(|| {
            let asked = played.asked.lock().unwrap_or_else(PoisonError::into_inner).take()?;
            let kept = !matches!(asked, CacheEntry::NoRoom);
            kept.then(|| asked.get_or(|| Dry::play(self.open(part, 0), self.span.frames)))
        });
        match dry {
            None => Box::new(self.open(part, from)),
            Some(dry) => {
                let beyond = self.span.frames as i64;
                Box::new(DryReader::new(dry.clone(), self.span.circle, from, move || {
                    self.open(part, beyond)
                }))
            }
        }
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
    pub(super) fn at_desk<T>(&self, progress: &Progress, work: impl FnOnce(&Mixer) -> T) -> T {
        self.at_desk_in(None, progress, work)
    }

    /// The same in a turn, where there is one.
    pub(super) fn at_desk_in<T>(&self, turn: Option<&Turn>, progress: &Progress, work: impl FnOnce(&Mixer) -> T) -> T {
        let open = |part: usize, from: i64| match turn {
            // What dry audio there will be is not there yet, and a turn waits for nobody.
            Some(_) => Box::new(self.open(part, from)) as Box<dyn Source + '_>,
            None => self.source(part, from),
        };
        let (song, channels, span, rate) = (self.song, &self.channels[..], self.span, self.rate);
        let mut desk = Mixer {
            song,
            channels,
            plays: &self.plays,
            open: &open,
            span,
            clock: self.clock(),
            rate,
            progress,
            keys: Default::default(),
            measures: self.measures,
            sharing: turn.map(|turn| Sharing {
                turn,
                sources: &self.sources,
            }),
        };
        match self.keys.get() {
            Some(keys) => desk.keys = keys.clone(),
            None => desk = desk.with_keys(),
        }
        let _ = self.keys.set(desk.keys.clone());
        work(&desk)
    }

    /// What the master ducks under, once the mix is made.
    pub(super) fn under_master(&self) -> Option<MasterSideChain> {
        self.keys.get()?.under(self.song.master.duck.as_ref()?, self.span)
    }

    /// What moves in a strip, or in the level of a room or delay.
    pub(super) fn moves(&self, target: Target) -> Option<Moves> {
        moves(self.song, target, self.clock(), self.rate)
    }

    /// Where in the loop a frame is.
    pub(super) fn clock(&self) -> Clock {
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

    /// Makes the rooms ready for what they are going to be sent.
    pub(super) fn prepare(&self) {
        for (number, space) in self.spaces.iter().enumerate() {
            space.prepare(self.span, self.moves(Target::Space(number)).is_some());
        }
    }

    /// The dry sum with what the rooms and delays answer.
    pub(super) fn answered(&self, sums: &mut Sums) -> Audio {
        let mut signals = sums.signals.iter_mut().map(|sum| sum.take().unwrap_or_default());
        let mut audio = signals.next().map(Arc::unwrap_or_clone).unwrap_or_default();
        let sends = signals.enumerate();
        let (delays, rooms): (Vec<_>, Vec<_>) = sends.partition(|(number, _)| self.spaces[*number].echoes());
        let moves = |number| self.moves(Target::Space(number));
        // A room keeps all cores busy, a delay one: so it goes along with the rooms.
        let ((), echoes) = join(
            ("rooms", || {
                for (number, send) in rooms {
                    self.spaces[number].add(send, self.span, moves(number), &mut audio);
                }
            }),
            ("delays", || {
                let signal = |(number, send): (usize, _)| {
                    let back = self.spaces[number].signal(send, self.span, moves(number).is_some());
                    (number, back)
                };
                all("delay", delays.into_par_iter(), signal)
            }),
        );
        for (number, back) in &echoes {
            spaces::add_back(back, moves(*number), &mut audio);
        }
        self.audio(audio)
    }

    /// The order in which answers are added: the loop's, but delays after rooms.
    pub(super) fn in_turn(&self) -> Vec<usize> {
        let mut numbers: Vec<usize> = (0..self.spaces.len()).collect();
        numbers.sort_by_key(|number| self.spaces[*number].echoes());
        numbers
    }

    pub(super) fn audio(&self, sides: Stereo) -> Audio {
        Audio {
            channels: sides.into(),
            rate: self.rate,
        }
    }
}

impl Source for Player {
    fn fill(&mut self, block: &mut [&mut [f32]]) -> bool {
        Player::fill(self, block)
    }
}

impl Source for DryReader<'_> {
    fn fill(&mut self, block: &mut [&mut [f32]]) -> bool {
        DryReader::fill(self, block);
        block.iter().any(|side| side.iter().any(|sample| *sample != 0.0))
    }
}

/// A recorded impulse response, at the render's rate.
///
/// # Errors
/// One that can't be read, or lasts longer than [`LONGEST_IMPULSE`].
fn impulse(settings: &Impulse, rate: u32) -> Result<Audio, Problem> {
    told_seconds(&settings.file).map_or(Ok(()), |seconds| bearable(settings, seconds))?;
    let decoded = decode(&settings.file).map_err(|unread| unread.at(&settings.place, &settings.file))?;
    // Not every header tells, nor the truth.
    bearable(settings, decoded.audio.seconds())?;
    Ok(resample(&decoded.audio, rate))
}

/// Refuses a recorded impulse response that a render would refuse, and decodes only what its header leaves open.
pub(super) fn check_impulse(settings: &Impulse) -> Result<(), Problem> {
    told_seconds(&settings.file).map_or(Ok(()), |seconds| bearable(settings, seconds))?;
    let told = check(&settings.file).map_err(|unread| unread.at(&settings.place, &settings.file))?;
    bearable(settings, told.seconds)
}

fn bearable(settings: &Impulse, seconds: f64) -> Result<(), Problem> {
    match seconds <= LONGEST_IMPULSE {
        true => Ok(()),
        false => Err(too_long(settings, seconds)),
    }
}

fn too_long(settings: &Impulse, seconds: f64) -> Problem {
    let file = settings.file.display();
    let what = format!("`{file}` lasts {seconds:.1} s; an impulse response of {LONGEST_IMPULSE} s is the most");
    Problem::at(&settings.place, what).help("cut it where it has died away")
}
