//! One strip in a mix: its source, its place in time and its latest block.

use std::sync::Arc;

use super::block::Block;
use super::inputs::{Mixer, Run, Source, Stereo};
use super::outlet::Outlet;
use super::planned::{Planned, Ran, Stored, Track};
use super::routing::Routing;
use super::time::{STRETCH, add};
use crate::loopfile::{Duck, Send, Strip, Target};
use crate::mix::strip::{Channel, Ride, Shaping};

/// One strip with its source, its place in time and the block that it is at work on.
pub(crate) struct Lane<'a> {
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
    /// Frames that its strip has run.
    pub ran_frames: u64,
    block: Block,
    key: Vec<f32>,
    /// What another mix has kept of it.
    kept: Option<Arc<Track>>,
    /// What is to be kept of it.
    noted: Option<Track>,
}

impl<'a> Lane<'a> {
    pub(crate) fn part(
        desk: &'a Mixer,
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
        let mut lane = Lane::new(
            number,
            part.bus,
            &part.strip,
            strip,
            wanted && routing.is_heard(Target::Part(number)),
        );
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

    pub(crate) fn bus(desk: &'a Mixer, routing: &Routing, number: usize, strip: Channel, plan: Planned) -> Lane<'a> {
        let bus = &desk.song.buses[number];
        let mut lane = Lane::new(
            number,
            bus.bus,
            &bus.strip,
            strip,
            plan.wanted && routing.is_heard(Target::Bus(number)),
        );
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
            ran_frames: 0,
            block: Block::default(),
            key: Vec::new(),
            kept: None,
            noted: None,
        }
    }

    /// Takes what is kept of it, or begins to note down what is to be.
    fn reuse(&mut self, desk: &Mixer, stored: Stored) {
        match stored {
            Stored::Kept(track) => self.kept = Some(track),
            Stored::Place if self.heard => {
                let frames = (desk.span.frames as i64 - self.begins) as usize;
                self.noted = Some(Track::new(self.begins, frames, self.strip.kept_channels()));
            }
            _ => {}
        }
    }

    /// Where others hear it, still silent.
    pub(crate) fn outlet(&self) -> Outlet<'a> {
        Outlet {
            feeds: self.feeds,
            sends: self.sends,
            lead: self.lead,
            heard: self.heard,
            moves: self.strip.moves().cloned(),
            block: Block::default(),
        }
    }

    /// Lets others hear the block that it has done.
    pub(crate) fn hand_over(&mut self, outlet: &mut Outlet<'a>) {
        std::mem::swap(&mut self.block, &mut outlet.block);
    }

    /// What there is to keep of it, once it has run.
    pub(crate) fn ran(&mut self) -> Ran {
        let run = self.kept.is_none();
        Ran {
            target: match self.is_part {
                true => Target::Part(self.number),
                false => Target::Bus(self.number),
            },
            peak: self.peak,
            reductions: (run && !self.is_part).then(|| self.strip.reductions()),
            noted: self.noted.take(),
            run,
        }
    }

    pub(crate) fn run_part(&mut self, desk: &Mixer, now: i64, frames: usize) {
        self.block.resize(frames);
        if !self.heard || now < self.begins {
            return self.block.silence_all();
        }
        if let Some(source) = &mut self.source {
            for stretch in 0..self.block.sounds.len() {
                let frames = self.block.frames(stretch..stretch + 1);
                match source.fill(&mut self.block.part(frames)[..self.channels]) {
                    true => self.block.sounds[stretch] = true,
                    false => self.block.silence(stretch),
                }
            }
        }
        self.run_strip(desk, now, None, false);
        self.note_peak(now);
    }

    fn note_peak(&mut self, now: i64) {
        if now >= 0 {
            self.peak = self.peak.max(self.block.peak());
        }
    }

    /// Runs a bus on the sum of what feeds it.
    pub(crate) fn run_bus(
        &mut self,
        desk: &Mixer,
        parts: &[Outlet],
        buses: &[Outlet],
        now: i64,
        frames: usize,
        what: Run,
    ) {
        self.block.resize(frames);
        self.block.silence_all();
        if !self.heard || now < self.begins {
            return;
        }
        let number = self.number;
        let feeders = parts.iter().chain(buses);
        let feeders = feeders.filter(|fed| fed.heard && fed.feeds == Some(number) && self.kept.is_none());
        for feeder in feeders {
            for part in feeder.block.sounding() {
                self.block.sounds[part.start / STRETCH] = true;
                let sums = self.block.part(part.clone());
                for (sum, (samples, fader)) in sums.into_iter().zip(feeder.block.sides()) {
                    add(sum, &samples[part.clone()], fader);
                }
            }
        }
        if let Run::Stem(_, gains) = what {
            let (mut compress, mut ceiling) = (vec![1.0; frames], vec![1.0; frames]);
            let ride = gains.read(number, now, &mut compress, &mut ceiling);
            self.run_strip(desk, now, Some(ride), true);
        } else {
            self.run_strip(desk, now, None, matches!(what, Run::Keeping));
        }
        self.note_peak(now);
    }

    /// Runs its strip on the block: all of it, or what sounds and as long as something rings.
    fn run_strip(&mut self, desk: &Mixer, now: i64, ride: Option<Ride>, all: bool) {
        let at = now + (self.lead + self.strip.latency_of_ceiling()) as i64;
        if let Some(track) = &self.kept {
            let mono = track.read(now, &mut self.block.sides);
            self.block.sounds.fill(true);
            if !self.limited {
                let done = &mut Shaping::Done { mono };
                self.block.faders = self.strip.run_from(both(&mut self.block.sides), at, None, None, done);
            }
            return;
        }
        self.key.resize(self.block.sides[0].len(), 0.0);
        let key_at = at + self.strip.latency_from_duck_to_fader() as i64;
        let key = self
            .duck
            .map(|duck| desk.keys.read(desk.span, duck, key_at, &mut self.key));
        let stretches = self.block.sounds.len();
        let mut begin = 0;
        while begin < stretches {
            let mut end = if all { stretches } else { begin + 1 };
            if !all && !self.block.sounds[begin] && self.strip.rests() {
                let frames = self.block.frames(begin..end).len();
                let channels = self.strip.kept_channels();
                self.noted.iter_mut().for_each(|track| track.rest(frames, channels));
                begin = end;
                continue;
            }
            while end < stretches && self.block.sounds[end] {
                end += 1;
            }
            self.block.sounds[begin..end].fill(true);
            let part = self.block.frames(begin..end);
            self.ran_frames += part.len() as u64;
            let key = key.map(|key| key.part(part.clone()));
            let at = at + part.start as i64;
            let sides = self.block.sides.each_mut().map(|side| &mut side[part.clone()]);
            let shaping = &mut match &mut self.noted {
                Some(track) if !self.limited => Shaping::Noted(&mut track.sides),
                _ => Shaping::Run,
            };
            self.block.faders = self.strip.run_from(sides, at, key, ride, shaping);
            if let Some(track) = self.noted.as_mut().filter(|_| self.limited) {
                track.note(&self.block.sides, part);
            }
            begin = end;
        }
    }
}

/// Both sides of a block, to be worked on.
fn both([left, right]: &mut Stereo) -> [&mut [f32]; 2] {
    [left, right]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loopfile::{Field, Stretch, Sweep, Target};
    use crate::mix::strip::sweep::{Barlines, Moves};

    #[test]
    fn what_is_kept_of_a_strip_takes_the_room_that_is_asked_for_it() {
        const FRAMES: usize = 3000;
        let plain = Strip::plain();
        let spread = Strip {
            spread: 8.0,
            ..plain.clone()
        };
        let wide = Strip {
            width: 1.5,
            ..plain.clone()
        };
        let limited = Strip {
            ceiling_db: Some(-3.0),
            ..plain.clone()
        };
        let sweep = |field| Sweep {
            target: Target::Master,
            field,
            stretches: vec![Stretch {
                start: 0.0,
                end: 1.0,
                every: None,
                from: 0.0,
                to: 5.0,
            }],
        };
        for strip in [&plain, &spread, &wide, &limited] {
            for swept in [None, Some(Field::Gain), Some(Field::Spread), Some(Field::Width)] {
                for channels in [1, 2] {
                    let bars = Barlines {
                        frames: vec![0.0, FRAMES as f64],
                        first: 0.0,
                        bars: 1,
                        circle: false,
                    };
                    let sweeps = swept.into_iter().map(sweep).collect();
                    let mut channel =
                        Channel::new(strip, Moves::of_form(sweeps, strip, bars, 48_000), channels, 48_000);
                    let mut track = Track::new(0, FRAMES, channel.kept_channels());
                    let room = track.sides.each_ref().map(Vec::capacity);
                    let mut block = [vec![0.1; FRAMES], vec![0.1; FRAMES]];
                    if strip.ceiling_db.is_some() {
                        channel.run_from(both(&mut block), 0, None, None, &mut Shaping::Run);
                        track.note(&block, 0..FRAMES);
                    } else {
                        channel.run_from(both(&mut block), 0, None, None, &mut Shaping::Noted(&mut track.sides));
                    }
                    let taken: usize = track.sides.iter().map(|side| side.len() * size_of::<f32>()).sum();
                    assert_eq!(
                        taken,
                        Track::bytes(0, FRAMES, channel.kept_channels()),
                        "{strip:?} {swept:?}"
                    );
                    assert_eq!(track.sides.each_ref().map(Vec::capacity), room, "nothing had to grow");
                }
            }
        }
    }
}
