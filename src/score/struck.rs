//! What a part plays in some bars, and how its first note goes on from a note before these bars.

use std::ops::Range;

use super::Hit;
use super::expression::HANDOVER;

/// Ends what sounds where a note that goes on from it begins.
pub(super) fn end<'a>(hits: impl IntoIterator<Item = &'a mut Hit>, at: f64) {
    for hit in hits.into_iter().filter(|hit| !hit.grace) {
        hit.length = Some((at - hit.at).max(0.0));
        hit.release = Some(HANDOVER);
    }
}

/// What a part plays in a window of bars.
pub(super) struct Struck {
    /// Its hits, in the order of time.
    pub hits: Vec<Hit>,
    /// Which of them stand at the first place, where that goes on from a note before it; none where it does not.
    joins: Vec<usize>,
    /// Which of them stand at the last place.
    last: Vec<usize>,
}

impl Struck {
    /// Of hits in the order in which they are written, the first and the last place among them.
    pub(super) fn new(hits: Vec<Hit>, first: Range<usize>, last: usize) -> Struck {
        // A note behind grace notes goes on from these.
        let joins = hits.first().is_some_and(|hit| hit.legato);
        let mut numbered: Vec<(usize, Hit)> = hits.into_iter().enumerate().collect();
        numbered.sort_by(|(_, a), (_, b)| a.at.total_cmp(&b.at));
        let places = |within: &dyn Fn(&usize, &Hit) -> bool| {
            let found = numbered.iter().enumerate();
            let found = found.filter(|(_, (number, hit))| within(number, hit));
            found.map(|(place, _)| place).collect()
        };
        Struck {
            joins: places(&|number, hit| joins && first.contains(number) && hit.legato),
            last: places(&|number, _| *number >= last),
            hits: numbered.into_iter().map(|(_, hit)| hit).collect(),
        }
    }

    /// Lets its first note begin plainly: there is none before it.
    pub(super) fn begin(&mut self) {
        self.joins.drain(..).for_each(|place| self.hits[place].legato = false);
    }

    /// Lets its first note go on from its last of the round before, where it is written so; a round lasts so many seconds.
    pub(super) fn close(&mut self, round: f64) {
        if let Some(at) = self.joins_at() {
            end(chosen(&mut self.hits, &self.last), at + round);
        }
    }

    /// Puts it behind hits of the same part, of which some stand at the last place: its first note goes on from these, where it is
    /// written so. Gives what stands at the last place now.
    pub(super) fn follow(self, before: &mut Vec<Hit>, last: &[usize]) -> Vec<usize> {
        if let Some(at) = self.joins_at() {
            end(chosen(before, last), at);
        }
        let so_far = before.len();
        before.extend(self.hits);
        match self.last.is_empty() {
            true => last.to_vec(),
            false => self.last.into_iter().map(|place| so_far + place).collect(),
        }
    }

    /// When the first note begins that goes on from one before it.
    fn joins_at(&self) -> Option<f64> {
        self.joins.first().map(|place| self.hits[*place].at)
    }
}

/// Hits by their places, which ascend.
fn chosen<'a>(hits: &'a mut [Hit], places: &'a [usize]) -> impl Iterator<Item = &'a mut Hit> {
    let hits = hits.iter_mut().enumerate();
    hits.filter(|(place, _)| places.binary_search(place).is_ok())
        .map(|(_, hit)| hit)
}
