//! The feel: how far each hit lies from where it is written.

use crate::loopfile::{Loop, Part};
use crate::score::{Hit, Score};

/// For each part and each of its strokes, the seconds by which it is played later than written; none for a stroke that
/// is not played.
pub(super) fn deviations(song: &Loop, score: &Score) -> Vec<Vec<Option<f64>>> {
    let bar = song.time.bar_seconds();
    song.parts
        .iter()
        .zip(&score.parts)
        .map(|(part, hits)| of_part(part, hits, bar))
        .collect()
}

fn of_part(part: &Part, hits: &[Hit], bar: f64) -> Vec<Option<f64>> {
    let written = |number: usize| {
        let at = part.strokes[number].at;
        *at.numer() as f64 / *at.denom() as f64 * bar
    };
    if hits.len() == part.strokes.len() {
        return hits
            .iter()
            .enumerate()
            .map(|(number, hit)| Some(hit.at - written(number)))
            .collect();
    }
    // A mark may play several hits or none: each stroke takes the nearest hit on its piece, if one is near.
    let near = |number: usize| {
        let stroke = &part.strokes[number];
        let step = *stroke.step.numer() as f64 / *stroke.step.denom() as f64 * bar;
        let (at, shift) = (
            written(number),
            stroke.shift.abs() + (part.playing.behind + part.apart).abs(),
        );
        let later = hits
            .iter()
            .filter(|hit| hit.piece == stroke.piece)
            .map(|hit| hit.at - at);
        later
            .min_by(|a, b| a.abs().total_cmp(&b.abs()))
            .filter(|late| late.abs() <= step / 2.0 + shift)
    };
    (0..part.strokes.len()).map(near).collect()
}
