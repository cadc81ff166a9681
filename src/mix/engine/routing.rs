//! Who feeds whom, and how far ahead each strip must run so that all meet in time.
//!
//! An effect that looks ahead gives its output late. Instead of delaying everyone else, whatever feeds it is asked
//! earlier: a strip's *lead* is the number of frames by which its output runs ahead of the master's input.

use super::inputs::Mixer;
use super::time::BLOCK;
use crate::loopfile::{Loop, Target};
use crate::mix::strip::Channel;

/// The longest run-in of a strip and all that it feeds, in seconds. Only narrow bells that lift low frequencies
/// far, or many in one place, ring for longer; where such a loop repeats, what is left of their ring after this time is missing.
pub const LONGEST_RUN_IN: f64 = 60.0;

/// The ways from parts through buses to the master.
pub(crate) struct Routing {
    /// Buses in levels: those of one level are fed by parts and earlier levels alone.
    pub levels: Vec<Vec<usize>>,
    /// Each part's lead in frames.
    pub part_leads: Vec<usize>,
    /// Each bus's lead in frames.
    pub bus_leads: Vec<usize>,
    /// The frame at which each part begins, 0 or before it: early enough to have forgotten, on a circle, how it began by
    /// the time that what it feeds begins.
    pub part_begins: Vec<i64>,
    /// The frame at which each bus begins.
    pub bus_begins: Vec<i64>,
    /// What is heard of the parts and of the buses: it is not silenced, and something that plays reaches it.
    heard: [Vec<bool>; 2],
}

impl Routing {
    /// Works out the ways of a loop whose strips are these. The loop's buses never feed one another in a circle.
    pub(crate) fn of(desk: &Mixer, parts: &[Channel], buses: &[Channel]) -> Routing {
        let song = desk.song;
        let depth = |bus: usize| downstream(song, Some(bus)).count();
        let deepest = (0..buses.len()).map(depth).max().unwrap_or(0);
        let levels: Vec<Vec<usize>> = (1..=deepest)
            .rev()
            .map(|level| (0..buses.len()).filter(|bus| depth(*bus) == level).collect())
            .collect();
        let lead = |bus: Option<usize>| downstream(song, bus).map(|bus| buses[bus].latency()).sum::<usize>();
        let memory = |bus: Option<usize>| downstream(song, bus).map(|bus| buses[bus].run_in()).sum::<usize>();
        let begins = |strip: &Channel, bus: Option<usize>| {
            let forgets = if desk.span.circle {
                within(strip.run_in() + memory(bus), desk.rate)
            } else {
                0
            };
            -whole_blocks(forgets + strip.latency() + lead(bus))
        };
        let (of_parts, of_buses) = (song.parts.iter().zip(parts), song.buses.iter().zip(buses));
        Routing {
            heard: heard(song, desk.plays, &levels),
            levels,
            part_leads: song.parts.iter().map(|part| lead(part.bus)).collect(),
            bus_leads: song.buses.iter().map(|bus| lead(bus.bus)).collect(),
            part_begins: of_parts.map(|(part, strip)| begins(strip, part.bus)).collect(),
            bus_begins: of_buses.map(|(bus, strip)| begins(strip, bus.bus)).collect(),
        }
    }
}

impl Routing {
    /// True where something of a strip is heard, the master's among them.
    pub(crate) fn is_heard(&self, target: Target) -> bool {
        match target {
            Target::Part(part) => self.heard[0][part],
            Target::Bus(bus) => self.heard[1][bus],
            _ => true,
        }
    }
}

/// What is heard of the parts and buses, by which parts play.
fn heard(song: &Loop, plays: &[bool], levels: &[Vec<usize>]) -> [Vec<bool>; 2] {
    let parts = song.parts.iter().zip(plays);
    let parts: Vec<bool> = parts.map(|(part, plays)| *plays && !part.silenced).collect();
    let mut buses = vec![false; song.buses.len()];
    for bus in levels.iter().flatten() {
        let by_part = song
            .parts
            .iter()
            .zip(&parts)
            .any(|(part, heard)| *heard && part.bus == Some(*bus));
        let by_bus = song
            .buses
            .iter()
            .zip(&buses)
            .any(|(inner, heard)| *heard && inner.bus == Some(*bus));
        buses[*bus] = !song.buses[*bus].silenced && (by_part || by_bus);
    }
    [parts, buses]
}

/// So many frames of run-in, or the most that there is.
pub(crate) fn within(run_in: usize, rate: u32) -> usize {
    run_in.min((LONGEST_RUN_IN * f64::from(rate)) as usize)
}

/// So many frames rounded up to blocks, and many blocks to fours: a slight change of a setting rarely changes when a
/// strip begins, so what feeds it gives the same bits as before.
fn whole_blocks(frames: usize) -> i64 {
    let blocks = frames.div_ceil(BLOCK);
    let blocks = if blocks > 2 { blocks.next_multiple_of(4) } else { blocks };
    (blocks * BLOCK) as i64
}

/// A bus and the buses that it feeds, one after another, up to the master.
fn downstream(song: &Loop, bus: Option<usize>) -> impl Iterator<Item = usize> {
    std::iter::successors(bus, |bus| song.buses[*bus].bus)
}

/// The strips of a mix before they are run.
pub(crate) struct Strips {
    pub(super) parts: Vec<Channel>,
    pub(super) buses: Vec<Channel>,
    pub(super) routing: Routing,
}

impl Strips {
    /// Channels of what is kept of a part.
    pub(crate) fn part_channels(&self, part: usize) -> usize {
        self.parts[part].kept_channels()
    }
}
