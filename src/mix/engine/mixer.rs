//! The desk: all strips, block by block, from the parts' audio to the sums that the master and the sends get.
//!
//! Time goes in blocks of a fixed length. Within a block strips run in parallel, but each keeps its own state and
//! every sum is taken in the loop file's order, so the number of threads never changes a bit. A repeating loop is run
//! in over its own end before its first frame.

use std::sync::Arc;

use rayon::prelude::*;

use super::inputs::{Mixer, Run, Stereo};
use super::lane::Lane;
use super::outlet::Outlet;
use super::plan::{Asks, Plan};
use super::planned::{Planned, Ran};
use super::recorded_gains::Gains;
use super::routing::{Routing, Strips};
use super::side_chain::SideChains;
use crate::base::stages::{all, each, join};
use crate::loopfile::Target;
use crate::measure::{Heard, Meters};
use crate::mix::effort::Effort;
use crate::mix::strip::{Channel, Reductions};

/// What a mix comes to before the rooms and delays answer and the master works.
pub(crate) struct Sums {
    /// What goes straight to the master (left and right), then what each room or delay is sent; none where it was not
    /// asked for.
    pub signals: Vec<Option<Arc<Stereo>>>,
    /// The highest sample of each part after its fader, as an amplitude.
    pub part_peaks: Vec<f32>,
    /// The same of each bus.
    pub bus_peaks: Vec<f32>,
    /// The deepest gain reductions of each bus.
    pub bus_reductions: Vec<Reductions>,
    /// What was heard of each bus, where they were measured; none of one that nothing hears.
    pub buses_heard: Vec<Option<Heard>>,
    /// The gains that the buses had, where they were kept.
    pub gains: Gains,
    /// What it cost.
    pub effort: Effort,
}

impl Mixer<'_> {
    /// Every block from a frame on: where it begins, and its length.
    fn blocks(&self, begins: i64) -> Vec<(i64, usize)> {
        let next = |(now, frames): &(i64, usize)| {
            let next = now + *frames as i64;
            (next < self.span.frames as i64).then(|| (next, self.next_block(next)))
        };
        std::iter::successors(Some((begins, self.next_block(begins))), next).collect()
    }

    /// Follows every part that another ducks under, which must be done before anything is run.
    pub(crate) fn with_keys(mut self) -> Self {
        self.keys = Arc::new(SideChains::of(&self));
        self
    }

    /// Its strips, ready to be run.
    pub(crate) fn strips(&self) -> Strips {
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
        let routing = Routing::of(self, &parts, &buses);
        Strips { parts, buses, routing }
    }

    /// Names every stage of the mix; none for a mix that shares nothing.
    pub(crate) fn plan(&self, strips: &Strips) -> Option<Plan> {
        Some(Plan::of(self, self.sharing.as_ref()?, strips))
    }

    /// Runs strips over the whole time.
    pub(crate) fn run(&self, what: Run) -> Sums {
        let whole = |count| (0..count).map(|_| Planned::all()).collect();
        let needs = [whole(self.song.parts.len()), whole(self.song.buses.len())];
        let asked = vec![true; self.song.spaces.len() + 1];
        self.run_strips(self.strips(), what, needs, &asked).0
    }

    /// The sums that were asked for (the master's first): what is there is not made again, and what is made is put into its place.
    pub(crate) fn share(&self, strips: Strips, mut asks: Asks) -> Sums {
        let (mut sums, ran) = self.run_strips(strips, Run::Whole, asks.planned(), &asks.missing());
        for (sum, asked) in sums.signals.iter_mut().zip(std::mem::take(&mut asks.sums)) {
            match (sum, asked) {
                (Some(sum), Some(asked)) => asked.fill(sum),
                (sum, asked) => *sum = asked.and_then(|asked| asked.found()),
            }
        }
        let [of_parts, of_buses] = asks.keep(ran);
        sums.part_peaks = of_parts.into_iter().map(|figure| figure.peak).collect();
        sums.bus_peaks = of_buses.iter().map(|figure| figure.peak).collect();
        sums.bus_reductions = of_buses.into_iter().map(|figure| figure.reductions).collect();
        sums
    }

    /// Runs what is needed of the strips, and gives the sums that are asked for and what there is to keep.
    fn run_strips(&self, strips: Strips, what: Run, needs: [Vec<Planned>; 2], asked: &[bool]) -> (Sums, Vec<Ran>) {
        let Strips { parts, buses, routing } = strips;
        let [of_parts, of_buses] = needs;
        let open = |(part, (strip, plan))| Lane::part(self, &routing, part, strip, what, plan);
        let mut lanes: Vec<Lane> = all("open parts", parts.into_par_iter().zip(of_parts).enumerate(), open);
        let mut waiting: Vec<Option<(Channel, Planned)>> = buses.into_iter().zip(of_buses).map(Some).collect();
        let in_order = routing.levels.iter().flatten().map(|bus| {
            let (strip, plan) = waiting[*bus].take().expect("a bus is in one level");
            Lane::bus(self, &routing, *bus, strip, plan)
        });
        let mut buses: Vec<Lane> = in_order.collect();
        let outlets = || [&lanes, &buses].map(|lanes| lanes.iter().map(Lane::outlet).collect::<Vec<Outlet>>());
        let (mut played, mut mixed) = (outlets(), outlets());
        let silence = || vec![0.0; self.span.frames];
        let sums = asked.iter().map(|asked| asked.then(|| [silence(), silence()]));
        let mut sums: Vec<Option<Stereo>> = sums.collect();
        let measures = self.measures && matches!(what, Run::Whole);
        let mut meters = measures.then(|| Meters::new(self.rate, buses.iter().map(|bus| bus.heard)));
        let mut gains = Gains::new(&routing.bus_begins, self.span);
        let heard = lanes.iter().chain(&buses).filter(|lane| lane.heard);
        let begins = heard.map(|lane| lane.begins).min();
        let blocks = begins.map_or(Vec::new(), |begins| self.blocks(begins));
        let block = |number: usize| blocks.get(number).copied();
        let play = |lanes: &mut [Lane], (now, frames): (i64, usize)| {
            each("part", lanes.par_iter_mut(), |lane| lane.run_part(self, now, frames));
        };
        block(0).into_iter().for_each(|block| play(&mut lanes, block));
        // While the buses of a block are run, the parts of the next are played and the sums of the last are taken.
        for number in 0..=blocks.len() {
            let [parts, of_buses] = &mut played;
            lanes
                .iter_mut()
                .zip(&mut *parts)
                .for_each(|(lane, outlet)| lane.hand_over(outlet));
            let last = number.checked_sub(1).and_then(block).filter(|(now, _)| *now >= 0);
            join(
                ("buses", || {
                    let Some(block) = block(number) else { return };
                    self.run_buses(&mut buses, &routing, parts, of_buses, block, what);
                    if let Run::Keeping = what {
                        let begun = buses.iter().filter(|bus| block.0 >= bus.begins);
                        begun.for_each(|bus| gains.keep(bus.number, block.0, &bus.strip));
                    }
                    if block.0 + block.1 as i64 == 0 {
                        buses.iter_mut().for_each(|bus| bus.strip.forget_deepest());
                    }
                }),
                ("parts and sums", || {
                    join(
                        ("parts", || block(number + 1).map(|block| play(&mut lanes, block))),
                        ("sums", || {
                            let Some(block) = last else { return };
                            self.gather(&mut sums, &mixed, block);
                            if let Some(meters) = &mut meters {
                                meters.take(|bus| mixed[1][bus].sides());
                            }
                        }),
                    )
                }),
            );
            std::mem::swap(&mut played, &mut mixed);
            let done = last.map_or(0, |(now, frames)| now as usize + frames);
            (self.progress)(done as f64 / self.span.frames as f64);
        }
        let mut bus_reductions = vec![Reductions::default(); buses.len()];
        let mut buses_heard = vec![None; buses.len()];
        let mut bus_peaks = vec![0.0; buses.len()];
        let mut heard = meters.map_or_else(Vec::new, Meters::heard).into_iter();
        for bus in &buses {
            bus_reductions[bus.number] = bus.strip.reductions();
            bus_peaks[bus.number] = bus.peak;
            buses_heard[bus.number] = heard.next().flatten();
        }
        let effort = Effort {
            strip_frames: lanes.iter().chain(&buses).map(|lane| lane.ran_frames).sum(),
            ..Effort::default()
        };
        let sums = Sums {
            effort,
            signals: sums.into_iter().map(|sum| sum.map(Arc::new)).collect(),
            part_peaks: lanes.iter().map(|lane| lane.peak).collect(),
            bus_peaks,
            bus_reductions,
            buses_heard,
            gains,
        };
        let heard = lanes.iter_mut().chain(&mut buses).filter(|lane| lane.heard);
        (sums, heard.map(Lane::ran).collect())
    }

    /// Runs the buses of a block, level by level: those of one level feed none of the same.
    fn run_buses<'b>(
        &self,
        buses: &mut [Lane<'b>],
        routing: &Routing,
        parts: &[Outlet],
        mixed: &mut [Outlet<'b>],
        (now, frames): (i64, usize),
        what: Run,
    ) {
        let mut done = 0;
        for level in &routing.levels {
            let (fed, rest) = mixed.split_at_mut(done);
            let level = done..done + level.len();
            done = level.end;
            let pairs = buses[level].par_iter_mut().zip(rest);
            each("bus", pairs, |(bus, outlet)| {
                bus.run_bus(self, parts, fed, now, frames, what);
                bus.hand_over(outlet);
            });
        }
    }

    /// Adds to each sum what every strip gives it: the first is the master's, the others are the sends of rooms and delays.
    fn gather(&self, sums: &mut [Option<Stereo>], strips: &[Vec<Outlet>; 2], (now, frames): (i64, usize)) {
        let lead = strips.iter().flatten().map(|strip| strip.lead).max().unwrap_or(0);
        // Nothing reaches further than this block, and what goes round reaches the first ones.
        let reach = |frames: usize| self.span.frames.min(now as usize + frames);
        let fresh = if now == 0 { 0 } else { reach(lead) }..reach(frames + lead);
        let asked = sums.par_iter_mut().enumerate();
        let asked = asked.filter_map(|(to, sum)| Some((to, sum.as_mut()?)));
        each("sum", asked, |(to, sum)| {
            sum.iter_mut().for_each(|side| touch(&mut side[fresh.clone()]));
            for strip in strips.iter().flatten().filter(|strip| strip.heard) {
                if to == 0 {
                    if strip.feeds.is_none() {
                        strip.add(self.span, sum, now);
                    }
                } else if let Some(number) = strip.sends.iter().position(|send| send.to == to - 1) {
                    strip.send(number, self.span, sum, now);
                }
            }
        });
    }
}

/// Writes to the pages of silence that nothing has been added to yet. Fresh pages are handed out on the first write; where the first
/// thing done to them is to add, each is asked for twice, once to be read and once to be written.
fn touch(silence: &mut [f32]) {
    /// Samples in the smallest page that there is, 4 KiB.
    const PAGE: usize = 1024;
    silence.iter_mut().step_by(PAGE).for_each(|sample| *sample = 0.0);
}
