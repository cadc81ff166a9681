//! What of a mix is in the keep, and what is left to run.
//!
//! Every stage of the mix has a name that stands for all that determines its bits: a strip up to its fader for its
//! settings, its sweeps, the envelope that it ducks under and the names of what feeds it; its output for that and the
//! fader; a sum for the outputs in it. So a change of one strip leaves the names of all that it does not reach.

use std::sync::Arc;

use super::desk::{Desk, Sharing, Strips};
use super::lane::Track;
use super::routing::Routing;
use super::sweep::Clock;
use super::time::Span;
use crate::keep::{Keep, Name};
use crate::loopfile::{Field, Loop, Send, Strip, Sweep, Target};

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

/// The names of one strip.
#[derive(Clone, Copy)]
struct Stage {
    /// What reaches its fader, or comes out of its ceiling; none where that is its source itself.
    shaped: Option<Name>,
    /// What comes out of it.
    out: Name,
    /// A part's peak, or a bus's deepest gain reduction.
    figure: Name,
}

/// Everything that determines what a strip gives to its fader, or out of its ceiling.
#[derive(PartialEq)]
struct Shaped {
    /// A part's dry audio, or the outputs that a bus sums.
    from: Vec<Name>,
    channels: usize,
    strip: Strip,
    sweeps: Moving,
    /// What it ducks under.
    envelope: Option<Name>,
    begins: i64,
    lead: usize,
    span: Span,
    rate: u32,
}

/// A strip's fader on a signal.
#[derive(PartialEq)]
struct Faded {
    from: Name,
    channels: usize,
    gain_db: f64,
    pan: f64,
    sweeps: Moving,
    begins: i64,
    lead: usize,
    span: Span,
}

/// A sum of outputs over the whole time.
#[derive(PartialEq)]
struct Sum {
    of: Vec<Summand>,
    span: Span,
}

/// An output in a sum.
#[derive(PartialEq)]
struct Summand {
    out: Name,
    lead: usize,
    level_db: f64,
    sweeps: Moving,
}

/// All that a part gives: its output, and what of it is sent where.
#[derive(PartialEq)]
struct Trace {
    out: Name,
    sends: Vec<Send>,
    sweeps: Moving,
}

/// A part's peak.
#[derive(PartialEq)]
struct Peak(Name);

/// A bus's deepest gain reduction.
#[derive(PartialEq)]
struct Reduction(Name);

/// Sweeps and the clock that they go by; nothing at all where there are none.
pub(super) type Moving = Option<(Vec<Sweep>, Clock)>;

/// The sweeps of some of a strip's numbers, whoever's they are.
pub(super) fn moving(song: &Loop, clock: Clock, target: Target, which: impl Fn(Field) -> bool) -> Moving {
    let these = song
        .sweeps
        .iter()
        .filter(|sweep| sweep.target == target && which(sweep.field));
    // Parts and buses may stand at another place in another version: the number is not part of what is done.
    let anyones = these.cloned().map(|sweep| Sweep {
        target: Target::Master,
        ..sweep
    });
    let sweeps: Vec<Sweep> = anyones.collect();
    (!sweeps.is_empty()).then_some((sweeps, clock))
}

/// The settings of a strip's effects, without its fader and sends. Whom it ducks under is told by the envelope's name.
pub(super) fn effects(strip: &Strip) -> Strip {
    let mut effects = Strip {
        sends: Vec::new(),
        ..strip.clone()
    };
    effects.duck.iter_mut().for_each(|duck| duck.by = 0);
    if strip.ceiling_db.is_none() {
        (effects.gain_db, effects.pan) = (0.0, 0.0);
    }
    effects
}

/// True for the numbers of a strip that lie before its fader, or before the end of its ceiling.
pub(super) fn is_before_fader(strip: &Strip) -> impl Fn(Field) -> bool {
    let limited = strip.ceiling_db.is_some();
    move |field| match field {
        Field::Gain | Field::Pan => limited,
        Field::Send(_) | Field::Level => false,
        _ => true,
    }
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
        let trace = |(number, stage): (usize, &Stage)| {
            let is_send = |field| matches!(field, Field::Send(_));
            sharing.keep.name(Trace {
                out: stage.out,
                sends: song.parts[number].strip.sends.clone(),
                sweeps: naming.moving(Target::Part(number), is_send),
            })
        };
        Plan {
            traces: parts.iter().enumerate().map(trace).collect(),
            sums: (0..=song.spaces.len()).map(sum).collect(),
            parts,
            buses,
        }
    }

    /// Which strips must be run for the sums that are `missing`, and what is kept of them: parts, then buses.
    pub(super) fn needs(&self, desk: &Desk, keep: &Keep, routing: &Routing, missing: &[bool]) -> [Vec<Planned>; 2] {
        let song = desk.song;
        let unknown = |(stage, silenced): (&Stage, bool)| Planned {
            wanted: !silenced && keep.find::<f64>(stage.figure).is_none(),
            stored: Stored::None,
        };
        let of_parts = song.parts.iter().map(|part| part.silenced);
        let of_buses = song.buses.iter().map(|bus| bus.silenced);
        let mut parts: Vec<Planned> = self.parts.iter().zip(of_parts).map(unknown).collect();
        let mut buses: Vec<Planned> = self.buses.iter().zip(of_buses).map(unknown).collect();
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
            if !buses[*bus].wanted || song.buses[*bus].silenced {
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
            if planned.wanted && !part.silenced {
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
        .map(|(number, part)| (Target::Part(number), part.bus, part.silenced));
    let buses = routing.levels.iter().flatten();
    let buses = buses.map(|bus| (Target::Bus(*bus), song.buses[*bus].bus, song.buses[*bus].silenced));
    let heard = parts.chain(buses).filter(|(_, _, silenced)| !silenced);
    let into = heard.filter_map(|(target, parent, _)| match to {
        0 => parent.is_none().then_some((target, None)),
        _ => {
            let sends = &target.strip(song)?.sends;
            let send = sends.iter().position(|send| send.to == to - 1)?;
            Some((target, Some(send)))
        }
    });
    into.collect()
}

/// Gives strips their names.
struct Naming<'a, 'b> {
    desk: &'a Desk<'b>,
    sharing: &'a Sharing<'b>,
    strips: &'a Strips,
}

impl Naming<'_, '_> {
    fn part(&self, part: usize) -> Stage {
        let source = self.sharing.sources[part];
        let strip = &self.desk.song.parts[part].strip;
        let target = Target::Part(part);
        let plain = effects(strip) == Strip::plain() && self.moving(target, is_before_fader(strip)).is_none();
        let shaped = (!plain).then(|| self.shaped(target, vec![source], self.desk.channels[part]));
        let out = self.out(target, shaped.unwrap_or(source), self.desk.channels[part]);
        Stage {
            shaped,
            out,
            figure: self.sharing.keep.name(Peak(out)),
        }
    }

    fn bus(&self, bus: usize, from: Vec<Name>) -> Stage {
        let target = Target::Bus(bus);
        let shaped = self.shaped(target, from, 2);
        Stage {
            shaped: Some(shaped),
            out: self.out(target, shaped, 2),
            figure: self.sharing.keep.name(Reduction(shaped)),
        }
    }

    fn shaped(&self, target: Target, from: Vec<Name>, channels: usize) -> Name {
        let strip = target.strip(self.desk.song).expect("a part or bus has a strip");
        self.sharing.keep.name(Shaped {
            from,
            channels,
            strip: effects(strip),
            sweeps: self.moving(target, is_before_fader(strip)),
            envelope: strip.duck.as_ref().and_then(|duck| self.desk.keys.name(duck)),
            begins: self.begins(target),
            lead: self.lead(target),
            span: self.desk.span,
            rate: self.desk.rate,
        })
    }

    fn out(&self, target: Target, from: Name, channels: usize) -> Name {
        let strip = target.strip(self.desk.song).expect("a part or bus has a strip");
        self.sharing.keep.name(Faded {
            from,
            channels,
            gain_db: strip.gain_db,
            pan: strip.pan,
            sweeps: self.moving(target, |field| matches!(field, Field::Gain | Field::Pan)),
            begins: self.begins(target),
            lead: self.lead(target),
            span: self.desk.span,
        })
    }

    fn moving(&self, target: Target, which: impl Fn(Field) -> bool) -> Moving {
        moving(self.desk.song, self.desk.clock, target, which)
    }

    fn lead(&self, target: Target) -> usize {
        match target {
            Target::Part(part) => self.strips.routing.part_leads[part],
            Target::Bus(bus) => self.strips.routing.bus_leads[bus],
            _ => 0,
        }
    }

    fn begins(&self, target: Target) -> i64 {
        match target {
            Target::Part(part) => self.strips.routing.part_begins[part],
            Target::Bus(bus) => self.strips.routing.bus_begins[bus],
            _ => 0,
        }
    }
}
