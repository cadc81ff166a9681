//! How a bar is divided: what strength its places have.

use std::collections::HashMap;

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

/// How stretches were cut.
type Known = HashMap<(Exact, Exact), Vec<(Exact, Exact)>>;

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
    fn note_fits(&self, from: Exact, to: Exact) -> bool {
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

    /// Cuts a stretch into lengths that can be drawn: as few as show the beats.
    pub(super) fn cut(&self, from: Exact, to: Exact, rest: bool) -> Vec<(Exact, Exact)> {
        self.cut_knowing(from, to, rest, &mut HashMap::new())
    }

    /// The same by way of what is known already: parts of a tuplet of many are asked for again and again.
    fn cut_knowing(&self, from: Exact, to: Exact, rest: bool, known: &mut Known) -> Vec<(Exact, Exact)> {
        if let Some(pieces) = known.get(&(from, to)) {
            return pieces.clone();
        }
        let fits = match rest {
            true => self.rest_fits(from, to),
            false => self.note_fits(from, to),
        };
        let within = match fits && super::value::drawn(to - from).is_some() {
            true => None,
            false => self.within(from, to),
        };
        let pieces = within.map_or_else(
            || vec![(from, to)],
            |(_, inside)| {
                // What lies between the first and the last of the strong places is cut at each of them or none.
                let cuts = [inside[0], inside[inside.len() - 1]].map(|place| {
                    let mut pieces = self.cut_knowing(from, place, rest, known);
                    pieces.extend(self.cut_knowing(place, to, rest, known));
                    pieces
                });
                let [first, last] = cuts;
                if last.len() < first.len() { last } else { first }
            },
        );
        known.insert((from, to), pieces.clone());
        pieces
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
