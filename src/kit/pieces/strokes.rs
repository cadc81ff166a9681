//! Whether files whose names are alike but for a number are strokes of one drum, or different drums.

use super::Ears;
use super::sets::is_of_a_set;
use crate::kit::findings::distance::{distance, interval};
use crate::kit::findings::fingerprint::Fingerprint;
use crate::kit::names::takes::{Alike, Take};

/// Drums of a set are tuned so many cents apart at the least; strokes of one are not [practice].
const TUNED: f64 = 70.0;
/// What is heard so many semitones apart are other notes.
const NOTE: f64 = 0.7;
/// Up to this distance files that are numbered are strokes of one drum.
const NUMBERED: f64 = 1.0;
/// The same where a word says that they are turns.
const TURNS: f64 = 1.2;
/// The same where a word says that they are struck differently hard.
const DYNAMICS: f64 = 1.4;

/// A group as one, or as several where its files are different sounds, in the order of their numbers. One that has a file which was
/// not listened to, or names notes, stays whole.
pub(super) fn part<'a>(mut group: Alike<'a>, ears: &Ears) -> Vec<Alike<'a>> {
    let heard: Option<Vec<&Fingerprint>> = group.takes.iter().map(|take| ears.fingerprint(take.file)).collect();
    let Some(heard) = heard.filter(|heard| heard.len() > 1 && group.roots.is_empty()) else {
        return vec![group];
    };
    let tuned = group.reading.piece.is_some_and(is_of_a_set);
    let keys: Vec<Option<f64>> = group.takes.iter().map(|take| ears.key(take.file)).collect();
    let other_note = |a: usize, b: usize| keys[a].zip(keys[b]).is_some_and(|(a, b)| (a - b).abs() >= NOTE);
    let apart = |a: usize, b: usize| {
        let distance = distance(heard[a], heard[b]) / odds(&group.takes[a], &group.takes[b]);
        let other_drum = || tuned && interval(heard[a], heard[b], 480.0).abs() >= TUNED;
        match other_note(a, b) || other_drum() {
            true => distance.max(2.0),
            false => distance,
        }
    };
    let drums = clusters(heard.len(), apart);
    let sure: Vec<f64> = (0..drums.len()).map(|at| sureness(&drums, at, apart)).collect();
    let farthest = |drum: &[usize]| {
        let each = drum
            .iter()
            .flat_map(|a| drum.iter().map(|b| distance(heard[*a], heard[*b])));
        each.reduce(f64::max)
    };
    if let [_] = drums.as_slice() {
        group.reading.distance = farthest(&drums[0]);
        group.reading.takes_confidence = Some(sure[0]);
        return vec![group];
    }
    let parts = drums.iter().zip(sure).map(|(drum, sure)| {
        let mut part = group.part(drum.iter().map(|at| group.takes[*at].clone()).collect());
        part.reading.distance = farthest(drum).filter(|_| drum.len() > 1);
        part.reading.takes_confidence = Some(sure);
        part
    });
    parts.collect()
}

/// The distance up to which two files are strokes of one drum, by what their names say: words that mean a turn or a dynamic raise the
/// odds, they don't decide.
fn odds(a: &Take, b: &Take) -> f64 {
    match (a.counts == b.counts, a.rank == b.rank) {
        (false, _) => NUMBERED,
        (true, false) => DYNAMICS,
        (true, true) => TURNS,
    }
}

/// So many files as drums: each file in the order of their numbers joins the nearest drum before it, if it is on average near enough
/// to that drum's files, or begins another.
fn clusters(files: usize, apart: impl Fn(usize, usize) -> f64) -> Vec<Vec<usize>> {
    let mut drums: Vec<Vec<usize>> = Vec::new();
    for file in 0..files {
        let mean = |drum: &Vec<usize>| drum.iter().map(|at| apart(*at, file)).sum::<f64>() / drum.len() as f64;
        let nearest = drums.iter().map(mean).enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
        match nearest {
            Some((at, mean)) if mean <= 1.0 => drums[at].push(file),
            _ => drums.push(vec![file]),
        }
    }
    drums
}

/// How sure it is that one of some drums is one, and no other's, from 0.5 to 1: by how far its files and the nearest other drum's are
/// from the border.
fn sureness(drums: &[Vec<usize>], at: usize, apart: impl Fn(usize, usize) -> f64) -> f64 {
    let own = &drums[at];
    let within = own
        .iter()
        .flat_map(|a| own.iter().map(|b| apart(*a, *b)))
        .fold(0.0, f64::max);
    let others = (0..drums.len())
        .filter(|other| *other != at)
        .flat_map(|other| &drums[other]);
    let nearest = others
        .flat_map(|a| own.iter().map(|b| apart(*a, *b)))
        .fold(f64::INFINITY, f64::min);
    let margin = (1.0 - within).min(1.0 - 1.0 / nearest.max(1e-9));
    0.5 + 0.5 * margin.clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_join_the_nearest_drum_that_is_near_enough() {
        let places: [f64; 6] = [0.0, 0.4, 5.0, 0.2, 5.3, 9.0];
        let apart = |a: usize, b: usize| (places[a] - places[b]).abs();
        let drums = clusters(places.len(), apart);
        assert_eq!(drums, [vec![0, 1, 3], vec![2, 4], vec![5]]);
        for at in 0..drums.len() {
            let sure = sureness(&drums, at, apart);
            assert!((0.5..=1.0).contains(&sure), "{at}: {sure}");
        }
        assert!(sureness(&drums, 2, apart) > sureness(&drums, 0, apart));
    }
}
