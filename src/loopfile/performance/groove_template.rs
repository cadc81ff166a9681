//! Groove templates from recordings: how each sixteenth of the bar is played on average in a recording.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::{MidiFiles, bars_a_tick};
use crate::loopfile::{Exact, GrooveTemplate, Habit, Time};
use crate::midi::{self, PERCUSSION_CHANNEL, Performance};
use crate::schema::{Settings, feel};
use crate::text::Problem;

/// So many hits of a piece on one sixteenth give it an average of its own there; fewer leave it to all percussion together.
const ENOUGH: usize = 4;

impl GrooveTemplate {
    /// Takes the likeness of a performance in a loop's metre: of its percussion, or of all it plays where it has none.
    fn of(performance: &Performance, time: &Time) -> GrooveTemplate {
        let bar = time.bar() * 16;
        let tick = bars_a_tick(&performance.clock, time);
        let notes = || performance.notes().map(|(_, note)| note);
        let percussion = notes().any(|note| note.channel == PERCUSSION_CHANNEL);
        let heard = notes().filter(|note| !percussion || note.channel == PERCUSSION_CHANNEL);
        let mut hits = Vec::new();
        let mut hardness: BTreeMap<u8, Mean> = BTreeMap::new();
        for note in heard {
            hardness.entry(note.key).or_default().add(note.velocity.into());
            hits.push((note, nearest(tick * i128::from(note.start), bar)));
        }
        let count = bar.ceil().to_integer() as usize;
        let mut all = vec![Tally::default(); count];
        let mut pieces: BTreeMap<&str, Vec<Tally>> = BTreeMap::new();
        for (note, (sixteenth, at)) in hits {
            let velocity = f64::from(note.velocity) - hardness[&note.key].mean();
            all[sixteenth].add(at, velocity);
            if let Some(piece) = midi::piece_for(note.key) {
                let own = pieces.entry(piece).or_insert_with(|| vec![Tally::default(); count]);
                own[sixteenth].add(at, velocity);
            }
        }
        let habits = |tallies: Vec<Tally>, enough| tallies.iter().map(|tally| tally.habit(enough)).collect();
        GrooveTemplate {
            sixteenths: bar,
            all: habits(all, 1),
            pieces: pieces
                .into_iter()
                .map(|(piece, own)| (piece, habits(own, ENOUGH)))
                .collect(),
        }
    }
}

/// The sixteenth of its bar that a place in bars is nearest to, and the place in bars from that sixteenth's barline: just
/// before a barline it is the next bar's first.
fn nearest(at: Exact, bar: Exact) -> (usize, f64) {
    let within = at - at.floor();
    let below = (within * bar).floor();
    let above = (below + 1).min(bar);
    let near = if above - within * bar < within * bar - below {
        above
    } else {
        below
    };
    let (near, within) = if near == bar {
        (Exact::ZERO, within - 1)
    } else {
        (near, within)
    };
    (
        near.to_integer() as usize,
        *within.numer() as f64 / *within.denom() as f64,
    )
}

#[derive(Debug, Clone, Copy, Default)]
struct Mean {
    sum: f64,
    count: usize,
}

impl Mean {
    fn add(&mut self, value: f64) {
        self.sum += value;
        self.count += 1;
    }

    fn mean(&self) -> f64 {
        self.sum / self.count.max(1) as f64
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    at: Mean,
    velocity: Mean,
}

impl Tally {
    fn add(&mut self, at: f64, velocity: f64) {
        self.at.add(at);
        self.velocity.add(velocity);
    }

    fn habit(&self, enough: usize) -> Option<Habit> {
        (self.at.count >= enough).then(|| Habit {
            at: self.at.mean(),
            velocity: self.velocity.mean(),
        })
    }
}

/// Reads the drummer that `[feel]` names, with the path of the file.
pub(crate) fn read(
    feel: &Settings,
    folder: &Path,
    time: &Time,
    shelf: &mut MidiFiles,
    notices: &mut Vec<Problem>,
    problems: &mut Vec<Problem>,
) -> Option<(PathBuf, Arc<GrooveTemplate>)> {
    let file = feel.get(feel::LIKE)?;
    let (path, performance) = match shelf.take(folder, file) {
        Ok(found) => found,
        Err(problem) => {
            problems.push(problem);
            return None;
        }
    };
    if performance.notes().next().is_none() {
        let what = format!("{} has no notes to be like", file.text);
        problems.push(Problem::at(&file.whole(), what).help("name a file in which somebody plays"));
        return None;
    }
    let metre = performance.metres.first();
    if let Some(metre) = metre.filter(|metre| (metre.counts, metre.unit) != (time.counts, time.unit)) {
        let what = format!(
            "{} is in {}/{}, the loop in {}/{}: its bars are counted as the loop's",
            file.text, metre.counts, metre.unit, time.counts, time.unit
        );
        notices.push(Problem::at(&file.whole(), what).help("take a drummer who plays the loop's metre"));
    }
    Some((path, Arc::new(GrooveTemplate::of(&performance, time))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_go_to_their_nearest_sixteenth() {
        let sixteen = Exact::from_integer(16);
        let near = |ticks: i128| nearest(Exact::new(ticks, 1920), sixteen);
        assert_eq!(near(0), (0, 0.0));
        assert_eq!(near(125), (1, 125.0 / 1920.0));
        assert_eq!(near(1920 + 55), (0, 55.0 / 1920.0));
        assert_eq!(near(1915), (0, -5.0 / 1920.0));
        // Nine thirty-seconds are four sixteenths and a half: the last is cut by the barline.
        let odd = Exact::new(9, 2);
        assert_eq!(nearest(Exact::new(40, 45), odd), (4, 40.0 / 45.0));
        assert_eq!(nearest(Exact::new(44, 45), odd), (0, -1.0 / 45.0));
    }
}
