//! Second-order sections, four frames at a time.
//!
//! Frame by frame a section waits for its own last frame. In its state-space form, four frames need but the state before the first of
//! them (C. W. Barnes, S. Shinnaka, "Block-shift invariance and block implementation of discrete-time filters", IEEE Trans. Circuits
//! and Systems 27, 1980 [memory]): they are sums of the state and the input with fixed weights, side by side in the lanes of a
//! vector, and so is the state after them.

use super::section::{Section, narrow};
use crate::base::simd::Work;

/// Frames of a group.
pub(super) const GROUP: usize = 4;

/// Frames from one look at the state to the next. Counted along the signal, so cuts into blocks don't show.
pub(super) const LOOK: usize = 64;

/// State below this is taken for silence, long before it reaches the slow denormal numbers.
const SILENT: f64 = 1e-30;

/// The state of a section.
pub(super) type State = [f64; 2];

/// The weights of a section over a group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct FourFrames {
    /// What each number of the state gives to each frame of the output.
    ring: [[f64; GROUP]; 2],
    /// What each frame of the input gives to each frame of the output; to earlier ones, nothing.
    answer: [[f64; GROUP]; GROUP],
    /// What each number of the state gives to the state after the group.
    kept: [State; 2],
    /// What each frame of the input gives to it.
    stored: [State; GROUP],
}

impl FourFrames {
    /// The weights of a section: what it makes of each number of its state and of its input when all others are 0.
    pub(super) fn of(section: &Section) -> FourFrames {
        let run = |mut state: State, input: [f64; GROUP]| (input.map(|x| section.step(&mut state, x)), state);
        let ring = [[1.0, 0.0], [0.0, 1.0]].map(|state| run(state, [0.0; GROUP]));
        let answer: [_; GROUP] = std::array::from_fn(|frame| {
            let mut input = [0.0; GROUP];
            input[frame] = 1.0;
            run([0.0; 2], input)
        });
        FourFrames {
            ring: ring.map(|(output, _)| output),
            answer: answer.map(|(output, _)| output),
            kept: ring.map(|(_, state)| state),
            stored: answer.map(|(_, state)| state),
        }
    }

    /// Takes a group and gives what the section makes of it. A frame of the output does not depend on later frames of the input,
    /// not in a bit: they weigh nothing, and zero is always that above zero.
    #[inline(always)]
    pub(super) fn step(&self, state: &mut State, x: [f64; GROUP]) -> [f64; GROUP] {
        let [first, second] = *state;
        let mut output = [0.0; GROUP];
        for k in 0..GROUP {
            let ring = self.ring[0][k] * first + self.ring[1][k] * second;
            let [a, b, c, d] = &self.answer;
            output[k] = (ring + 0.0) + ((a[k] * x[0] + b[k] * x[1]) + (c[k] * x[2] + d[k] * x[3]));
        }
        for k in 0..2 {
            let kept = self.kept[0][k] * first + self.kept[1][k] * second;
            let [a, b, c, d] = &self.stored;
            state[k] = kept + ((a[k] * x[0] + b[k] * x[1]) + (c[k] * x[2] + d[k] * x[3]));
        }
        output
    }
}

/// Takes what is too quiet to be heard out of a state.
#[inline(always)]
pub(super) fn look(state: &mut State) {
    for value in state {
        *value = if value.abs() < SILENT { 0.0 } else { *value };
    }
}

/// Whole groups of one channel that go through a section. Plain loops, so that all of it is inlined.
pub(super) struct Groups<'a> {
    /// The section.
    pub(super) weights: FourFrames,
    /// The groups.
    pub(super) channel: &'a mut [[f32; GROUP]],
    /// The state before them.
    pub(super) state: State,
    /// Frames since the last look at it, in whole groups.
    pub(super) looked: usize,
}

impl Work for Groups<'_> {
    /// The state after the last group.
    type Made = State;

    #[inline(always)]
    fn work(self) -> State {
        let mut state = self.state;
        let groups = self.channel.len();
        let (mut from, mut to) = (0, (LOOK - self.looked) / GROUP);
        while from < groups {
            let now = &mut self.channel[from..to.min(groups)];
            if !(state == [0.0; 2] && is_zero(now)) {
                for place in now {
                    let mut frames = [0.0; GROUP];
                    for k in 0..GROUP {
                        frames[k] = f64::from(place[k]);
                    }
                    let output = self.weights.step(&mut state, frames);
                    for k in 0..GROUP {
                        place[k] = narrow(output[k]);
                    }
                }
                if to <= groups {
                    look(&mut state);
                }
            }
            (from, to) = (to, to + LOOK / GROUP);
        }
        state
    }
}

/// True for zeros above zero: what a section at rest leaves as it is.
#[inline(always)]
fn is_zero(groups: &[[f32; GROUP]]) -> bool {
    let mut bits = 0;
    for x in groups.as_flattened() {
        bits |= x.to_bits();
    }
    bits == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn later_frames_change_no_bit_of_earlier_ones() {
        let section = Section::over([0.9, -1.8, 0.9], [1.0, -1.7, 0.8]);
        let weights = FourFrames::of(&section);
        for state in [[0.0, 0.0], [-0.0, -0.0], [0.3, -0.2], [0.0, -1e-3]] {
            for input in [[0.0; 4], [-0.0; 4], [0.5, -0.5, 1e-40, -3.0], [0.0, -0.0, 1.0, -1.0]] {
                let whole = weights.step(&mut state.clone(), input);
                for known in 1..4 {
                    let mut part = [0.0; 4];
                    part[..known].copy_from_slice(&input[..known]);
                    let output = weights.step(&mut state.clone(), part);
                    for (output, whole) in output.iter().zip(&whole).take(known) {
                        assert_eq!(output.to_bits(), whole.to_bits(), "{state:?} {input:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn four_frames_are_four_steps() {
        let section = Section::over([0.9, -1.8, 0.9], [1.0, -1.95, 0.96]);
        let weights = FourFrames::of(&section);
        let (mut at_once, mut by_step) = ([0.0; 2], [0.0; 2]);
        for group in 0..1000 {
            let input = std::array::from_fn(|frame| libm::sin((4 * group + frame) as f64));
            let output = weights.step(&mut at_once, input);
            for (output, x) in output.into_iter().zip(input) {
                let wanted = section.step(&mut by_step, x);
                assert!((output - wanted).abs() < 1e-12, "{group}: {output} {wanted}");
            }
        }
    }
}
