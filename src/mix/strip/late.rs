//! A signal that comes later.

use std::collections::VecDeque;

/// A plain delay, as long as the ceiling's look-ahead.
pub(super) struct Late([VecDeque<f32>; 2]);

impl Late {
    pub(super) fn new(frames: usize) -> Late {
        let line = || VecDeque::from(vec![0.0; frames]);
        Late([line(), line()])
    }

    pub(super) fn process(&mut self, block: [&mut [f32]; 2]) {
        for (line, side) in self.0.iter_mut().zip(block) {
            for sample in side {
                line.push_back(*sample);
                *sample = line.pop_front().unwrap_or(0.0);
            }
        }
    }
}
