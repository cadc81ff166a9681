//! What may not be meant, though nothing forbids it.

use super::{Score, strain};
use crate::loopfile::{Loop, Part};
use crate::text::Problem;

/// Looks a loop and its score over.
pub fn hints(song: &Loop, score: &Score) -> Vec<Problem> {
    let mut hints = Vec::new();
    for (part, hits) in song.parts.iter().zip(&score.parts) {
        let name = &part.name;
        if part.strokes.is_empty() && part.performance.is_none() {
            hints.push(Problem::at(&part.place, format!("`{name}` never plays")).help("give it hits, or take it out"));
        }
        hints.extend(strain::too_fast(song, part));
        // A player who drifts is ahead of the first beat half of the time, by so little that it is no matter.
        let early = |hit: &super::Hit| !hit.grace && hit.at < -4.0 * part.playing.loose.time;
        if hits.iter().any(early) && song.ending != crate::loopfile::Ending::Repeat {
            hints.push(Problem::at(&part.place, format!("`{name}` has hits before the first bar, where this loop has no sound: they sound at its first frame")));
        }
    }
    hints.extend(silent(song));
    hints.extend(strain::doubled(song));
    hints
}

/// Parts that are silent in bars that nobody speaks of. More than a few are told together: where parts come and go,
/// that is how the loop is meant, and a page of it would hide the rest.
fn silent(song: &Loop) -> Vec<Problem> {
    /// The most parts that are told one by one.
    const FEW: usize = 3;
    let plays = |part: &&Part| part.performance.is_some() || !part.strokes.is_empty();
    let parts = song.parts.iter().filter(plays);
    let (ended, unnamed): (Vec<&Part>, Vec<&Part>) = parts
        .filter(|part| !part.unnamed_bars.is_empty())
        .partition(|part| part.performance.is_some());
    let one = |part: &&Part, why: &str| {
        let bars = spelled(&part.unnamed_bars);
        Problem::at(&part.place, format!("`{}` is silent in {bars}, {why}", part.name))
    };
    let mut hints: Vec<Problem> = ended
        .iter()
        .map(|part| one(part, "after its performance has ended"))
        .collect();
    if unnamed.len() <= FEW {
        hints.extend(unnamed.iter().map(|part| one(part, "which none of its lines names")));
        return hints;
    }
    let list = unnamed
        .iter()
        .map(|part| format!("`{}` in {}", part.name, spelled(&part.unnamed_bars)))
        .collect::<Vec<_>>();
    let what = format!(
        "{} parts are silent in bars which none of their lines names",
        unnamed.len()
    );
    hints.push(Problem::at(&unnamed[0].place, what).help(list.join("\n")));
    hints
}

/// Bars in words: `bar 3`, `bars 1-4, 8`.
pub fn spelled(bars: &[u32]) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for bar in bars {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == *bar => *last = *bar,
            _ => runs.push((*bar, *bar)),
        }
    }
    let run = |(first, last): &(u32, u32)| {
        if first == last {
            first.to_string()
        } else {
            format!("{first}-{last}")
        }
    };
    let list = runs.iter().map(run).collect::<Vec<_>>().join(", ");
    format!("bar{} {list}", if bars.len() == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    #[test]
    fn bars_are_spelled_in_runs() {
        assert_eq!(super::spelled(&[3]), "bar 3");
        assert_eq!(super::spelled(&[1, 2, 3, 4, 8]), "bars 1-4, 8");
    }
}
