//! Which drum of a set each is: toms go from the highest to the lowest, an open hat rings, a kick is lower than a snare.

use std::collections::BTreeMap;
use std::path::Path;

use super::Ears;
use crate::kit::findings::Findings;
use crate::kit::findings::distance::interval;
use crate::kit::findings::fingerprint::Fingerprint;
use crate::kit::names::classify::{Decided, Reading};
use crate::kit::names::takes::Alike;
use crate::kit::names::words::Drum;

/// How sure what was heard is.
const HEARD: f64 = 0.6;
/// An open hat rings for so many seconds at the least, and for so many times as long as the shortest beside it.
const RINGS: f64 = 0.3;
const LONGER: f64 = 2.0;
/// One that is alone is open if it rings so long.
const RINGS_ALONE: f64 = 0.7;
/// Of a set so many are compared with each at the most.
const COMPARED: usize = 24;
/// A pedal hat is so many dB softer than the loudest closed one.
const PEDAL: f64 = 9.0;

/// True for pieces of which there are several, told apart by their pitch.
pub(super) fn is_of_a_set(piece: &str) -> bool {
    ["tom-", "bongo-", "conga-", "timbale-", "agogo-", "woodblock-"]
        .iter()
        .any(|set| piece.starts_with(set))
}

/// Settles what names leave open of drums that come in sets. Drums of one folder are a set.
pub(super) fn settle(groups: &mut [Alike], ears: &Ears) {
    let mut sets: BTreeMap<(Option<&Path>, Drum), Vec<usize>> = BTreeMap::new();
    for (at, group) in groups.iter_mut().enumerate() {
        let kick_or_snare = |of: &Drum| matches!(of, Drum::Kick | Drum::Snare);
        if group.tied.contains(&Drum::Kick) && group.tied.iter().all(kick_or_snare) {
            if let Some(low) = figure(group, ears, |found| Some(f64::from(found.fingerprint.as_ref()?.low))) {
                decide(&mut group.reading, if low > 0.5 { "kick" } else { "snare" });
            }
        } else if let Some(drum) = group.bare {
            sets.entry((group.folder(), drum)).or_default().push(at);
        }
    }
    for ((within, drum), set) in sets {
        match drum {
            Drum::Hat => hats(groups, &set, within, ears),
            Drum::Tom | Drum::Bongo | Drum::Conga | Drum::Timbale | Drum::Agogo | Drum::Woodblock => {
                by_pitch(groups, &set, drum, ears);
            }
            _ => {}
        }
    }
}

fn decide(reading: &mut Reading, piece: &'static str) {
    reading.piece = Some(piece);
    reading.confidence = reading.confidence.max(HEARD);
    reading.decided = Decided::Sound;
}

fn figure(group: &Alike, ears: &Ears, figure: impl Fn(&Findings) -> Option<f64>) -> Option<f64> {
    ears.middle(&group.takes, figure)
}

fn length(found: &Findings) -> Option<f64> {
    Some(f64::from(found.fingerprint.as_ref()?.length))
}

/// Open ones ring; of the others, the pedal's are softer.
fn hats(groups: &mut [Alike], set: &[usize], within: Option<&Path>, ears: &Ears) {
    let lengths: Vec<Option<f64>> = set.iter().map(|at| figure(&groups[*at], ears, length)).collect();
    let closed = groups
        .iter()
        .filter(|group| group.folder() == within && group.bare.is_none() && group.reading.piece == Some("hat-closed"));
    let beside = closed.filter_map(|group| figure(group, ears, length));
    let beside: Vec<f64> = beside.chain(lengths.iter().copied().flatten()).collect();
    let shortest = beside.iter().copied().fold(f64::INFINITY, f64::min);
    let least = if beside.len() > 1 {
        RINGS.max(LONGER * shortest)
    } else {
        RINGS_ALONE
    };
    let level = |at: &usize| figure(&groups[*at], ears, |found| found.lufs);
    let levels: Vec<Option<f64>> = set.iter().map(level).collect();
    let is_open = |length: &Option<f64>| length.is_some_and(|length| length > least);
    let struck = lengths.iter().zip(&levels).filter(|(length, _)| !is_open(length));
    let loudest = struck.filter_map(|(_, level)| *level).fold(f64::NEG_INFINITY, f64::max);
    for ((at, length), level) in set.iter().zip(&lengths).zip(&levels) {
        if length.is_none() || lengths.len() < 2 && !is_open(length) {
            continue;
        }
        let soft = level.is_some_and(|level| level < loudest - PEDAL);
        let piece = match (is_open(length), soft) {
            (true, _) => "hat-open",
            (false, true) => "hat-pedal",
            (false, false) => "hat-closed",
        };
        decide(&mut groups[*at].reading, piece);
    }
}

/// From the highest to the lowest: by how much each lies above the others on average.
fn by_pitch(groups: &mut [Alike], set: &[usize], drum: Drum, ears: &Ears) {
    let first = |at: &usize| groups[*at].takes.iter().find_map(|take| ears.fingerprint(take.file));
    let heard: Option<Vec<&Fingerprint>> = set.iter().map(first).collect();
    let Some(heard) = heard.filter(|heard| heard.len() > 1) else {
        return;
    };
    let others = &heard[..heard.len().min(COMPARED)];
    let height = |one: &&Fingerprint| others.iter().map(|other| interval(one, other, 1200.0)).sum::<f64>();
    let heights: Vec<f64> = heard.iter().map(height).collect();
    let mut order: Vec<usize> = (0..set.len()).collect();
    order.sort_by(|a, b| heights[*b].total_cmp(&heights[*a]).then(a.cmp(b)));
    // Where names run out, the number behind one goes down too: they are given in the order of the groups.
    let highest: Vec<Alike> = order.iter().map(|at| groups[set[*at]].clone()).collect();
    for ((at, group), piece) in set.iter().zip(highest).zip(from_the_highest(drum, set.len())) {
        groups[*at] = group;
        decide(&mut groups[*at].reading, piece);
    }
}

/// So many pieces of a set, from the highest to the lowest. Six toms are General MIDI's: a high one, two middle ones, a low one and two
/// on the floor; of more or fewer, each has the name of its place among six.
fn from_the_highest(drum: Drum, count: usize) -> Vec<&'static str> {
    let places: &[&str] = match drum {
        Drum::Tom if count < 5 => {
            return match count {
                2 => vec!["tom-high", "tom-low"],
                3 => vec!["tom-high", "tom-mid", "tom-low"],
                _ => vec!["tom-high", "tom-mid", "tom-low", "tom-floor"],
            };
        }
        Drum::Tom => &["tom-high", "tom-mid", "tom-mid", "tom-low", "tom-floor", "tom-floor"],
        Drum::Bongo => &["bongo-high", "bongo-low"],
        Drum::Conga => &["conga-open", "conga-low"],
        Drum::Timbale => &["timbale-high", "timbale-low"],
        Drum::Agogo => &["agogo-high", "agogo-low"],
        _ => &["woodblock-high", "woodblock-low"],
    };
    (0..count)
        .map(|rank| places[(rank * places.len() / count).min(places.len() - 1)])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_go_from_the_highest_to_the_lowest() {
        assert_eq!(from_the_highest(Drum::Tom, 2), ["tom-high", "tom-low"]);
        assert_eq!(
            from_the_highest(Drum::Tom, 4),
            ["tom-high", "tom-mid", "tom-low", "tom-floor"]
        );
        assert_eq!(
            from_the_highest(Drum::Tom, 6),
            ["tom-high", "tom-mid", "tom-mid", "tom-low", "tom-floor", "tom-floor"]
        );
        assert_eq!(
            from_the_highest(Drum::Bongo, 3),
            ["bongo-high", "bongo-high", "bongo-low"]
        );
        for count in 2..40 {
            let names = from_the_highest(Drum::Tom, count);
            let place = |name: &&str| {
                ["tom-high", "tom-mid", "tom-low", "tom-floor"]
                    .iter()
                    .position(|of| of == name)
            };
            assert!(names.is_sorted_by_key(place), "{names:?}");
            assert_eq!(names.len(), count);
        }
    }
}
