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
    /// A stretch, with as many units as what is played in it needs; and how often those are to be halved.
    fn of((from, to): (Exact, Exact), sounding: &[Sounding]) -> (Region, u32) {
        let places = sounding.iter().flat_map(|sound| [sound.from, sound.to]);
        let within = places.filter(|at| from < *at && *at < to);
        let shares = within.map(|at| (at - from) / (to - from));
        let (mut notes, mut halves) = (1i128, 0);
        for share in shares {
            notes = common(notes, odd(share));
            halves = halves.max(share.denom().trailing_zeros());
        }
        (Region::new(from, to, u32::try_from(notes).unwrap_or(u32::MAX)), halves)
    }

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

    /// Cuts a stretch inside it, as [`Grouping::cut`] does.
    pub(super) fn cut(&self, from: Exact, to: Exact, rest: bool) -> Vec<(Exact, Exact)> {
        let (grouping, stretch) = (Grouping::of_tuplet(self.notes, self.unit()), self.stretch());
        let written = |at: Exact| (at - self.from) * stretch;
        let pieces = grouping.cut(written(from), written(to), rest).into_iter();
        let sounding = |at: Exact| self.from + at / stretch;
        pieces.map(|(from, to)| (sounding(from), sounding(to))).collect()
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

/// The tuplets of a voice from one place of a bar to another, in the order of time: for each place that needs one the stretch
/// in which what is played is simplest to read.
pub(super) fn regions(grouping: &Grouping, bar: (Exact, Exact), sounding: &[Sounding]) -> Vec<Region> {
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
        let free: Vec<(Exact, Exact)> = free.collect();
        let around = free
            .iter()
            .fold((at, at), |all, one| (all.0.min(one.0), all.1.max(one.1)));
        let spans: Vec<Span> = spans(bar, sounding)
            .filter(|span| span.from < around.1 && around.0 < span.to)
            .collect();
        let best = free
            .into_iter()
            .min_by_key(|stretch| cost(grouping, &found, *stretch, (sounding, &spans)));
        found.extend(best.map(|stretch| Region::of(stretch, sounding).0));
    }
    found.sort_by_key(|region| region.from);
    found
}

/// A stretch, parted where tuplets begin and end; each part with the number of its tuplet.
pub(super) fn parted(regions: &[Region], from: Exact, to: Exact) -> Vec<(Exact, Exact, Option<usize>)> {
    let mut parts = Vec::new();
    let mut now = from;
    while now < to {
        let inside = regions.iter().position(|region| region.from <= now && now < region.to);
        let next = regions.iter().map(|region| region.from).filter(|edge| *edge > now);
        let end = match inside {
            Some(region) => regions[region].to,
            None => next.min().unwrap_or(to),
        };
        parts.push((now, end.min(to), inside));
        now = end;
    }
    parts
}

/// What is written as one thing, or as several that are tied.
struct Span {
    from: Exact,
    to: Exact,
    kind: Kind,
}

enum Kind {
    Rest,
    Note,
    /// Written only as far as it goes without a tie; rests follow.
    Short,
}

/// What is played from one place of a bar to another, and the rests between.
fn spans<'a>((from, to): (Exact, Exact), sounding: &'a [Sounding]) -> impl Iterator<Item = Span> + 'a {
    let first = sounding.first().map_or(to, |sound| sound.from);
    let rest = |from, to| Span {
        from,
        to,
        kind: Kind::Rest,
    };
    let played = sounding.iter().enumerate().flat_map(move |(number, sound)| {
        let next = sounding.get(number + 1).map_or(to, |next| next.from);
        let (end, kind) = match sound.short {
            true => (next, Kind::Short),
            false => (sound.to, Kind::Note),
        };
        [
            Span {
                from: sound.from,
                to: end,
                kind,
            },
            rest(end, next),
        ]
    });
    std::iter::once(rest(from, first))
        .chain(played)
        .filter(|span| span.from < span.to)
}

/// How hard a stretch is to read as a tuplet: what is written around it and in it, ties, uneven numbers, halves of units.
fn cost(
    grouping: &Grouping,
    found: &[Region],
    stretch: (Exact, Exact),
    (sounding, spans): (&[Sounding], &[Span]),
) -> (u64, Exact) {
    let (region, halves) = Region::of(stretch, sounding);
    let regions: Vec<Region> = found.iter().copied().chain([region]).collect();
    let pieces = |from, to, rest| -> Vec<(Exact, Exact)> {
        let parts = parted(&regions, from, to).into_iter();
        parts
            .flat_map(|(from, to, inside)| match inside {
                Some(region) => regions[region].cut(from, to, rest),
                // It needs a tuplet yet, whose edge is likely to cut it.
                None if odd(from) > 1 || odd(to) > 1 => vec![(from, to); 2],
                None => grouping.cut(from, to, rest),
            })
            .collect()
    };
    let written = |span: &Span| match span.kind {
        Kind::Rest => pieces(span.from, span.to, true).len(),
        // Ties count as much as what they join.
        Kind::Note => 2 * pieces(span.from, span.to, false).len() - 1,
        Kind::Short => {
            let end = pieces(span.from, span.to, false)
                .first()
                .map_or(span.to, |(_, end)| *end);
            1 + pieces(end, span.to, true).len()
        }
    };
    let again = |sound: &Sounding| -> u64 {
        let over = |edge: Exact, beyond: Exact| sound.from < edge && edge < sound.to && odd(beyond) > 1;
        // In the other stretch it needs a tuplet again.
        8 * u64::from(over(region.from, sound.from)) + 8 * u64::from(over(region.to, sound.to))
    };
    // Over several beats, halves of units hide where they are.
    let half = if grouping.beat(region.from).1 < region.to { 8 } else { 2 };
    let written: usize = spans.iter().map(written).sum();
    let again: u64 = sounding.iter().map(again).sum();
    let uneven = u64::from(region.notes) + half * u64::from(halves);
    (written as u64 + again + uneven, region.to - region.from)
}
