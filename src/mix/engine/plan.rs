//! What of a mix is in the cache, or is being made by others, and what is left to run.

use std::sync::Arc;

use super::cache_keys::{CacheKeys, StageKeys, Sum, Summand, moving};
use super::inputs::{Mixer, Sharing, Stereo};
use super::planned::{Figure, Planned, Ran, Stored, Track};
use super::routing::{Routing, Strips};
use crate::loopfile::{Field, Target};
use crate::mix::strip::Reductions;
use crate::render_cache::{CacheEntry, CacheKey, Tally, Turn};

/// What a mix has asked of the render cache for one strip.
struct Ask {
    wanted: bool,
    /// What it gives.
    track: CacheEntry<Track>,
    /// Its peak; none where it is not heard.
    peak: Option<CacheEntry<f32>>,
    /// A bus's gain reductions; none where it is not heard.
    reductions: Option<CacheEntry<Reductions>>,
    /// Both, once they are known.
    known: Figure,
}

/// What a mix has asked of the render cache for its sums and strips.
pub(crate) struct Asks {
    /// The sums: the master's first; none where it is not needed.
    pub(crate) sums: Vec<Option<CacheEntry<Stereo>>>,
    parts: Vec<Ask>,
    buses: Vec<Ask>,
    tally: Tally,
}

/// The names of a mix's stages.
pub(crate) struct Plan {
    parts: Vec<StageKeys>,
    buses: Vec<StageKeys>,
    /// What goes straight to the master, then what each room or delay is sent.
    pub sums: Vec<CacheKey>,
    /// What each part gives, sends and all.
    pub traces: Vec<CacheKey>,
}

impl Plan {
    /// Names every stage of a desk's mix.
    pub(crate) fn of<'b>(desk: &Mixer<'b>, sharing: &Sharing<'b>, strips: &Strips) -> Plan {
        let (song, routing) = (desk.song, &strips.routing);
        let naming = CacheKeys { desk, sharing, strips };
        let parts: Vec<StageKeys> = (0..song.parts.len()).map(|part| naming.part(part)).collect();
        let mut buses: Vec<Option<StageKeys>> = vec![None; song.buses.len()];
        for bus in routing.levels.iter().flatten() {
            let feeds = |parent: Option<usize>, silenced: bool| parent == Some(*bus) && !silenced;
            let of_parts = song.parts.iter().zip(&parts);
            let of_parts = of_parts
                .filter(|(part, _)| feeds(part.bus, part.silenced))
                .map(|(_, stage)| stage.out);
            // Buses are summed level by level, as they are run.
            let inner = routing
                .levels
                .iter()
                .flatten()
                .map(|inner| (&song.buses[*inner], &buses[*inner]));
            let inner = inner.filter(|(inner, _)| feeds(inner.bus, inner.silenced));
            let from = of_parts
                .chain(inner.filter_map(|(_, stage)| Some(stage.as_ref()?.out)))
                .collect();
            buses[*bus] = Some(naming.bus(*bus, from));
        }
        let buses: Vec<StageKeys> = buses.into_iter().flatten().collect();
        let out = |target| match target {
            Target::Part(part) => parts[part].out,
            Target::Bus(bus) => buses[bus].out,
            _ => unreachable!("parts and buses alone feed a sum"),
        };
        let sum = |to: usize| {
            let of = contributors(desk, routing, to)
                .into_iter()
                .map(|(target, send)| Summand {
                    out: out(target),
                    lead: naming.lead(target),
                    level_db: send.map_or(0.0, |send| {
                        target.strip(song).map_or(0.0, |strip| strip.sends[send].level_db)
                    }),
                    sweeps: send.and_then(|send| moving(song, desk.clock, target, |field| field == Field::Send(send))),
                });
            CacheKey::of(&Sum {
                of: of.collect(),
                span: desk.span,
            })
        };
        Plan {
            traces: (0..parts.len()).map(|part| naming.trace(part)).collect(),
            sums: (0..=song.spaces.len()).map(sum).collect(),
            parts,
            buses,
        }
    }

    /// Asks for the sums that are `needed`, and for the strips without which those of them that nobody has can't be had.
    pub(crate) fn ask(&self, desk: &Mixer, turn: &Turn, strips: &Strips, needed: &[bool]) -> Asks {
        let (song, routing) = (desk.song, &strips.routing);
        let bytes = 2 * desk.span.frames * size_of::<f32>();
        let sums = self.sums.iter().zip(needed);
        let sums: Vec<Option<CacheEntry<Stereo>>> = sums
            .map(|(name, needed)| needed.then(|| turn.ask(*name, bytes)))
            .collect();
        let unknown = |stage: &StageKeys, target| {
            let heard = routing.is_heard(target);
            let peak = heard.then(|| turn.ask(stage.peak, 0));
            let reductions = stage.reductions.filter(|_| heard).map(|name| turn.ask(name, 0));
            let unknown = peak.as_ref().is_some_and(|peak: &CacheEntry<f32>| !peak.is_there())
                || reductions
                    .as_ref()
                    .is_some_and(|reductions: &CacheEntry<Reductions>| !reductions.is_there());
            Ask {
                wanted: unknown,
                track: CacheEntry::NoRoom,
                peak,
                reductions,
                known: Figure::default(),
            }
        };
        let parts = self.parts.iter().enumerate();
        let mut parts: Vec<Ask> = parts.map(|(part, stage)| unknown(stage, Target::Part(part))).collect();
        let buses = self.buses.iter().enumerate();
        let mut buses: Vec<Ask> = buses.map(|(bus, stage)| unknown(stage, Target::Bus(bus))).collect();
        let missing = sums.iter().enumerate();
        let missing = missing.filter(|(_, sum)| sum.as_ref().is_some_and(|sum| !sum.is_there()));
        for (target, _) in missing.flat_map(|(to, _)| contributors(desk, routing, to)) {
            match target {
                Target::Part(part) => parts[part].wanted = true,
                Target::Bus(bus) => buses[bus].wanted = true,
                _ => {}
            }
        }
        // From the master inwards: a bus that is kept asks for nothing of what feeds it.
        for bus in routing.levels.iter().rev().flatten() {
            if !buses[*bus].wanted || !routing.is_heard(Target::Bus(*bus)) {
                continue;
            }
            let bytes = Track::bytes(routing.bus_begins[*bus], desk.span.frames, 2);
            // What is kept of a bus does not tell how deep its gain reduction was.
            let known = buses[*bus].reductions.as_ref().is_some_and(CacheEntry::is_there);
            buses[*bus].track = match self.buses[*bus].shaped {
                Some(name) if known => turn.ask(name, bytes),
                Some(name) => turn.reserve(name, bytes).map_or(CacheEntry::NoRoom, CacheEntry::Place),
                None => CacheEntry::NoRoom,
            };
            if !buses[*bus].track.is_there() {
                let feeds = |parent: Option<usize>| parent == Some(*bus);
                parts
                    .iter_mut()
                    .zip(&song.parts)
                    .for_each(|(ask, part)| ask.wanted |= feeds(part.bus));
                buses
                    .iter_mut()
                    .zip(&song.buses)
                    .for_each(|(ask, inner)| ask.wanted |= feeds(inner.bus));
            }
        }
        for (number, ask) in parts.iter_mut().enumerate() {
            if let Some(name) = self.parts[number].shaped.filter(|_| ask.wanted && ask.peak.is_some()) {
                let bytes = Track::bytes(
                    routing.part_begins[number],
                    desk.span.frames,
                    strips.part_channels(number),
                );
                ask.track = turn.ask(name, bytes);
            }
        }
        Asks {
            sums,
            parts,
            buses,
            tally: turn.tally(),
        }
    }
}

impl Asks {
    /// True for the sums that are yet to be made.
    pub(crate) fn missing(&self) -> Vec<bool> {
        let missing = |sum: &Option<CacheEntry<Stereo>>| sum.as_ref().is_some_and(|sum| !sum.is_there());
        self.sums.iter().map(missing).collect()
    }

    /// The parts whose strips are run on their dry audio.
    pub(crate) fn plays(&self, part: usize) -> bool {
        let ask = &self.parts[part];
        ask.wanted && ask.peak.is_some() && !ask.track.is_there()
    }

    /// Which strips are to be run, and what is kept of them, once it is there: parts, then buses.
    pub(crate) fn planned(&self) -> [Vec<Planned>; 2] {
        let planned = |ask: &Ask| Planned {
            wanted: ask.wanted,
            stored: match &ask.track {
                CacheEntry::Place(_) => Stored::Place,
                track => track.found().map_or(Stored::None, Stored::Kept),
            },
        };
        [&self.parts, &self.buses].map(|asks| asks.iter().map(planned).collect())
    }

    /// Keeps what strips gave, where it was noted, and gives the figures of parts and of buses; 0 for what is not heard.
    pub(crate) fn keep(mut self, ran: Vec<Ran>) -> [Vec<Figure>; 2] {
        for Ran {
            target,
            peak,
            reductions,
            noted,
            run,
        } in ran
        {
            self.tally.add("strips", usize::from(run));
            let ask = match target {
                Target::Part(part) => &mut self.parts[part],
                Target::Bus(bus) => &mut self.buses[bus],
                _ => continue,
            };
            if let Some(track) = noted {
                std::mem::replace(&mut ask.track, CacheEntry::NoRoom).fill(&Arc::new(track));
            }
            if let Some(asked) = ask.peak.take() {
                ask.known.peak = *asked.get_or(|| peak);
            }
            // Those of a bus that was kept are known from where it was run.
            if let Some(reductions) = reductions
                && let Some(asked) = ask.reductions.take()
            {
                ask.known.reductions = *asked.get_or(|| reductions);
            }
        }
        let figure = |ask: Ask| {
            let Figure { peak, reductions } = ask.known;
            Figure {
                peak: ask.peak.and_then(|asked| asked.found()).map_or(peak, |found| *found),
                reductions: ask
                    .reductions
                    .and_then(|asked| asked.found())
                    .map_or(reductions, |found| *found),
            }
        };
        [self.parts, self.buses].map(|asks| asks.into_iter().map(figure).collect())
    }
}

/// The strips whose output goes into a sum, in the order in which they are added, with the number of the send that
/// feeds it: the master's (0) or that of a room or delay.
pub(crate) fn contributors(desk: &Mixer, routing: &Routing, to: usize) -> Vec<(Target, Option<usize>)> {
    let song = desk.song;
    let parts = song
        .parts
        .iter()
        .enumerate()
        .map(|(number, part)| (Target::Part(number), part.bus));
    let buses = routing.levels.iter().flatten();
    let buses = buses.map(|bus| (Target::Bus(*bus), song.buses[*bus].bus));
    let heard = parts.chain(buses).filter(|(target, _)| routing.is_heard(*target));
    let into = heard.filter_map(|(target, parent)| match to {
        0 => parent.is_none().then_some((target, None)),
        _ => {
            let sends = &target.strip(song)?.sends;
            let send = sends.iter().position(|send| send.to == to - 1)?;
            Some((target, Some(send)))
        }
    });
    into.collect()
}
