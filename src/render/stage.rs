//! The stage: a loop's score with its sounds, its rooms and its time, ready to be mixed.

use std::sync::{Arc, OnceLock};

use rayon::prelude::*;

use super::{Mixed, PartReport, Progress, Reports, frames};
use crate::audio::Audio;
use crate::keep::{Keep, Name};
use crate::kit::decode::check;
use crate::kit::{Recording, decode, file_name, resample, told_seconds};
use crate::loopfile::limits::{LONGEST_IMPULSE, LONGEST_RING};
use crate::loopfile::{Ending, Impulse, Loop, SpaceKind, Target};
use crate::mix::desk::{Desk, Run, Sharing, Source, Stereo, Sums};
use crate::mix::master::name_before_ceiling;
use crate::mix::spaces::{self, Answer};
use crate::mix::sweep::{Clock, Moves, moves};
use crate::mix::{Effort, Keys, Span, Under};
use crate::score::Score;
use crate::sound::{Bank, Dry, Extent, Player, Reader, Rounds};
use crate::text::{Problem, Problems};

/// What renders share, and what stands there for the recordings of a kit by their numbers.
#[derive(Clone, Copy)]
pub(super) struct Shared<'a> {
    pub keep: &'a Keep,
    pub takes: &'a [Option<Name>],
    /// True where nothing but sounds and rooms is worth keeping: in one render, whose sections sound different.
    pub sounds_alone: bool,
}

/// Everything that a mix of some rounds needs.
pub(super) struct Stage<'a> {
    song: &'a Loop,
    score: &'a Score,
    bank: Bank,
    spaces: Vec<Answer<'a>>,
    time: Rounds,
    span: Span,
    channels: Vec<usize>,
    /// True for each part that plays anything.
    plays: Vec<bool>,
    /// What is ducked under, followed once for all runs.
    keys: OnceLock<Arc<Keys>>,
    rate: u32,
    keep: Option<&'a Keep>,
    /// What stands in the keep for each part's dry audio.
    sources: Vec<Name>,
}

impl<'a> Stage<'a> {
    /// Sets up rounds of a score on a kit's recordings: the steady state of one round on a circle, or a line with its ring.
    pub fn set(
        song: &'a Loop,
        recordings: &[Option<Arc<Recording>>],
        score: &'a Score,
        rounds: u32,
        rate: u32,
        circle: bool,
        shared: Option<Shared<'a>>,
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
                let (bank, spaces) = rayon::join(fill, || Answer::all(song, rate, of_space));
                (bank, spaces?)
            }
            Some(Shared { keep, takes, .. }) => {
                let file = |number: usize| match &song.spaces[number].kind {
                    SpaceKind::Impulse(settings) => file_name(keep, &settings.file, rate),
                    _ => keep.name(()),
                };
                let fill = || Bank::fill_from(keep, takes, song, score, recordings, extent);
                let (bank, spaces) = rayon::join(fill, || Answer::all_from(keep, song, rate, file, of_space));
                (bank, spaces?)
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
            keep: shared.filter(|shared| !shared.sounds_alone).map(|shared| shared.keep),
            sources: Vec::new(),
        };
        if !circle && song.ending != Ending::Damp {
            stage.span.frames += stage.ring(length);
        }
        if let Some(keep) = stage.keep {
            let whole = (time, rate, stage.span.frames);
            let parts = 0..song.parts.len();
            stage.sources = parts
                .map(|part| Dry::name(keep, song, score, part, &stage.bank, whole))
                .collect();
        }
        Ok(stage)
    }

    fn open(&self, part: usize, from: i64) -> Player {
        Player::new(self.song, self.score, part, &self.bank, self.time, self.rate, from)
    }

    /// A part's dry audio: from the keep, into which it is played if there is room, else from a player.
    fn source(&self, part: usize, from: i64) -> Box<dyn Source + '_> {
        let played = || {
            let keep = self.keep.filter(|keep| !keep.is_sparing())?;
            let (name, frames) = (self.sources[part], self.span.frames);
            if let Some(dry) = keep.find::<Dry>(name) {
                return Some(dry);
            }
            keep.reserve(name, Dry::bytes(self.channels[part], frames)).then(|| {
                let dry = Arc::new(Dry::play(self.open(part, 0), frames));
                keep.fill(name, &dry);
                dry
            })
        };
        match played() {
            None => Box::new(self.open(part, from)),
            Some(dry) => {
                let beyond = self.span.frames as i64;
                Box::new(Reader::new(dry, self.span.circle, from, move || {
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
    pub fn at_desk<T>(&self, progress: &Progress, work: impl FnOnce(&Desk) -> T) -> T {
        let open = |part: usize, from: i64| self.source(part, from);
        let (song, channels, span, rate) = (self.song, &self.channels[..], self.span, self.rate);
        let mut desk = Desk {
            song,
            channels,
            plays: &self.plays,
            open: &open,
            span,
            clock: self.clock(),
            rate,
            progress,
            keys: Default::default(),
            sharing: self.keep.map(|keep| Sharing {
                keep,
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

    /// Mixes everything before the master.
    pub fn mix(&self, progress: &Progress) -> Mixed {
        let (audio, sums, plan) = self.at_desk(progress, |desk| match self.keep {
            None => {
                let mut sums = desk.run(Run::Whole);
                (Arc::new(self.answered(&mut sums)), sums, None)
            }
            Some(keep) => {
                let (audio, sums, traces, name) = self.shared_mix(desk, keep);
                (audio, sums, Some((traces, name)))
            }
        });
        let parts = self.song.parts.iter().zip(&self.score.parts).zip(sums.part_peaks);
        let report = |((part, hits), peak): ((&crate::loopfile::Part, &Vec<_>), f32)| PartReport {
            name: part.name.clone(),
            hits: hits.len(),
            peak,
            silenced: part.silenced,
            trace: None,
        };
        let mut effort = self.keys.get().map_or(Effort::default(), |keys| keys.effort());
        effort += sums.effort;
        effort.sound_frames += self.bank.frames_made() as u64;
        let buses = self
            .song
            .buses
            .iter()
            .map(|bus| bus.name.clone())
            .zip(sums.bus_reductions)
            .collect();
        let mut parts: Vec<PartReport> = parts.map(report).collect();
        let (traces, name) = plan.map_or((Vec::new(), None), |(traces, name)| (traces, Some(name)));
        parts
            .iter_mut()
            .zip(traces)
            .for_each(|(part, trace)| part.trace = Some(trace));
        Mixed {
            audio,
            reports: Reports { parts, buses, effort },
            oddities: Vec::new(),
            name,
        }
    }

    /// What stands in the keep, where there is one, for what reaches the master's ceiling.
    pub fn before_ceiling(&self, mixed: &Mixed) -> Option<Name> {
        let (keep, mix) = (self.keep?, mixed.name?);
        let of = (self.song, self.clock(), &**self.keys.get()?);
        Some(name_before_ceiling(keep, of, mix, mixed.audio.frames(), self.rate))
    }

    /// What the master ducks under, once the mix is made.
    pub fn under_master(&self) -> Option<Under> {
        self.keys.get()?.under(self.song.master.duck.as_ref()?, self.span)
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
        let mut signals = sums.signals.iter_mut().map(|sum| sum.take().unwrap_or_default());
        let mut audio = signals.next().map(Arc::unwrap_or_clone).unwrap_or_default();
        let sends = signals.enumerate();
        let (delays, rooms): (Vec<_>, Vec<_>) = sends.partition(|(number, _)| self.spaces[*number].echoes());
        let moves = |number| self.moves(Target::Space(number));
        // A room keeps all cores busy, a delay one: so it goes along with the rooms.
        let ((), echoes) = rayon::join(
            || {
                for (number, send) in rooms {
                    self.spaces[number].add(send, self.span, moves(number), &mut audio);
                }
            },
            || {
                let signal = |(number, send): (usize, _)| {
                    let back = self.spaces[number].signal(send, self.span, moves(number).is_some());
                    (number, back)
                };
                delays.into_par_iter().map(signal).collect::<Vec<_>>()
            },
        );
        for (number, back) in &echoes {
            spaces::add_back(back, moves(*number), &mut audio);
        }
        self.audio(audio)
    }

    /// The order in which answers are added: the loop's, but delays after rooms.
    fn in_turn(&self) -> Vec<usize> {
        let mut numbers: Vec<usize> = (0..self.spaces.len()).collect();
        numbers.sort_by_key(|number| self.spaces[*number].echoes());
        numbers
    }

    /// The same by way of the keep: what is there is not made again, and what is made is put there.
    fn shared_mix(&self, desk: &Desk, keep: &Keep) -> (Arc<Audio>, Sums, Vec<Name>, Name) {
        let strips = desk.strips();
        let plan = desk.plan(&strips).expect("a desk of a stage with a keep shares it");
        let (names, whole) = spaces::names(keep, self.song, desk.clock, &self.spaces, &plan.sums, self.span);
        let bytes = 2 * self.span.frames * size_of::<f32>();
        let mix = keep.find::<Audio>(whole);
        let mut answers: Vec<Option<Arc<Stereo>>> = vec![None; names.len()];
        let mut asked = vec![mix.is_none()];
        if mix.is_none() {
            keep.reserve(whole, bytes);
            answers = names.iter().map(|name| keep.find(*name)).collect();
        }
        asked.extend(answers.iter().map(|answer| mix.is_none() && answer.is_none()));
        let sums = desk.share(strips, &plan, keep, &asked);
        if let Some(mix) = mix {
            return (mix, sums, plan.traces, whole);
        }
        let mut audio = sums.signals[0].as_deref().cloned().unwrap_or_default();
        let moves = |number| self.moves(Target::Space(number));
        let answer = |(number, found): (usize, Option<Arc<Stereo>>)| {
            found.unwrap_or_else(|| {
                let send = sums.signals[number + 1].clone().unwrap_or_default();
                let back = self.spaces[number].signal(send, self.span, moves(number).is_some());
                let back = Arc::new(back);
                keep.put(names[number], &back, 2 * back[0].len() * size_of::<f32>());
                back
            })
        };
        let answers: Vec<Arc<Stereo>> = answers.into_par_iter().enumerate().map(answer).collect();
        for number in self.in_turn() {
            spaces::add_back(&answers[number], moves(number), &mut audio);
        }
        let mix = Arc::new(self.audio(audio));
        keep.fill(whole, &mix);
        (mix, sums, plan.traces, whole)
    }

    fn audio(&self, sides: Stereo) -> Audio {
        Audio {
            channels: sides.into(),
            rate: self.rate,
        }
    }
}

impl Source for Player {
    fn fill(&mut self, block: &mut [&mut [f32]]) {
        Player::fill(self, block);
    }
}

impl Source for Reader<'_> {
    fn fill(&mut self, block: &mut [&mut [f32]]) {
        Reader::fill(self, block);
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
