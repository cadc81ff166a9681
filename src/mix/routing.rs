//! Who feeds whom, and how far ahead each strip must run so that all meet in time.
//!
//! An effect that looks ahead gives its output late. Instead of delaying everyone else, whatever feeds it is asked
//! earlier: a strip's *lead* is the number of frames by which its output runs ahead of the master's input.

use super::strip::Channel;
use crate::loopfile::Loop;

/// The ways from parts through buses to the master.
pub struct Routing {
    /// Buses in levels: those of one level are fed by parts and earlier levels alone.
    pub levels: Vec<Vec<usize>>,
    /// Each part's lead in frames.
    pub part_leads: Vec<usize>,
    /// Each bus's lead in frames.
    pub bus_leads: Vec<usize>,
    /// Frames that the longest way from a part to the master needs to forget how it began.
    pub run_in: usize,
}

impl Routing {
    /// Works out the ways of a loop whose strips are these. The loop's buses never feed one another in a circle.
    pub fn of(song: &Loop, parts: &[Channel], buses: &[Channel]) -> Routing {
        let depth = |bus: usize| downstream(song, Some(bus)).count();
        let deepest = (0..buses.len()).map(depth).max().unwrap_or(0);
        let levels = (1..=deepest)
            .rev()
            .map(|level| (0..buses.len()).filter(|bus| depth(*bus) == level).collect())
            .collect();
        let lead = |bus: Option<usize>| downstream(song, bus).map(|bus| buses[bus].latency()).sum::<usize>();
        let memory = |bus: Option<usize>| downstream(song, bus).map(|bus| buses[bus].run_in()).sum::<usize>();
        let part_way = |(part, strip): (&crate::loopfile::Part, &Channel)| {
            strip.run_in() + strip.latency() + memory(part.bus) + lead(part.bus)
        };
        Routing {
            levels,
            part_leads: song.parts.iter().map(|part| lead(part.bus)).collect(),
            bus_leads: song.buses.iter().map(|bus| lead(bus.bus)).collect(),
            run_in: song.parts.iter().zip(parts).map(part_way).max().unwrap_or(0),
        }
    }
}

/// A bus and the buses that it feeds, one after another, up to the master.
fn downstream(song: &Loop, bus: Option<usize>) -> impl Iterator<Item = usize> {
    std::iter::successors(bus, |bus| song.buses[*bus].bus)
}
