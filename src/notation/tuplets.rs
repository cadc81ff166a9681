//! Where a bar needs tuplets, and which.

use super::Tuplet;
use super::metre::Grouping;
use super::sounding::Sounding;
use crate::loopfile::Exact;

/// A stretch of a bar that a tuplet fills.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Region {
    pub from: Exact,
    pub to: Exact,
    /// So many units,
    pub notes: u32,
    /// in the time of so many of them.
    pub time_of: u32,
}

impl Region {
    fn new(from: Exact, to: Exact, notes: u32) -> Region {
        // In the time of as many as go into it twice, four, eight times, but of no more than there are.
        let length = to - from;
        let odd = (*length.numer() >> length.numer().trailing_zeros()) as u32;
        let mut time_of = odd;
        while time_of * 2 <= notes {
            time_of *= 2;
        }
        Region {
            from,
            to,
            notes,
            time_of,
        }
    }

    /// How long a unit is drawn, in whole notes.
    pub(super) fn unit(&self) -> Exact {
        (self.to - self.from) / i128::from(self.time_of)
    }

    /// How many times longer things are drawn than they sound.
    pub(super) fn stretch(&self) -> Exact {
        Exact::new(self.notes.into(), self.time_of.into())
    }

    /// Its bracket, where the shortest value inside it is 1 over `finest`: six are written over triplets that are halved.
    pub(super) fn bracket(&self, finest: u32) -> Tuplet {
        let unit = self.unit();
        let part = u32::try_from(*unit.denom()).unwrap_or(u32::MAX);
        let twice = if self.notes == 3 && finest > part { 2 } else { 1 };
        Tuplet {
            notes: self.notes * twice,
            time_of: self.time_of * twice,
            part: part * twice,
            begins: false,
            ends: false,
        }
    }
}

/// The odd divisor of a length's denominator: 1 for what halves of whole notes make up.
pub(super) fn odd(length: Exact) -> i128 {
    length.denom() >> length.denom().trailing_zeros()
}

fn common(a: i128, b: i128) -> i128 {
    let (mut one, mut other) = (a, b);
    while other != 0 {
        (one, other) = (other, one % other);
    }
    a / one * b
}

/// The tuplets of a voice, in the order of time: for each place that needs one the stretch in which what is played is
/// simplest to read.
pub(super) fn regions(grouping: &Grouping, sounding: &[Sounding]) -> Vec<Region> {
    let places = sounding.iter().flat_map(|sound| [sound.from, sound.to]);
    let mut uneven: Vec<Exact> = places.filter(|at| odd(*at) > 1).collect();
    uneven.sort();
    uneven.dedup();
    let mut found: Vec<Region> = Vec::new();
    for at in uneven {
        if found.iter().any(|region| region.from < at && at < region.to) {
            continue;
        }
        let candidates = grouping.stretches(at).into_iter();
        let free = candidates.filter(|(from, to)| found.iter().all(|other| *to <= other.from || other.to <= *from));
        let best = free.min_by_key(|stretch| cost(*stretch, sounding));
        found.extend(best.map(|(from, to)| Region::new(from, to, notes((from, to), sounding).0)));
    }
    found.sort_by_key(|region| region.from);
    found
}

/// How many units a stretch has to be parted into, and how often those are to be halved.
fn notes((from, to): (Exact, Exact), sounding: &[Sounding]) -> (u32, u32) {
    let places = sounding.iter().flat_map(|sound| [sound.from, sound.to]);
    let within = places.filter(|at| from < *at && *at < to);
    let shares = within.map(|at| (at - from) / (to - from));
    let (mut notes, mut halves) = (1i128, 0);
    for share in shares {
        notes = common(notes, odd(share));
        halves = halves.max(share.denom().trailing_zeros());
    }
    (u32::try_from(notes).unwrap_or(u32::MAX), halves)
}

/// How hard a stretch is to read as a tuplet: notes that lead over its edges, uneven numbers, halves of units.
fn cost((from, to): (Exact, Exact), sounding: &[Sounding]) -> (u64, Exact) {
    let leading = |sound: &Sounding| -> u64 {
        let over = |edge: Exact, beyond: Exact| match sound.from < edge && edge < sound.to {
            // In the other stretch it needs a tuplet again.
            true if odd(beyond) > 1 => 8,
            // A drum's note is cut short there; others are tied.
            true if !sound.short => 2,
            _ => 0,
        };
        over(from, sound.from) + over(to, sound.to)
    };
    let (notes, halves) = notes((from, to), sounding);
    let leading: u64 = sounding.iter().map(leading).sum();
    (leading + u64::from(notes) + 3 * u64::from(halves), to - from)
}
