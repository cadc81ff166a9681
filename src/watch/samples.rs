//! Sound by hand as the page takes it: a line that tells of it, the stretch that is to be heard first, then all of it.
//!
//! The line is JSON, filled up with spaces so that all samples stand at a multiple of their own size. A stretch is each
//! channel's samples one after another, as 32-bit floats, little endian. They are packed while they are sent: the first can be
//! heard while the rest is on its way.

use std::ops::Range;
use std::time::Duration;

/// The bytes of a sample.
const SAMPLE: usize = size_of::<f32>();
/// Samples that are packed at a time.
const PACKED: usize = 16 << 10;

/// Sound with what there is to tell of it.
pub(crate) struct Samples {
    line: Vec<u8>,
    channels: Vec<Vec<f32>>,
    first: Range<usize>,
    /// What making it took, stage by stage.
    pub(super) took: Vec<(&'static str, Duration)>,
}

impl Samples {
    /// Sound of which some frames come first; `told` is JSON without a line's end.
    pub(crate) fn new(
        told: &str,
        channels: Vec<Vec<f32>>,
        first: Range<usize>,
        took: Vec<(&'static str, Duration)>,
    ) -> Samples {
        let mut line = told.as_bytes().to_vec();
        line.resize((line.len() + 1).next_multiple_of(SAMPLE) - 1, b' ');
        line.push(b'\n');
        Samples {
            line,
            channels,
            first,
            took,
        }
    }

    /// How many bytes it is.
    pub(super) fn len(&self) -> usize {
        let samples = |side: &Vec<f32>| self.first.len() + side.len();
        self.line.len() + SAMPLE * self.channels.iter().map(samples).sum::<usize>()
    }

    /// Gives its bytes, piece by piece.
    pub(super) fn each<E>(&self, mut piece: impl FnMut(&[u8]) -> Result<(), E>) -> Result<(), E> {
        piece(&self.line)?;
        let first = self.channels.iter().map(|side| &side[self.first.clone()]);
        let all = self.channels.iter().map(Vec::as_slice);
        let mut bytes = vec![0; PACKED * SAMPLE];
        for samples in first.chain(all).flat_map(|side| side.chunks(PACKED)) {
            let packed = &mut bytes[..samples.len() * SAMPLE];
            let own = packed.chunks_exact_mut(SAMPLE).zip(samples);
            own.for_each(|(four, sample)| four.copy_from_slice(&sample.to_le_bytes()));
            piece(packed)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_stretch_comes_before_all_of_it() {
        let sides = [1.0, -1.0].map(|sign: f32| (0..40_000).map(|n| sign * n as f32).collect::<Vec<f32>>());
        let samples = Samples::new("{}", sides.to_vec(), 100..103, Vec::new());
        let mut bytes = Vec::new();
        let gathered = samples.each(|piece| {
            bytes.extend_from_slice(piece);
            Ok::<_, ()>(())
        });
        assert_eq!((gathered, bytes.len()), (Ok(()), samples.len()));
        assert_eq!(&bytes[..4], b"{} \n");
        let heard: Vec<f32> = bytes[4..]
            .chunks(4)
            .map(|four| f32::from_le_bytes([four[0], four[1], four[2], four[3]]))
            .collect();
        assert_eq!(heard[..6], [100.0, 101.0, 102.0, -100.0, -101.0, -102.0]);
        assert_eq!(heard[6..], sides.concat());
    }
}
