//! Whether files whose names are alike but for a number are strokes of one drum, or different drums.

use super::Ears;
use super::sets::is_of_a_set;
use crate::kit::findings::distance::{distance, distance_up_to, interval};
use crate::kit::findings::fingerprint::Fingerprint;
use crate::kit::names::takes::{Alike, Take};

/// Drums of a set are tuned so many cents apart at the least; strokes of one are not [practice].
const TUNED: f64 = 70.0;
/// What is heard so many semitones apart are other notes.
const NOTE: f64 = 0.7;
/// What is so far apart is another drum, however much farther it is.
const FAR: f64 = 2.0;
/// Up to this distance files that are numbered are strokes of one drum.
const NUMBERED: f64 = 1.0;
/// The same where a word says that they are turns.
const TURNS: f64 = 1.2;
/// The same where a word says that they are struck differently hard.
const DYNAMICS: f64 = 1.4;

/// Of many files, so many drums before each are compared with it, and so many files of each drum; of so many the farthest two are shown.
const DRUMS: usize = 32;
const STROKES: usize = 8;
const SHOWN: usize = 32;

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
        let distance = distance_up_to(FAR, heard[a], heard[b]) / odds(&group.takes[a], &group.takes[b]);
        let other_drum = || tuned && interval(heard[a], heard[b], 480.0).abs() >= TUNED;
        match other_note(a, b) || other_drum() {
            true => distance.max(FAR),
            false => distance,
        }
    };
    let drums = drums(heard.len(), apart);
    let farthest = |drum: &Drum| {
        let some = &drum.files[..drum.files.len().min(SHOWN)];
        let each = some
            .iter()
            .flat_map(|a| some.iter().map(|b| distance(heard[*a], heard[*b])));
        each.reduce(f64::max).filter(|_| some.len() > 1)
    };
    if let [only] = drums.as_slice() {
        group.reading.distance = farthest(only);
        group.reading.takes_confidence = Some(only.sureness());
        return vec![group];
    }
    let parts = drums.iter().map(|drum| {
        let mut part = group.part(drum.files.iter().map(|at| group.takes[*at].clone()).collect());
        part.reading.distance = farthest(drum);
        part.reading.takes_confidence = Some(drum.sureness());
        part
    });
    parts.collect()
}

/// Sounds as strokes of drums, by nothing but how they sound: for each drum the places of its strokes.
pub(crate) fn by_sound(sounds: &[&Fingerprint]) -> Vec<Vec<usize>> {
    let apart = |a: usize, b: usize| distance_up_to(FAR, sounds[a], sounds[b]) / NUMBERED;
    drums(sounds.len(), apart).into_iter().map(|drum| drum.files).collect()
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

/// Files that are strokes of one drum.
#[derive(Debug, PartialEq)]
struct Drum {
    files: Vec<usize>,
    /// How far the farthest file was that joined it, and the nearest that did not; 1 is the border.
    joined: f64,
    passed: f64,
}

impl Drum {
    /// How sure it is that it is one drum, and no other's, from 0.5 to 1: by how far from the border its files are.
    fn sureness(&self) -> f64 {
        let margin = (1.0 - self.joined).min(1.0 - 1.0 / self.passed.max(1e-9));
        0.5 + 0.5 * margin.clamp(0.0, 1.0)
    }
}

/// So many files as drums: each file in the order of their numbers joins the nearest drum before it, if it is on average near enough
/// to that drum's files, or begins another. Of thousands of files each is compared with the last drums and a few files of each.
fn drums(files: usize, apart: impl Fn(usize, usize) -> f64) -> Vec<Drum> {
    let mut drums: Vec<Drum> = Vec::new();
    for file in 0..files {
        let first = drums.len().saturating_sub(DRUMS);
        let mean = |drum: &Drum| {
            let some = &drum.files[..drum.files.len().min(STROKES)];
            some.iter().map(|at| apart(*at, file)).sum::<f64>() / some.len() as f64
        };
        let means: Vec<f64> = drums[first..].iter().map(mean).collect();
        let nearest = (0..means.len()).min_by(|a, b| means[*a].total_cmp(&means[*b]));
        let own = match nearest.filter(|at| means[*at] <= 1.0) {
            Some(at) => {
                let drum = &mut drums[first + at];
                drum.files.push(file);
                drum.joined = drum.joined.max(means[at]);
                first + at
            }
            None => {
                drums.push(Drum {
                    files: vec![file],
                    joined: 0.0,
                    passed: f64::INFINITY,
                });
                drums.len() - 1
            }
        };
        for (other, mean) in (first..).zip(means).filter(|(other, _)| *other != own) {
            drums[other].passed = drums[other].passed.min(mean);
            drums[own].passed = drums[own].passed.min(mean);
        }
    }
    drums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_join_the_nearest_drum_that_is_near_enough() {
        let places: [f64; 6] = [0.0, 0.4, 5.0, 0.2, 5.3, 9.0];
        let apart = |a: usize, b: usize| (places[a] - places[b]).abs();
        let drums = drums(places.len(), apart);
        let files: Vec<&[usize]> = drums.iter().map(|drum| drum.files.as_slice()).collect();
        assert_eq!(files, [&[0, 1, 3][..], &[2, 4], &[5]]);
        assert!(drums[2].sureness() > drums[0].sureness());
    }

    #[test]
    fn work_grows_with_the_number_of_files() {
        let asked = |files: usize| {
            let count = std::cell::Cell::new(0);
            let all = drums(files, |a, b| {
                count.set(count.get() + 1);
                if a / 100 == b / 100 { 0.1 } else { 3.0 }
            });
            assert_eq!(all.len(), files / 100);
            count.get()
        };
        let (some, twice) = (asked(20_000), asked(40_000));
        assert!(10 * twice < 22 * some, "{some} and {twice}");
    }
}
