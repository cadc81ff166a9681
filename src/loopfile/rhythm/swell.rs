//! Swells: velocities that grow or fall over the bars that a line is given.

use std::collections::BTreeMap;

use crate::loopfile::Exact;
use crate::loopfile::marks::PLAIN;

/// What a plain hit's or note's velocity is at the beginning and the end of each bar that swells.
#[derive(Debug, Clone, Default)]
pub(in crate::loopfile) struct Swells(BTreeMap<usize, (f64, f64)>);

impl Swells {
    /// Lays a swell over bars counted from `first` on: each run of neighbours goes from the first velocity to the last.
    /// A line without a swell takes away what lay there.
    pub(in crate::loopfile) fn lay(&mut self, first: usize, given: &[u32], swell: Option<(f64, f64)>) {
        for run in given.chunk_by(|bar, next| *next == bar + 1) {
            for (&bar, nth) in run.iter().zip(0u32..) {
                let bar = first + bar as usize;
                let Some((from, to)) = swell else {
                    self.0.remove(&bar);
                    continue;
                };
                let after = |bars: u32| from + (to - from) * f64::from(bars) / run.len() as f64;
                self.0.insert(bar, (after(nth), after(nth + 1)));
            }
        }
    }

    /// The velocities of a bar, where it swells.
    pub(super) fn at(&self, bar: usize) -> Option<(f64, f64)> {
        self.0.get(&bar).copied()
    }

    /// Gives a bar these velocities.
    pub(super) fn set(&mut self, bar: usize, swell: (f64, f64)) {
        self.0.insert(bar, swell);
    }

    /// What a swell makes of velocities at a place within a bar: a plain hit's becomes the swell's own. 1 where the bar
    /// does not swell.
    pub(in crate::loopfile) fn scale(&self, bar: usize, within: Exact) -> f64 {
        let Some((first, last)) = self.at(bar) else {
            return 1.0;
        };
        let within = *within.numer() as f64 / *within.denom() as f64;
        (first + (last - first) * within) / PLAIN
    }
}
