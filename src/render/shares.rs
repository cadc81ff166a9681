//! What a stage's mix shares with other renders: asked for in one go, and made after that.

use std::sync::Arc;

use rayon::prelude::*;

use super::stage::Stage;
use super::{BusSums, Mixed, PartReport, Progress, Reports};
use crate::base::audio::Audio;
use crate::base::stages::join;
use crate::loopfile::Target;
use crate::mix::Effort;
use crate::mix::engine::inputs::{Mixer, Run, Stereo};
use crate::mix::engine::mixer::Sums;
use crate::mix::engine::plan::Asks;
use crate::mix::engine::routing::Strips;
use crate::mix::master::loudness_estimate::LoudnessEstimate;
use crate::mix::master::name_before_ceiling;
use crate::mix::spaces::{add_back, names};
use crate::render_cache::{CacheEntry, CacheKey, Tally, Turn};
use crate::score::Hit;

/// All that a mix has asked of the render cache.
pub(super) struct Shares {
    strips: Strips,
    asks: Asks,
    /// What comes back from rooms and delays; none where it is not needed.
    answers: Vec<Option<CacheEntry<Stereo>>>,
    mix: CacheEntry<Audio>,
    /// What is the cache key for the mix, and for all that each part gives.
    name: CacheKey,
    traces: Vec<CacheKey>,
    tally: Tally,
}

impl Stage<'_> {
    /// Mixes everything before the master, by way of what was asked for where it shares.
    pub(super) fn mix(&self, progress: &Progress, shares: Option<Shares>) -> Mixed {
        let (audio, sums, traces) = self.at_desk(progress, |desk| match shares {
            None => {
                let (mut sums, ()) = join(("mix", || desk.run(Run::Whole)), ("spectra", || self.prepare()));
                (Arc::new(self.answered(&mut sums)), sums, Vec::new())
            }
            Some(shares) => self.shared_mix(desk, shares),
        });
        let parts = self.song.parts.iter().zip(&self.score.parts).zip(sums.part_peaks);
        let report = |((part, hits), peak): ((&crate::loopfile::Part, &Vec<Hit>), f32)| PartReport {
            name: part.name.clone(),
            hits: hits.len(),
            pitched: hits.iter().any(|hit| hit.pitch.is_some()),
            peak,
            silenced: part.silenced,
            trace: None,
        };
        let mut effort = self.keys.get().map_or(Effort::default(), |keys| keys.effort());
        effort += sums.effort;
        effort.sound_frames += self.bank.frames_made() as u64;
        let mut buses = Vec::new();
        let of_buses = sums.bus_peaks.into_iter().zip(sums.bus_reductions);
        for ((bus, (peak, reductions)), heard) in self.song.buses.iter().zip(of_buses).zip(sums.buses_heard) {
            buses.push(BusSums {
                name: bus.name.clone(),
                peak,
                reductions,
                heard,
            });
        }
        let mut parts: Vec<PartReport> = parts.map(report).collect();
        parts
            .iter_mut()
            .zip(traces)
            .for_each(|(part, trace)| part.trace = Some(trace));
        Mixed {
            audio,
            reports: Reports { parts, buses, effort },
            oddities: Vec::new(),
        }
    }

    /// Asks for all that its mix shares, from the master inwards: what is there, or is being made, asks for nothing that feeds it.
    ///
    /// # Panics
    /// For a stage that was not set in a turn, or whose sounds alone are shared.
    pub(super) fn ask(&self, turn: &Turn) -> Shares {
        turn.next_stage();
        self.at_desk_in(Some(turn), &|_| (), |desk| {
            let strips = desk.strips();
            let plan = desk.plan(&strips).expect("a desk in a turn shares");
            let (answers, name) = names(self.song, desk.clock, &self.spaces, &plan.sums, self.span);
            let bytes = 2 * self.span.frames * size_of::<f32>();
            let mix = turn.ask(name, bytes);
            let needed = !mix.is_there();
            let answers = answers.iter().map(|name| needed.then(|| turn.ask(*name, bytes)));
            let answers: Vec<Option<CacheEntry<Stereo>>> = answers.collect();
            let mut sums = vec![needed];
            sums.extend(
                answers
                    .iter()
                    .map(|answer| answer.as_ref().is_some_and(|answer| !answer.is_there())),
            );
            let asks = plan.ask(desk, turn, &strips, &sums);
            (0..self.song.parts.len())
                .filter(|part| asks.plays(*part))
                .for_each(|part| self.ask_dry(turn, part));
            Shares {
                strips,
                asks,
                answers,
                mix,
                name,
                traces: plan.traces,
                tally: turn.tally(),
            }
        })
    }

    /// Asks for the estimate of how loud its mix comes out of the master's ceiling.
    pub(super) fn ask_loudness_estimate(&self, turn: &Turn, shares: &Shares) -> Option<CacheEntry<LoudnessEstimate>> {
        let of = (self.song, self.clock(), &**self.keys.get()?);
        let name = name_before_ceiling(of, shares.name, self.span.frames, self.rate);
        Some(turn.ask(name, LoudnessEstimate::bytes(self.span.frames)))
    }

    /// The mix by way of what it has asked for, with its sums and what stands for all that each part gives.
    fn shared_mix(&self, desk: &Mixer, shares: Shares) -> (Arc<Audio>, Sums, Vec<CacheKey>) {
        let sums = desk.share(shares.strips, shares.asks);
        let mix = shares.mix.get_or(|| {
            let mut audio = sums.signals[0].as_deref().cloned().unwrap_or_default();
            let moves = |number| self.moves(Target::Space(number));
            let answer = |(number, asked): (usize, Option<CacheEntry<Stereo>>)| {
                asked.unwrap_or(CacheEntry::NoRoom).get_or(|| {
                    shares.tally.add("answers", 1);
                    let send = sums.signals[number + 1].clone().unwrap_or_default();
                    self.spaces[number].signal(send, self.span, moves(number).is_some())
                })
            };
            let answers: Vec<Arc<Stereo>> = shares.answers.into_par_iter().enumerate().map(answer).collect();
            for number in self.in_turn() {
                add_back(&answers[number], moves(number), &mut audio);
            }
            self.audio(audio)
        });
        (mix, sums, shares.traces)
    }
}
