//! The desk: all strips, block by block, from the parts' audio to the sums that the master and the sends get.
//!
//! Time goes in blocks of a fixed length. Within a block strips run in parallel, but each keeps its own state and
//! every sum is taken in the loop file's order, so the number of threads never changes a bit. A repeating loop is run
//! in over its own end before its first frame.

use std::sync::Arc;

use rayon::prelude::*;

use super::keys::Keys;
use super::ride::Gains;
use super::routing::Routing;
use super::strip::{Channel, Ride};
use super::sweep::{Clock, moves};
use super::time::Span;
use crate::audio::{gain_of_db, peak};
use crate::loopfile::{Duck, Loop, Send, Strip, Target};

/// Frames of a block.
pub const BLOCK: usize = 16_384;

/// A part's dry audio, from some frame on.
pub trait Source: std::marker::Send + Sync {
    /// Fills the next block: one slice a channel, all equally long.
    fn fill(&mut self, block: &mut [&mut [f32]]);
}

/// Opens a part's dry audio at a frame, which lies before 0 where a repeating loop is run in.
pub type Open<'a> = dyn Fn(usize, i64) -> Box<dyn Source + 'a> + Sync + 'a;

/// What a mix works from.
pub struct Desk<'a> {
    /// The loop, for its strips.
    pub song: &'a Loop,
    /// How many channels each part's audio has: 1 or 2.
    pub channels: &'a [usize],
    /// Opens a part.
    pub open: &'a Open<'a>,
    /// How time goes.
    pub span: Span,
    /// Where in the loop a frame is.
    pub clock: Clock,
    /// Frames a second.
    pub rate: u32,
    /// Is told, block by block, which share of the time has been mixed: from 0 to 1.
    pub progress: &'a (dyn Fn(f64) + Sync),
    /// The envelopes of the parts that others duck under.
    pub keys: Arc<Keys>,
}

/// What of a mix is run.
#[derive(Clone, Copy)]
pub enum Run<'a> {
    /// Everything that is heard.
    Whole,
    /// Everything, and the gains that the buses had are kept, for stems.
    Keeping,
    /// Some parts alone, through buses that ride the gains which the whole had.
    Stem(&'a [bool], &'a Gains),
}

/// What a mix comes to before the rooms and delays answer and the master works.
pub struct Sums {
    /// What goes straight to the master: left and right.
    pub dry: [Vec<f32>; 2],
    /// What each room or delay is sent.
    pub sends: Vec<[Vec<f32>; 2]>,
    /// The highest sample of each part after its fader, as an amplitude.
    pub part_peaks: Vec<f32>,
    /// The deepest gain reduction of each bus in dB, 0 or more.
    pub bus_reductions: Vec<f64>,
    /// The gains that the buses had, where they were kept.
    pub gains: Gains,
}

impl Desk<'_> {
    /// Frames of the block that begins at a frame: a block ends at frame 0 and at the end at the latest.
    pub fn next_block(&self, now: i64) -> usize {
        let end = if now < 0 { 0 } else { self.span.frames as i64 };
        BLOCK.min((end - now) as usize)
    }

    /// Follows every part that another ducks under, which must be done before anything is run.
    pub fn with_keys(mut self) -> Self {
        self.keys = Arc::new(Keys::of(&self));
        self
    }

    /// Runs strips over the whole time.
    pub fn run(&self, what: Run) -> Sums {
        let song = self.song;
        let parts: Vec<Channel> = self
            .channels
            .iter()
            .enumerate()
            .map(|(part, channels)| self.channel(Target::Part(part), *channels))
            .collect();
        let buses: Vec<Channel> = (0..song.buses.len())
            .map(|bus| self.channel(Target::Bus(bus), 2))
            .collect();
        let routing = Routing::of(song, &parts, &buses);
        let furthest = parts
            .iter()
            .zip(&routing.part_leads)
            .map(|(part, lead)| part.latency() + lead)
            .max()
            .unwrap_or(0);
        let mut now = -(if self.span.circle { routing.run_in } else { furthest } as i64);
        let mut lanes: Vec<Lane> = parts
            .into_iter()
            .enumerate()
            .map(|(part, strip)| Lane::part(self, &routing, part, strip, now, what))
            .collect();
        let mut buses: Vec<Option<Channel>> = buses.into_iter().map(Some).collect();
        let in_order = routing
            .levels
            .iter()
            .flatten()
            .map(|bus| (*bus, buses[*bus].take().expect("a bus is in one level")));
        let mut buses: Vec<Lane> = in_order
            .map(|(bus, strip)| Lane::bus(self, &routing, bus, strip))
            .collect();
        let mut sums = self.destinations();
        let mut gains = Gains::new(now, buses.len(), self.span);
        while now < self.span.frames as i64 {
            let frames = self.next_block(now);
            lanes.par_iter_mut().for_each(|lane| lane.run_part(self, now, frames));
            let mut done = 0;
            for level in &routing.levels {
                let (fed, rest) = buses.split_at_mut(done);
                rest[..level.len()]
                    .par_iter_mut()
                    .for_each(|bus| bus.run_bus(self, &lanes, fed, now, frames, what));
                done += level.len();
            }
            if let Run::Keeping = what {
                buses.iter().for_each(|bus| gains.keep(bus.number, now, &bus.strip));
            }
            if now >= 0 {
                sums.par_iter_mut()
                    .enumerate()
                    .for_each(|(to, sum)| self.gather(to, sum, &lanes, &buses, now));
            } else if now + frames as i64 == 0 {
                buses.iter_mut().for_each(|bus| bus.strip.forget_deepest());
            }
            now += frames as i64;
            (self.progress)(now.max(0) as f64 / self.span.frames as f64);
        }
        let dry = sums.remove(0);
        let mut bus_reductions = vec![0.0; buses.len()];
        buses
            .iter()
            .for_each(|bus| bus_reductions[bus.number] = bus.strip.deepest_db());
        Sums {
            dry,
            sends: sums,
            part_peaks: lanes.iter().map(|lane| lane.peak).collect(),
            bus_reductions,
            gains,
        }
    }

    /// A strip of the loop with what moves in it, for a signal of one channel or two.
    ///
    /// # Panics
    /// For a room or delay, which has no strip.
    pub fn channel(&self, target: Target, channels: usize) -> Channel {
        let strip = target.strip(self.song).expect("a part or bus has a strip");
        Channel::new(
            strip,
            moves(self.song, target, self.clock, self.rate),
            channels,
            self.rate,
        )
    }

    /// Empty sums: the first for the master, then one a room or delay.
    fn destinations(&self) -> Vec<[Vec<f32>; 2]> {
        let silence = || touched(self.span.frames);
        let sums = (0..=self.song.spaces.len()).into_par_iter();
        sums.map(|_| [silence(), silence()]).collect()
    }

    /// Adds to one sum what every strip gives it: to the master's (0) or to the send of a room or delay.
    fn gather(&self, to: usize, sum: &mut [Vec<f32>; 2], parts: &[Lane], buses: &[Lane], now: i64) {
        for lane in parts.iter().chain(buses).filter(|lane| lane.heard) {
            let first = now + lane.lead as i64;
            if to == 0 {
                if lane.feeds.is_none() {
                    self.span.add_both(sum, first, &lane.block, 1.0);
                }
            } else if let Some(number) = lane.sends.iter().position(|send| send.to == to - 1) {
                self.send(lane, number, sum, first);
            }
        }
    }

    /// Adds a strip's block to what a room or delay is sent.
    fn send(&self, lane: &Lane, number: usize, sum: &mut [Vec<f32>; 2], first: i64) {
        let mut gains = Vec::new();
        if lane.strip.send_gains(number, first, &mut gains, lane.block[0].len()) {
            let shaped = |side: &Vec<f32>| side.iter().zip(&gains).map(|(sample, gain)| sample * gain).collect();
            self.span
                .add_both(sum, first, &[shaped(&lane.block[0]), shaped(&lane.block[1])], 1.0);
        } else {
            let gain = gain_of_db(lane.sends[number].level_db) as f32;
            self.span.add_both(sum, first, &lane.block, gain);
        }
    }
}

/// Silence whose pages have been written to. Fresh pages are handed out on the first write; where the first thing done
/// to them is to add, each is asked for twice, once to be read and once to be written.
fn touched(frames: usize) -> Vec<f32> {
    /// Samples in the smallest page that there is, 4 KiB.
    const PAGE: usize = 1024;
    let mut silence = vec![0.0; frames];
    silence.iter_mut().step_by(PAGE).for_each(|sample| *sample = 0.0);
    silence
}

/// One strip with its source, its place in time and its latest block.
struct Lane<'a> {
    /// The part's or bus's number in the loop.
    number: usize,
    /// The bus that it feeds; the master where none.
    feeds: Option<usize>,
    source: Option<Box<dyn Source + 'a>>,
    channels: usize,
    strip: Channel,
    duck: Option<&'a Duck>,
    sends: &'a [Send],
    lead: usize,
    heard: bool,
    peak: f32,
    block: [Vec<f32>; 2],
    key: Vec<f32>,
}

impl<'a> Lane<'a> {
    fn part(desk: &'a Desk, routing: &Routing, number: usize, strip: Channel, now: i64, what: Run) -> Lane<'a> {
        let part = &desk.song.parts[number];
        let wanted = if let Run::Stem(parts, _) = what {
            parts[number]
        } else {
            true
        };
        let mut lane = Lane::new(
            number,
            part.bus,
            &part.strip,
            strip,
            routing.part_leads[number],
            wanted && !part.silenced,
        );
        lane.source = lane
            .heard
            .then(|| (desk.open)(number, now + (lane.lead + lane.strip.latency()) as i64));
        lane.channels = desk.channels[number];
        lane
    }

    fn bus(desk: &'a Desk, routing: &Routing, number: usize, strip: Channel) -> Lane<'a> {
        let bus = &desk.song.buses[number];
        Lane::new(
            number,
            bus.bus,
            &bus.strip,
            strip,
            routing.bus_leads[number],
            !bus.silenced,
        )
    }

    fn new(
        number: usize,
        feeds: Option<usize>,
        written: &'a Strip,
        strip: Channel,
        lead: usize,
        heard: bool,
    ) -> Lane<'a> {
        let (duck, sends) = (written.duck.as_ref(), &written.sends[..]);
        Lane {
            number,
            feeds,
            source: None,
            channels: 2,
            strip,
            duck,
            sends,
            lead,
            heard,
            peak: 0.0,
            block: Default::default(),
            key: Vec::new(),
        }
    }

    fn clear(&mut self, frames: usize) {
        for side in &mut self.block {
            side.clear();
            side.resize(frames, 0.0);
        }
    }

    fn run_part(&mut self, desk: &Desk, now: i64, frames: usize) {
        self.clear(frames);
        let Some(source) = &mut self.source else { return };
        let [left, right] = &mut self.block;
        source.fill(&mut [&mut left[..], &mut right[..]][..self.channels]);
        self.run_strip(desk, now, None);
        if now >= 0 {
            self.peak = self.peak.max(peak(&self.block));
        }
    }

    /// Runs a bus on the sum of what feeds it.
    fn run_bus(&mut self, desk: &Desk, parts: &[Lane], buses: &[Lane], now: i64, frames: usize, what: Run) {
        self.clear(frames);
        let number = self.number;
        for feeder in parts
            .iter()
            .chain(buses)
            .filter(|lane| lane.heard && lane.feeds == Some(number))
        {
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
        self.key.resize(self.block[0].len(), 0.0);
        let strip = &mut self.strip;
        let ahead = (self.lead + strip.latency_of_ceiling() + strip.latency_from_duck_to_fader()) as i64;
        let key = self
            .duck
            .map(|duck| desk.keys.read(desk, duck, now + ahead, &mut self.key));
        let [left, right] = &mut self.block;
        let at = now + (self.lead + strip.latency_of_ceiling()) as i64;
        strip.run([left, right], at, key, ride);
    }
}
