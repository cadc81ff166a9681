//! What a page has shown of each part so far, so that nothing is printed twice.

use std::collections::{HashMap, HashSet};

use super::block::Block;
use super::line::ChartLine;

/// The lines of each part that a page shows, and the bars in which it is seen to rest.
#[derive(Default)]
pub(super) struct Printed {
    parts: HashMap<usize, HashMap<u32, ChartLine>>,
    /// The bars that are printed.
    bars: HashSet<u32>,
    /// The first of them that look different, in order: so many are looked through for what plays again.
    first: Vec<u32>,
}

/// The most bars that are looked through for what plays again: further back nobody looks.
const MOST_SEARCHED: usize = 256;

/// Parts that play in some bars what other bars show.
pub(super) struct Found {
    /// The bars that show it, in the order of those that don't.
    pub bars: Vec<u32>,
    /// The parts.
    pub parts: Vec<usize>,
}

impl Printed {
    /// Adds bars, in which some parts have a row.
    pub(super) fn add(&mut self, blocks: &[Block], parts: &[usize]) {
        for block in blocks {
            self.bars.extend(&block.bars);
            if self.first.len() < MOST_SEARCHED {
                self.first.extend(block.bars.first());
            }
            for part in parts {
                let lines = self.parts.entry(*part).or_default();
                let line = block.line(*part);
                lines.extend(block.bars.iter().filter_map(|bar| Some((*bar, line?.clone()))));
            }
        }
    }

    /// True where a bar shows that a part has this line, or rests.
    fn shows(&self, part: usize, bar: u32, line: Option<&ChartLine>) -> bool {
        let shown = self.parts.get(&part).and_then(|lines| lines.get(&bar));
        shown == line && (line.is_some() || self.bars.contains(&bar))
    }

    /// Which of some parts play in some bars what other bars show already. Where several bars do, those that serve most
    /// parts are named.
    pub(super) fn find(&self, parts: &[usize], blocks: &[Block]) -> Vec<Found> {
        let Some(first) = blocks.first().and_then(|block| block.bars.first()) else {
            return Vec::new();
        };
        // One bar for all, or else the same distance back for all.
        let one = self.first.iter().map(|bar| vec![*bar; blocks.len()]);
        let back = self.first.iter();
        let back = back.map(|bar| blocks.iter().map(|block| block.bars[0] + bar - first).collect());
        let back: Vec<Vec<u32>> = one.chain(back).collect();
        let serves = |part: usize, bars: &[u32]| {
            let pairs = blocks.iter().zip(bars);
            pairs
                .into_iter()
                .all(|(block, bar)| bar < first && self.shows(part, *bar, block.line(part)))
        };
        let mut left: Vec<usize> = parts.to_vec();
        let mut found = Vec::new();
        loop {
            let served = |bars: &Vec<u32>| left.iter().filter(|part| serves(**part, bars)).count();
            let best = back.iter().map(|bars| (served(bars), bars));
            // Of several that are as good, the first.
            let best = best
                .rev()
                .max_by_key(|(count, _)| *count)
                .filter(|(count, _)| *count > 0);
            let Some((_, bars)) = best else { break };
            let (of, others) = left.iter().partition(|part| serves(**part, bars));
            left = others;
            found.push(Found {
                bars: named(bars.clone()),
                parts: of,
            });
        }
        for part in left {
            let shows = |block: &Block, bar: &u32| bar < first && self.shows(part, *bar, block.line(part));
            let bar = |block: &Block| self.first.iter().copied().find(|bar| shows(block, bar));
            if let Some(bars) = blocks.iter().map(bar).collect::<Option<Vec<u32>>>().map(named) {
                match found.iter_mut().find(|found| found.bars == bars) {
                    Some(found) => found.parts.push(part),
                    None => found.push(Found {
                        bars,
                        parts: vec![part],
                    }),
                }
            }
        }
        found
    }
}

/// Bars as they are named: one that stands for all, once.
fn named(mut bars: Vec<u32>) -> Vec<u32> {
    if bars.iter().all(|bar| *bar == bars[0]) {
        bars.truncate(1);
    }
    bars
}
