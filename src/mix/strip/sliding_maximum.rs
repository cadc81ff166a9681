//! The largest of the last few values.

/// A sliding maximum: the largest of the last `window` values pushed, in three comparisons a value.
///
/// After M. van Herk, "A fast algorithm for local minimum and maximum filters on rectangular and octagonal kernels",
/// Pattern Recognition Letters 13, 1992: values are taken in groups as long as the window; the maximum is that of the
/// group so far and that of what is left of the group before. [memory]
///
/// Values are unsigned: positive floats keep their order as bits.
#[derive(Debug, Clone)]
pub(crate) struct SlidingMaximum {
    /// The last group up to where this one has come, and from there on, each place's maximum to the group's end.
    values: Vec<u32>,
    at: usize,
    so_far: u32,
    most: u32,
}

impl SlidingMaximum {
    /// The maximum of `window` values, at least one; all before the first are 0.
    pub(crate) fn new(window: usize) -> SlidingMaximum {
        SlidingMaximum {
            values: vec![0; window.max(1)],
            at: 0,
            so_far: 0,
            most: 0,
        }
    }

    /// How many values it spans.
    pub(crate) fn window(&self) -> usize {
        self.values.len()
    }

    /// Spans another number of values from here on; the present maximum counts as if it had only now come.
    pub(crate) fn resize(&mut self, window: usize) {
        let window = window.max(1);
        if window != self.window() {
            self.values = vec![0; window];
            self.at = 0;
            if window > 1 {
                self.values[0] = self.most;
                self.so_far = self.most;
                self.at = 1;
            }
        }
    }

    /// The largest of the last values, without a new one.
    pub(crate) fn most(&self) -> u32 {
        self.most
    }

    /// Takes a value and gives the largest of the last `window`, it included.
    #[inline(always)]
    pub(crate) fn push(&mut self, value: u32) -> u32 {
        self.so_far = self.so_far.max(value);
        self.values[self.at] = value;
        self.at += 1;
        if self.at == self.values.len() {
            self.turn();
            self.most
        } else {
            self.most = self.so_far.max(self.values[self.at]);
            self.most
        }
    }

    #[cold]
    fn turn(&mut self) {
        self.most = self.so_far;
        let mut most = 0;
        for value in self.values.iter_mut().rev() {
            most = most.max(*value);
            *value = most;
        }
        self.at = 0;
        self.so_far = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn is_the_largest_of_the_last(values in prop::collection::vec(0_u32..1000, 1..200), window in 1_usize..40) {
            let mut hold = SlidingMaximum::new(window);
            for end in 1..=values.len() {
                let from = end.saturating_sub(window);
                let most = values[from..end].iter().max().copied().unwrap_or(0);
                prop_assert_eq!(hold.push(values[end - 1]), most);
            }
        }
    }

    #[test]
    fn keeps_its_maximum_when_its_span_changes() {
        let mut hold = SlidingMaximum::new(10);
        hold.push(7);
        hold.resize(4);
        assert_eq!([0; 5].map(|value| hold.push(value)), [7, 7, 7, 0, 0]);
    }
}
