//! What of a mix is in the keep, and what is left to run.

use std::sync::Arc;

use super::desk::{Desk, Sharing, Strips};
use super::lane::Track;
use super::naming::{Naming, Stage, Sum, Summand, moving};
use super::routing::Routing;
use super::time::Span;
use crate::keep::{Keep, Name};
use crate::loopfile::{Field, Loop, Target};

/// Where one strip's signal comes from, and where it goes.
#[derive(Default)]
pub(super) struct Planned {
    /// True where the strip is needed.
    pub wanted: bool,
    /// What is kept of it.
    pub stored: Stored,
}

impl Planned {
    /// A strip that is run and of which nothing is kept.
    pub fn all() -> Planned {
        Planned {
            wanted: true,
            stored: Stored::None,
        }
    }
}

/// A strip that has run.
pub(super) struct Ran {
    pub target: Target,
    /// A part's peak, a bus's deepest gain reduction in dB.
    pub figure: f64,
    /// What it gave, where there is a place for it.
    pub noted: Option<Track>,
}

/// What is kept of a strip.
#[derive(Default)]
pub(super) enum Stored {
    /// Nothing, and nothing will be.
    #[default]
    None,
    /// What it gave.
    Kept(Arc<Track>),
    /// Nothing yet, but there is a place for it.
    Place,
}

/// The names of a mix's stages.
pub struct Plan {
    parts: Vec<Stage>,
    buses: Vec<Stage>,
    /// What goes straight to the master, then what each room or delay is sent.
    pub sums: Vec<Name>,
    /// What each part gives, sends and all.
    pub traces: Vec<Name>,
}

impl Plan {
    /// Names every stage of a desk's mix.
    pub(super) fn of<'b>(desk: &Desk<'b>, sharing: &Sharing<'b>, strips: &Strips) -> Plan {
        let (song, routing) = (desk.song, &strips.routing);
        let naming = Naming { desk, sharing, strips };
        let parts: Vec<Stage> = (0..song.parts.len()).map(|part| naming.part(part)).collect();
        let mut buses: Vec<Option<Stage>> = vec![None; song.buses.len()];
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
        let buses: Vec<Stage> = buses.into_iter().flatten().collect();
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
            sharing.keep.name(Sum {
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

    /// Which strips must be run for the sums that are `missing`, and what is kept of them: parts, then buses.
    pub(super) fn needs(&self, desk: &Desk, keep: &Keep, routing: &Routing, missing: &[bool]) -> [Vec<Planned>; 2] {
        let song = desk.song;
        let unknown = |stage: &Stage, target| Planned {
            wanted: routing.is_heard(target) && keep.find::<f64>(stage.figure).is_none(),
            stored: Stored::None,
        };
        let parts = self.parts.iter().enumerate();
        let mut parts: Vec<Planned> = parts.map(|(part, stage)| unknown(stage, Target::Part(part))).collect();
        let buses = self.buses.iter().enumerate();
        let mut buses: Vec<Planned> = buses.map(|(bus, stage)| unknown(stage, Target::Bus(bus))).collect();
        let sums = (0..missing.len()).filter(|to| missing[*to]);
        for (target, _) in sums.flat_map(|to| contributors(desk, routing, to)) {
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
            buses[*bus].stored = stored(keep, &self.buses[*bus], 2, routing.bus_begins[*bus], desk.span);
            if !matches!(buses[*bus].stored, Stored::Kept(_)) {
                let feeds = |parent: Option<usize>| parent == Some(*bus);
                parts
                    .iter_mut()
                    .zip(&song.parts)
                    .for_each(|(planned, part)| planned.wanted |= feeds(part.bus));
                buses
                    .iter_mut()
                    .zip(&song.buses)
                    .for_each(|(planned, inner)| planned.wanted |= feeds(inner.bus));
            }
        }
        for (number, planned) in parts.iter_mut().enumerate() {
            let part = &song.parts[number];
            if planned.wanted && routing.is_heard(Target::Part(number)) {
                let channels = if part.strip.spread != 0.0 {
                    2
                } else {
                    desk.channels[number]
                };
                planned.stored = stored(
                    keep,
                    &self.parts[number],
                    channels,
                    routing.part_begins[number],
                    desk.span,
                );
            }
        }
        [parts, buses]
    }

    /// Keeps what strips gave, where it was noted, and their figures.
    pub(super) fn keep(&self, keep: &Keep, ran: Vec<Ran>) {
        for Ran { target, figure, noted } in ran {
            let stage = match target {
                Target::Part(part) => self.parts[part],
                Target::Bus(bus) => self.buses[bus],
                _ => continue,
            };
            if let (Some(shaped), Some(track)) = (stage.shaped, noted) {
                keep.fill(shaped, &Arc::new(track));
            }
            keep.put(stage.figure, &Arc::new(figure), 0);
        }
    }

    /// The peaks of parts and the gain reductions of buses that are kept; 0 for what is not heard.
    pub(super) fn figures(&self, song: &Loop, keep: &Keep) -> [Vec<f64>; 2] {
        let figure = |(stage, silenced): (&Stage, bool)| {
            let kept = keep.find::<f64>(stage.figure).filter(|_| !silenced);
            kept.map_or(0.0, |figure| *figure)
        };
        let of_parts = song.parts.iter().map(|part| part.silenced);
        let of_buses = song.buses.iter().map(|bus| bus.silenced);
        [
            self.parts.iter().zip(of_parts).map(figure).collect(),
            self.buses.iter().zip(of_buses).map(figure).collect(),
        ]
    }
}

/// What comes of a strip that is needed: what is kept of it, else a place for it if there is one.
fn stored(keep: &Keep, stage: &Stage, channels: usize, begins: i64, span: Span) -> Stored {
    let Some(name) = stage.shaped else { return Stored::None };
    match keep.find::<Track>(name) {
        Some(track) => Stored::Kept(track),
        None if keep.reserve(name, Track::bytes(begins, span.frames, channels)) => Stored::Place,
        None => Stored::None,
    }
}

/// The strips whose output goes into a sum, in the order in which they are added, with the number of the send that
/// feeds it: the master's (0) or that of a room or delay.
pub(super) fn contributors(desk: &Desk, routing: &Routing, to: usize) -> Vec<(Target, Option<usize>)> {
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
