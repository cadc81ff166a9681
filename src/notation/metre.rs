//! How a bar is divided: what strength its places have.

use crate::loopfile::Exact;

/// The places of a bar by their strength.
#[derive(Debug, Clone)]
pub(super) struct Grouping {
    /// The strongest places first: barlines, halves, beats; each list holds those before it.
    layers: Vec<Vec<Exact>>,
    /// What the last layer's places are apart; they are halved from there on.
    pulse: Exact,
    /// Which layer is that of the beats: what beams join, and what drummers write their notes to.
    beats: usize,
    /// True where places of the layers go in twos, so that a dot over one of them is read at sight.
    even: bool,
}

/// The finest places that have a strength of their own: 1/4096 of a pulse.
const FINEST: u32 = 12;

fn each(count: u32, apart: Exact) -> Vec<Exact> {
    (0..=count).map(|place| apart * i128::from(place)).collect()
}

/// How good a way through a stretch is; the least is the best.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Way {
    /// Lengths that can't be drawn.
    undrawn: u32,
    /// All lengths.
    pieces: u32,
    /// How weak the places are at which it is cut.
    weakness: u32,
}

impl Way {
    /// It with one length before it that ends at a place of some weakness.
    fn after(self, drawn: bool, weakness: u32) -> Way {
        Way {
            undrawn: self.undrawn + u32::from(!drawn),
            pieces: self.pieces + 1,
            weakness: self.weakness + weakness,
        }
    }
}

impl Grouping {
    /// The grouping of a metre. Compound metres (6/8, 9/8, 12/8) have dotted beats; uneven ones go in twos and threes, as
    /// E. Gould, "Behind Bars" (2011), groups them [memory].
    pub(super) fn of((counts, unit): (u32, u32)) -> Grouping {
        let count = Exact::new(1, unit.max(1).into());
        let bar = vec![Exact::ZERO, count * i128::from(counts)];
        if counts == 3 && unit >= 8 {
            return Grouping::new(vec![bar, each(3, count)], count, (0, false));
        }
        if unit >= 8 && counts.is_multiple_of(3) {
            return Grouping::beats(bar, counts / 3, count * 3, Some((count, each(counts, count))));
        }
        // Quarters are the beats of metres over 8 and 16 that hold a whole number of them.
        if unit >= 8 && counts.is_multiple_of(unit / 4) {
            return Grouping::beats(bar, counts / (unit / 4), Exact::new(1, 4), None);
        }
        if unit >= 8 {
            let mut places = vec![Exact::ZERO];
            let mut left = counts;
            while left > 0 {
                let group = match left {
                    3 => 3,
                    5 if counts == 5 => 3,
                    _ => left.min(2),
                };
                left -= group;
                places.push(count * i128::from(counts - left));
            }
            return Grouping::new(vec![bar, places, each(counts, count)], count, (1, false));
        }
        Grouping::beats(bar, counts, count, None)
    }

    /// A tuplet: so many units of a length.
    pub(super) fn of_tuplet(notes: u32, unit: Exact) -> Grouping {
        let whole = vec![Exact::ZERO, unit * i128::from(notes)];
        Grouping::new(vec![whole, each(notes, unit)], unit, (1, true))
    }

    fn new(layers: Vec<Vec<Exact>>, pulse: Exact, (beats, even): (usize, bool)) -> Grouping {
        Grouping {
            layers,
            pulse,
            beats,
            even,
        }
    }

    /// Even beats; of four, six, eight the middle of the bar is stronger, of five and seven the fourth or fifth.
    fn beats(bar: Vec<Exact>, beats: u32, beat: Exact, split: Option<(Exact, Vec<Exact>)>) -> Grouping {
        let middle = match beats {
            5 => Some(3),
            7 => Some(4),
            _ if beats >= 4 && beats.is_multiple_of(2) => Some(beats / 2),
            _ => None,
        };
        let end = bar[1];
        let mut layers = vec![bar];
        layers.extend(middle.map(|middle| vec![Exact::ZERO, beat * i128::from(middle), end]));
        layers.push(each(beats, beat));
        let layer = layers.len() - 1;
        match split {
            Some((pulse, places)) => {
                layers.push(places);
                Grouping::new(layers, pulse, (layer, false))
            }
            None => Grouping::new(layers, beat, (layer, true)),
        }
    }

    /// The length of the bar.
    pub(super) fn length(&self) -> Exact {
        self.layers[0].last().copied().unwrap_or(Exact::ONE)
    }

    /// Where its beats begin, and the bar's end.
    pub(super) fn beat_places(&self) -> &[Exact] {
        &self.layers[self.beats]
    }

    /// The number of the beat in which a place lies, and where that beat ends.
    pub(super) fn beat(&self, at: Exact) -> (usize, Exact) {
        let places = self.beat_places();
        let next = places.partition_point(|place| *place <= at);
        let end = places.get(next).copied().unwrap_or(self.length());
        (next, end)
    }

    /// How strong a place is: 0 for barlines, higher numbers for weaker places.
    fn level(&self, at: Exact) -> u32 {
        let layered = self.layers.iter().position(|layer| layer.binary_search(&at).is_ok());
        let layers = self.layers.len() as u32;
        layered.map_or_else(
            || {
                let halves = (at / self.pulse).denom().trailing_zeros();
                layers - 1 + if halves == 0 { FINEST } else { halves.min(FINEST) }
            },
            |layer| layer as u32,
        )
    }

    /// The strongest places inside a stretch, and their level.
    fn within(&self, from: Exact, to: Exact) -> Option<(u32, Vec<Exact>)> {
        for (level, layer) in (0..).zip(&self.layers) {
            let inside = layer.iter().filter(|place| from < **place && **place < to);
            let inside: Vec<Exact> = inside.copied().collect();
            if !inside.is_empty() {
                return Some((level, inside));
            }
        }
        let mut step = self.pulse;
        for halved in 1..=FINEST {
            step /= 2;
            let first = (from / step).floor() + 1;
            if first * step < to {
                let level = self.layers.len() as u32 - 1 + halved;
                return Some((level, vec![first * step]));
            }
        }
        None
    }

    /// True where a note of this place and length is read at sight: it shows the strong places inside it, or is a plain
    /// syncopation about one.
    pub(super) fn note_fits(&self, from: Exact, to: Exact) -> bool {
        let Some((level, inside)) = self.within(from, to) else {
            return true;
        };
        let (begins, ends) = (self.level(from), self.level(to));
        let uneven_beat = !self.even && level <= self.beats as u32;
        if uneven_beat {
            return begins <= level && ends <= level;
        }
        if begins.min(ends) <= level {
            return true;
        }
        let (middle, length) = (inside[0], to - from);
        let (before, behind) = (middle - length, middle + length);
        inside.len() == 1
            && from + to == middle * 2
            && before >= Exact::ZERO
            && behind <= self.length()
            && self.level(before).max(self.level(behind)) <= level
    }

    /// The same for a rest: rests show every beat, and are dotted only from its beginning on.
    fn rest_fits(&self, from: Exact, to: Exact) -> bool {
        let Some((level, _)) = self.within(from, to) else {
            return true;
        };
        let (begins, ends) = (self.level(from), self.level(to));
        match level <= self.beats as u32 {
            true => begins < level && ends < level,
            false => begins < level,
        }
    }

    /// Cuts a stretch into lengths that can be drawn, as few as show the beats; of as few those that meet at the strongest
    /// places.
    pub(super) fn cut(&self, from: Exact, to: Exact, rest: bool) -> Vec<(Exact, Exact)> {
        let fits = |from: Exact, to: Exact| match rest {
            _ if super::value::drawn(to - from).is_none() => false,
            true => self.rest_fits(from, to),
            false => self.note_fits(from, to),
        };
        if fits(from, to) {
            return vec![(from, to)];
        }
        let places = self.ladder(from, to);
        // For each place the best way from it to the end: how good it is, and where its first length ends.
        let last = places.len() - 1;
        let mut best = vec![(Way::default(), last); places.len()];
        for begin in (0..last).rev() {
            let ways = (begin + 1..=last).filter_map(|end| {
                let fits = fits(places[begin], places[end]);
                // What can't be cut any further stays, if it can be drawn or not.
                (fits || end == begin + 1).then(|| (best[end].0.after(fits, self.level(places[end])), end))
            });
            best[begin] = ways.min().expect("the next place is one");
        }
        let mut pieces = Vec::new();
        let mut now = 0;
        while now < last {
            let end = best[now].1;
            pieces.push((places[now], places[end]));
            now = end;
        }
        pieces
    }

    /// The places at which a stretch may be cut, with its ends: the strong ones inside it, and those that lead up to the next
    /// strong one from its beginning, and from the last one to its end.
    fn ladder(&self, from: Exact, to: Exact) -> Vec<Exact> {
        let mut places = vec![from, to];
        if let Some(layer) = self.layers.last() {
            places.extend(layer.iter().filter(|place| from < **place && **place < to));
        }
        let mut step = self.pulse;
        for _ in 0..FINEST {
            if (from / step).is_integer() && (to / step).is_integer() {
                break;
            }
            step /= 2;
            let (first, last) = (((from / step).floor() + 1) * step, ((to / step).ceil() - 1) * step);
            places.extend([first, last].into_iter().filter(|place| from < *place && *place < to));
        }
        places.sort();
        places.dedup();
        places
    }

    /// The stretches around a place that a tuplet may fill: beats, halves of the bar, and halves of beats, the shortest first.
    pub(super) fn stretches(&self, around: Exact) -> Vec<(Exact, Exact)> {
        let mut found = Vec::new();
        let mut step = self.pulse / 16;
        while step < self.pulse {
            let from = (around / step).floor() * step;
            found.push((from, from + step));
            step *= 2;
        }
        for layer in self.layers.iter().rev() {
            let next = layer.partition_point(|place| *place <= around);
            if next > 0 && next < layer.len() {
                found.push((layer[next - 1], layer[next]));
            }
        }
        found.dedup();
        found
    }
}

#[cfg(test)]
mod tests {
    use super::super::value::drawn;
    use super::*;

    #[test]
    fn a_tuplet_of_many_is_cut_as_soon_as_one_of_few() {
        let unit = Exact::new(1, 64);
        let grouping = Grouping::of_tuplet(63, unit);
        let pieces = grouping.cut(unit, unit * 62, true);
        assert_eq!((pieces[0].0, pieces[pieces.len() - 1].1), (unit, unit * 62));
        // Rests show every unit.
        assert_eq!(pieces.len(), 61);
    }

    /// Lengths in sixteenths of what a stretch, in sixteenths, is cut into.
    fn cut(metre: (u32, u32), from: i128, to: i128, rest: bool) -> Vec<i128> {
        let place = |sixteenths: i128| Exact::new(sixteenths, 16);
        let pieces = Grouping::of(metre).cut(place(from), place(to), rest);
        pieces
            .iter()
            .map(|(from, to)| ((to - from) * 16).to_integer())
            .collect()
    }

    /// No two neighbours that are tied could be one note, and no two rests one rest, without hiding what has to be seen.
    #[test]
    fn there_is_no_tie_where_a_dot_will_do() {
        let metres = [
            (4, 4),
            (3, 4),
            (5, 4),
            (7, 4),
            (2, 2),
            (6, 8),
            (9, 8),
            (12, 8),
            (5, 8),
            (7, 8),
            (11, 16),
            (3, 8),
        ];
        let tuplets =
            [(3, 8), (5, 16), (7, 8), (9, 16)].map(|(notes, of)| Grouping::of_tuplet(notes, Exact::new(1, of)));
        for grouping in metres.into_iter().map(Grouping::of).chain(tuplets) {
            let last = (grouping.length() * 32).to_integer();
            let places = (0..=last).map(|at| Exact::new(at, 32));
            let places: Vec<Exact> = places.collect();
            for (number, from) in places.iter().enumerate() {
                for (to, rest) in places[number + 1..].iter().flat_map(|to| [(to, false), (to, true)]) {
                    let pieces = grouping.cut(*from, *to, rest);
                    assert_eq!((pieces[0].0, pieces[pieces.len() - 1].1), (*from, *to));
                    let fits = |from, to| match rest {
                        true => grouping.rest_fits(from, to),
                        false => grouping.note_fits(from, to),
                    };
                    let one_will_do = |from, to| drawn(to - from).is_some() && fits(from, to);
                    for (begin, end) in &pieces {
                        assert!(one_will_do(*begin, *end), "{grouping:?} {from}-{to}: {pieces:?}");
                    }
                    for pair in pieces.windows(2) {
                        assert_eq!(pair[0].1, pair[1].0);
                        assert!(
                            !one_will_do(pair[0].0, pair[1].1),
                            "{grouping:?} {from}-{to}: {pieces:?}"
                        );
                    }
                }
            }
        }
    }

    /// E. Gould, "Behind Bars" (2011), "Grouping of note values" [memory].
    #[test]
    fn notes_show_the_middle_of_the_bar_but_for_plain_syncopations() {
        for (metre, from, to, pieces) in [
            ((4, 4), 0, 16, vec![16]),
            ((4, 4), 0, 12, vec![12]),
            ((4, 4), 4, 12, vec![8]),
            ((4, 4), 2, 6, vec![4]),
            ((4, 4), 6, 10, vec![2, 2]),
            ((4, 4), 4, 10, vec![4, 2]),
            ((4, 4), 0, 6, vec![6]),
            ((4, 4), 2, 8, vec![6]),
            ((4, 4), 2, 14, vec![6, 6]),
            ((4, 4), 3, 5, vec![1, 1]),
            ((4, 4), 1, 5, vec![3, 1]),
            ((4, 4), 0, 10, vec![8, 2]),
            ((4, 4), 6, 16, vec![2, 8]),
            ((4, 4), 4, 16, vec![12]),
            ((4, 4), 0, 13, vec![12, 1]),
            ((4, 4), 3, 12, vec![1, 8]),
            ((3, 4), 2, 12, vec![2, 8]),
            ((3, 4), 0, 12, vec![12]),
            ((3, 4), 6, 12, vec![6]),
            ((6, 8), 0, 8, vec![6, 2]),
            ((6, 8), 2, 6, vec![4]),
            ((6, 8), 4, 8, vec![2, 2]),
            ((6, 8), 0, 12, vec![12]),
            ((12, 8), 0, 18, vec![12, 6]),
            ((5, 8), 0, 10, vec![6, 4]),
            ((7, 8), 0, 14, vec![8, 6]),
            ((5, 4), 0, 20, vec![12, 8]),
        ] {
            assert_eq!(cut(metre, from, to, false), pieces, "{metre:?} {from}-{to}");
        }
    }

    #[test]
    fn rests_show_every_beat() {
        for (metre, from, to, pieces) in [
            ((4, 4), 0, 8, vec![8]),
            ((4, 4), 4, 12, vec![4, 4]),
            ((4, 4), 4, 16, vec![4, 8]),
            ((4, 4), 0, 6, vec![4, 2]),
            ((4, 4), 2, 6, vec![2, 2]),
            ((4, 4), 0, 3, vec![3]),
            ((4, 4), 1, 4, vec![1, 2]),
            ((3, 4), 0, 8, vec![4, 4]),
            ((6, 8), 0, 4, vec![4]),
            ((6, 8), 2, 6, vec![2, 2]),
            ((6, 8), 0, 8, vec![6, 2]),
        ] {
            assert_eq!(cut(metre, from, to, true), pieces, "{metre:?} {from}-{to}");
        }
    }

    #[test]
    fn beats_are_dotted_in_compound_metres_and_go_in_twos_and_threes_in_uneven_ones() {
        let beats = |metre| -> Vec<i128> {
            let grouping = Grouping::of(metre);
            let places = grouping.beat_places().iter();
            places.map(|place| (place * 16).to_integer()).collect()
        };
        assert_eq!(beats((6, 8)), [0, 6, 12]);
        assert_eq!(beats((7, 8)), [0, 4, 8, 14]);
        assert_eq!(beats((5, 8)), [0, 6, 10]);
        assert_eq!(beats((4, 4)), [0, 4, 8, 12, 16]);
        assert_eq!(beats((4, 8)), [0, 4, 8]);
        assert_eq!(beats((3, 8)), [0, 6]);
    }
}
