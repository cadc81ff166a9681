//! Whether two files whose names are alike but for a side are the left and the right of one recording.

use super::Ears;
use crate::kit::findings::Findings;
use crate::kit::names::takes::{Alike, Take};

/// The sides of one recording are as long as one another, but for this share.
const LENGTH: f64 = 0.01;
/// They begin together, within so many seconds: what sound needs for two metres, which microphones may stand apart [practice]. A slow
/// attack comes into hearing later on the side that is farther away, by this share of it at the most.
const BEGIN: f32 = 0.006;
const SLOW: f32 = 0.35;
/// They rise and fall together: by so many dB at the most, as a root mean square over the whole at equal loudness.
const RISE: f64 = 8.0;

/// Joins the sides of recordings in a group; a right side that is another stroke becomes a take by itself. A side that was not
/// listened to stays with the other.
pub(super) fn settle<'a>(mut group: Alike<'a>, ears: &Ears) -> Alike<'a> {
    let mut takes: Vec<Take> = Vec::with_capacity(group.takes.len());
    for take in group.takes {
        let found = take
            .right
            .and_then(|right| Some((ears.findings(take.file)?, ears.findings(right)?)));
        match take.right {
            Some(right) if found.is_some_and(|(left, right)| !are_one(left, right)) => {
                let stroke = Take {
                    file: right,
                    right: None,
                    ..take.clone()
                };
                let root = group
                    .roots
                    .iter()
                    .find(|(file, _)| *file == take.file)
                    .map(|(_, root)| (right, *root));
                group.roots.extend(root);
                takes.push(Take { right: None, ..take });
                takes.push(stroke);
            }
            _ => takes.push(take),
        }
    }
    group.takes = takes;
    group
}

/// True for the two sides of one recording.
fn are_one(left: &Findings, right: &Findings) -> bool {
    let (a, b) = (&left.facts, &right.facts);
    let (Some(left), Some(right)) = (&left.fingerprint, &right.fingerprint) else {
        return false;
    };
    let longer = a.seconds.max(b.seconds);
    (a.channels, b.channels) == (1, 1)
        && a.rate == b.rate
        && (a.seconds - b.seconds).abs() <= LENGTH * longer
        && (left.onset - right.onset).abs() <= BEGIN + SLOW * left.attack.min(right.attack)
        && left.envelope_apart(right) <= RISE
}
