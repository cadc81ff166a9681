//! One strip in a mix: its source, its place in time and its latest block.

use std::sync::Arc;

use super::desk::{Desk, Run, Source};
use super::plan::{Planned, Ran, Stored};
use super::routing::Routing;
use super::strip::{Channel, Ride, Shaping};
use super::sweep::Moves;
use crate::audio::peak;
use crate::loopfile::{Duck, Field, Send, Strip, Target};

/// What a strip gave over the whole time, kept for other mixes: what reached its fader or, with a ceiling, what came
/// out of it.
pub(super) struct Track {
    /// The frame at which the strip began.
    first: i64,
    /// Left and right; the right one is empty where it is mono.
    sides: [Vec<f32>; 2],
}

impl Track {
    /// Room for what a strip gives from its beginning to the end of the time.
    fn new(first: i64, frames: usize, channels: usize) -> Track {
        let side = |number| Vec::with_capacity(if number < channels { frames } else { 0 });
        Track {
            first,
            sides: [side(0), side(1)],
        }
    }

    /// Bytes of one of so many channels.
    pub fn bytes(first: i64, end: usize, channels: usize) -> usize {
        channels * (end as i64 - first) as usize * size_of::<f32>()
    }

    /// Copies the block that begins at a frame; the answer is whether it is mono.
    fn read(&self, now: i64, block: &mut [Vec<f32>; 2]) -> bool {
        let from = (now - self.first) as usize;
        for (block, side) in block.iter_mut().zip(&self.sides).filter(|(_, side)| !side.is_empty()) {
            let to = from + block.len();
            block.copy_from_slice(&side[from..to]);
        }
        self.sides[1].is_empty()
    }
}

/// What a strip lets others hear: where it goes and its last whole block, while it may be at work on its next one.
pub(super) struct Outlet<'a> {
    /// The bus that it feeds; the master where none.
    pub feeds: Option<usize>,
    pub sends: &'a [Send],
    pub lead: usize,
    /// True where something hears it.
    pub heard: bool,
    moves: Option<Moves>,
    pub block: [Vec<f32>; 2],
}

impl Outlet<'_> {
    /// The level of a send at each frame of a block, where it moves; false where it does not.
    pub fn send_gains(&self, send: usize, first: i64, gains: &mut Vec<f32>) -> bool {
        let frames = self.block[0].len();
        let moves = self.moves.as_ref();
        moves.is_some_and(|moves| moves.gains(Field::Send(send), first, gains, frames))
    }
}

/// One strip with its source, its place in time and the block that it is at work on.
pub(super) struct Lane<'a> {
    /// The part's or bus's number in the loop.
    pub number: usize,
    is_part: bool,
    feeds: Option<usize>,
    source: Option<Box<dyn Source + 'a>>,
    channels: usize,
    pub strip: Channel,
    duck: Option<&'a Duck>,
    /// True where what is kept of it is what comes out of its ceiling.
    limited: bool,
    sends: &'a [Send],
    lead: usize,
    /// The frame at which it begins.
    pub begins: i64,
    /// True where something hears it.
    pub heard: bool,
    pub peak: f32,
    block: [Vec<f32>; 2],
    key: Vec<f32>,
    /// What another mix has kept of it.
    kept: Option<Arc<Track>>,
    /// What is to be kept of it.
    noted: Option<Track>,
}

impl<'a> Lane<'a> {
    pub fn part(
        desk: &'a Desk,
        routing: &Routing,
        number: usize,
        strip: Channel,
        what: Run,
        plan: Planned,
    ) -> Lane<'a> {
        let part = &desk.song.parts[number];
        let wanted = match what {
            Run::Stem(parts, _) => parts[number],
            _ => plan.wanted,
        };
        let mut lane = Lane::new(number, part.bus, &part.strip, strip, wanted && !part.silenced);
        lane.is_part = true;
        lane.lead = routing.part_leads[number];
        lane.begins = routing.part_begins[number];
        lane.channels = desk.channels[number];
        lane.reuse(desk, plan.stored);
        if lane.heard && lane.kept.is_none() {
            let first = lane.begins + (lane.lead + lane.strip.latency()) as i64;
            lane.source = Some((desk.open)(number, first));
        }
        lane
    }

    pub fn bus(desk: &'a Desk, routing: &Routing, number: usize, strip: Channel, plan: Planned) -> Lane<'a> {
        let bus = &desk.song.buses[number];
        let mut lane = Lane::new(number, bus.bus, &bus.strip, strip, plan.wanted && !bus.silenced);
        lane.lead = routing.bus_leads[number];
        lane.begins = routing.bus_begins[number];
        lane.reuse(desk, plan.stored);
        lane
    }

    fn new(number: usize, feeds: Option<usize>, written: &'a Strip, strip: Channel, heard: bool) -> Lane<'a> {
        Lane {
            number,
            is_part: false,
            feeds,
            source: None,
            channels: 2,
            strip,
            duck: written.duck.as_ref(),
            limited: written.ceiling_db.is_some(),
            sends: &written.sends[..],
            lead: 0,
            begins: 0,
            heard,
            peak: 0.0,
            block: Default::default(),
            key: Vec::new(),
            kept: None,
            noted: None,
        }
    }

    /// Takes what is kept of it, or begins to note down what is to be.
    fn reuse(&mut self, desk: &Desk, stored: Stored) {
        match stored {
            Stored::Kept(track) => self.kept = Some(track),
            Stored::Place if self.heard => {
                let frames = (desk.span.frames as i64 - self.begins) as usize;
                self.noted = Some(Track::new(self.begins, frames, self.channels));
            }
            _ => {}
        }
    }

    /// Where others hear it, still silent.
    pub fn outlet(&self) -> Outlet<'a> {
        Outlet {
            feeds: self.feeds,
            sends: self.sends,
            lead: self.lead,
            heard: self.heard,
            moves: self.strip.moves().cloned(),
            block: Default::default(),
        }
    }

    /// Lets others hear the block that it has done.
    pub fn hand_over(&mut self, outlet: &mut Outlet<'a>) {
        std::mem::swap(&mut self.block, &mut outlet.block);
    }

    /// What there is to keep of it, once it has run; none for a bus that was kept already.
    pub fn ran(&mut self) -> Option<Ran> {
        let (target, figure) = match self.is_part {
            true => (Target::Part(self.number), f64::from(self.peak)),
            false if self.kept.is_some() => return None,
            false => (Target::Bus(self.number), self.strip.deepest_db()),
        };
        Some(Ran {
            target,
            figure,
            noted: self.noted.take(),
        })
    }

    fn clear(&mut self, frames: usize) {
        for side in &mut self.block {
            side.clear();
            side.resize(frames, 0.0);
        }
    }

    pub fn run_part(&mut self, desk: &Desk, now: i64, frames: usize) {
        self.clear(frames);
        if !self.heard || now < self.begins {
            return;
        }
        if let Some(source) = &mut self.source {
            let [left, right] = &mut self.block;
            source.fill(&mut [&mut left[..], &mut right[..]][..self.channels]);
        }
        self.run_strip(desk, now, None);
        if now >= 0 {
            self.peak = self.peak.max(peak(&self.block));
        }
    }

    /// Runs a bus on the sum of what feeds it.
    pub fn run_bus(&mut self, desk: &Desk, parts: &[Outlet], buses: &[Outlet], now: i64, frames: usize, what: Run) {
        self.clear(frames);
        if !self.heard || now < self.begins {
            return;
        }
        let number = self.number;
        let feeders = parts.iter().chain(buses);
        let feeders = feeders.filter(|fed| fed.heard && fed.feeds == Some(number) && self.kept.is_none());
        for feeder in feeders {
            for (sum, block) in self.block.iter_mut().zip(&feeder.block) {
                sum.iter_mut().zip(block).for_each(|(sum, sample)| *sum += sample);
            }
        }
        if let Run::Stem(_, gains) = what {
            let (mut compress, mut ceiling) = (vec![1.0; frames], vec![1.0; frames]);
            self.run_strip(desk, now, Some(gains.read(number, now, &mut compress, &mut ceiling)));
        } else {
            self.run_strip(desk, now, None);
        }
    }

    fn run_strip(&mut self, desk: &Desk, now: i64, ride: Option<Ride>) {
        let at = now + (self.lead + self.strip.latency_of_ceiling()) as i64;
        if let Some(track) = &self.kept {
            let mono = track.read(now, &mut self.block);
            if !self.limited {
                let [left, right] = &mut self.block;
                self.strip
                    .run_from([left, right], at, None, None, &mut Shaping::Done { mono });
            }
            return;
        }
        self.key.resize(self.block[0].len(), 0.0);
        let strip = &mut self.strip;
        let key_at = at + strip.latency_from_duck_to_fader() as i64;
        let key = self.duck.map(|duck| desk.keys.read(desk, duck, key_at, &mut self.key));
        let [left, right] = &mut self.block;
        match &mut self.noted {
            None => strip.run([left, right], at, key, ride),
            Some(track) if self.limited => {
                strip.run([left, right], at, key, ride);
                track.sides[0].extend_from_slice(left);
                track.sides[1].extend_from_slice(right);
            }
            Some(track) => strip.run_from([left, right], at, key, ride, &mut Shaping::Noted(&mut track.sides)),
        }
    }
}
