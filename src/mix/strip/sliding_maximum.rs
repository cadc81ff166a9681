//! The largest of the last few values.

use crate::base::simd::{Work, wide};

/// A sliding maximum: each value becomes the largest of the last `window`.
///
/// The maxima over 2, 4, 8 … values are each found from those before, and two of the longest that fit span the window: a pass
/// without a branch for each doubling.
///
/// Values are unsigned: positive floats keep their order as bits.
#[derive(Debug, Clone)]
pub(crate) struct SlidingMaximum {
    window: usize,
    /// The last values, one less than the window.
    past: Vec<u32>,
    most: u32,
    /// Room for the past and a run, and for the maxima of its passes.
    line: Vec<u32>,
    doubled: Vec<u32>,
}

impl SlidingMaximum {
    /// The maximum of `window` values, at least one; all before the first are 0.
    pub(crate) fn new(window: usize) -> SlidingMaximum {
        let window = window.max(1);
        SlidingMaximum {
            window,
            past: vec![0; window - 1],
            most: 0,
            line: Vec::new(),
            doubled: Vec::new(),
        }
    }

    /// How many values it spans.
    pub(crate) fn window(&self) -> usize {
        self.window
    }

    /// Spans another number of values from here on; the present maximum counts as if it had only now come.
    pub(crate) fn resize(&mut self, window: usize) {
        if window.max(1) != self.window {
            let most = self.most;
            *self = SlidingMaximum::new(window);
            self.most = most;
            if let Some(last) = self.past.last_mut() {
                *last = most;
            }
        }
    }

    /// Becomes the maximum of `window` values that has had these before, one less than the window.
    pub(crate) fn follow(&mut self, window: usize, before: &[u32]) {
        debug_assert_eq!(before.len(), window - 1);
        self.window = window;
        self.past.clear();
        self.past.extend_from_slice(before);
        self.most = before.iter().copied().max().unwrap_or(0);
    }

    /// True if nothing but zeros is held.
    pub(crate) fn is_zero(&self) -> bool {
        self.most == 0
    }

    /// Puts in each value's place the largest of the last `window`, it included.
    pub(crate) fn run(&mut self, values: &mut [u32]) {
        self.line.clear();
        self.line.extend_from_slice(&self.past);
        self.line.extend_from_slice(values);
        self.past.copy_from_slice(&self.line[values.len()..]);
        self.doubled.resize(self.line.len(), 0);
        wide(Passes {
            window: self.window,
            line: &mut self.line,
            doubled: &mut self.doubled,
            values,
        });
        self.most = values.last().copied().unwrap_or(self.most);
    }
}

struct Passes<'a> {
    window: usize,
    line: &'a mut [u32],
    doubled: &'a mut [u32],
    values: &'a mut [u32],
}

impl Work for Passes<'_> {
    type Made = ();

    #[inline(always)]
    fn work(self) {
        let (mut line, mut doubled) = (self.line, self.doubled);
        let mut span = 1;
        while 2 * span <= self.window {
            // What would need values beyond the end is never asked for.
            larger(doubled, line, &line[span..]);
            (line, doubled) = (doubled, line);
            span *= 2;
        }
        larger(self.values, line, &line[self.window - span..]);
    }
}

#[inline(always)]
fn larger(out: &mut [u32], one: &[u32], other: &[u32]) {
    let frames = out.len().min(one.len()).min(other.len());
    let (out, one, other) = (&mut out[..frames], &one[..frames], &other[..frames]);
    for i in 0..frames {
        out[i] = if one[i] > other[i] { one[i] } else { other[i] };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn is_the_largest_of_the_last(
            values in prop::collection::vec(prop_oneof![0_u32..1000, 0_u32..2], 1..300), window in 1_usize..70, cut in 1_usize..100,
        ) {
            let mut hold = SlidingMaximum::new(window);
            let mut held = values.clone();
            held.chunks_mut(cut).for_each(|part| hold.run(part));
            for end in 1..=values.len() {
                let from = end.saturating_sub(window);
                let most = values[from..end].iter().max().copied().unwrap_or(0);
                prop_assert_eq!(held[end - 1], most);
            }
            let last = &values[values.len().saturating_sub(window)..];
            prop_assert_eq!(hold.is_zero(), last.iter().all(|value| *value == 0));
        }
    }

    #[test]
    fn keeps_its_maximum_when_its_span_changes() {
        let mut hold = SlidingMaximum::new(10);
        hold.run(&mut [7]);
        hold.resize(4);
        let mut values = [0; 5];
        hold.run(&mut values);
        assert_eq!(values, [7, 7, 7, 0, 0]);
    }
}
