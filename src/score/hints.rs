//! What may not be meant, though nothing forbids it.

use super::{Score, playability};
use crate::loopfile::{Loop, Part};
use crate::text::{Problem, spelled};

/// Looks a loop and its score over.
pub(crate) fn hints(song: &Loop, score: &Score) -> Vec<Problem> {
    let mut hints = song.hints.clone();
    for (part, hits) in song.parts.iter().zip(&score.parts) {
        let name = &part.name;
        if part.strokes.is_empty() && part.performance.is_none() {
            hints.push(Problem::at(&part.place, format!("`{name}` never plays")).help("give it hits, or take it out"));
        }
        hints.extend(playability::too_fast(song, part));
        // A player who drifts is ahead of the first beat half of the time, by so little that it is no matter.
        let early = |hit: &super::Hit| !hit.grace && hit.at < -4.0 * part.playing.loose.time;
        if hits.iter().any(early) && song.ending != crate::loopfile::Ending::Repeat {
            hints.push(Problem::at(&part.place, format!("`{name}` has hits before the first bar, where this loop has no sound: they sound at its first frame")));
        }
    }
    hints.extend(song.parts.iter().filter_map(ended));
    hints.extend(playability::doubled(song));
    hints
}

/// Performances that end before the loop does.
fn ended(part: &Part) -> Option<Problem> {
    if part.performance.is_none() || part.unnamed_bars.is_empty() {
        return None;
    }
    let (name, bars) = (&part.name, spelled(&part.unnamed_bars));
    let what = format!("`{name}` is silent in {bars}, after its performance has ended");
    Some(Problem::at(&part.place, what))
}
