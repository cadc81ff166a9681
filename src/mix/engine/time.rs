//! How a mix's time goes: round in a circle or along a line.

use crate::base::simd::wide;

/// The time of a mix.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Span {
    /// Its length in frames.
    pub frames: usize,
    /// True where what sounds at frame `frames` sounds at frame 0: the steady state of a repeating loop.
    pub circle: bool,
}

impl Span {
    /// The index of a frame, if it lies in this time; on a circle each does.
    pub(crate) fn index(&self, frame: i64) -> Option<usize> {
        if self.circle {
            Some(frame.rem_euclid(self.frames as i64) as usize)
        } else {
            usize::try_from(frame).ok().filter(|index| *index < self.frames)
        }
    }

    /// Calls `each` with the runs of frames, from `first` on and `count` long, that lie together in this time:
    /// where the run begins in the block, where it begins here, and its length. What lies outside is left out.
    pub(crate) fn runs(&self, first: i64, count: usize, mut each: impl FnMut(usize, usize, usize)) {
        let mut done = if self.circle {
            0
        } else {
            (-first).clamp(0, count as i64) as usize
        };
        while done < count {
            let Some(index) = self.index(first + done as i64) else {
                return;
            };
            let run = (count - done).min(self.frames - index);
            each(done, index, run);
            done += run;
        }
    }

    /// Copies a block out of a signal of this time, from frame `first` on; silence where there is none.
    pub(crate) fn read(&self, signal: &[f32], first: i64, block: &mut [f32]) {
        block.fill(0.0);
        self.runs(first, block.len(), |at, index, run| {
            block[at..at + run].copy_from_slice(&signal[index..index + run])
        });
    }

    /// Adds a block, times a gain, to a signal of this time at frame `first`.
    pub(crate) fn add(&self, signal: &mut [f32], first: i64, block: &[f32], gain: f32) {
        self.runs(first, block.len(), |at, index, run| {
            add(&mut signal[index..index + run], &block[at..at + run], gain);
        });
    }
}

/// Adds samples, times a gain, to a sum.
pub(crate) fn add(sum: &mut [f32], samples: &[f32], gain: f32) {
    wide(|| {
        let pairs = sum.iter_mut().zip(samples);
        if gain == 1.0 {
            pairs.for_each(|(sum, sample)| *sum += sample);
        } else {
            pairs.for_each(|(sum, sample)| *sum += gain * sample);
        }
    });
}

/// Frames of a block.
pub(crate) const BLOCK: usize = 16_384;

/// Frames of a stretch of a block: the least that is passed over where it is silent.
pub(crate) const STRETCH: usize = 2048;

#[cfg(test)]
mod tests {
    use super::Span;

    #[test]
    fn a_circle_goes_round_and_a_line_ends() {
        let signal = [0.0, 1.0, 2.0];
        let mut block = [9.0; 5];
        Span {
            frames: 3,
            circle: true,
        }
        .read(&signal, -1, &mut block);
        assert_eq!(block, [2.0, 0.0, 1.0, 2.0, 0.0]);
        Span {
            frames: 3,
            circle: false,
        }
        .read(&signal, -1, &mut block);
        assert_eq!(block, [0.0, 0.0, 1.0, 2.0, 0.0]);
        let mut sum = [0.0; 3];
        Span {
            frames: 3,
            circle: true,
        }
        .add(&mut sum, 2, &[1.0, 2.0, 3.0, 4.0], 2.0);
        assert_eq!(sum, [4.0, 6.0, 10.0]);
    }
}
