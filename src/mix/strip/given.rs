//! What a strip is given for a block beside its signal.

use std::ops::Range;

/// The envelope that a strip ducks under, for one block.
#[derive(Clone, Copy)]
pub struct SideChain<'a> {
    /// The followed part's envelope, a value a frame.
    pub envelope: &'a [f32],
    /// Its maximum over the whole loop.
    pub most: f32,
}

/// The gains that a whole bus had, laid on one part's share of it: a stem rides them instead of asking its own level.
#[derive(Clone, Copy)]
pub struct Ride<'a> {
    /// The compressor's factors, one a frame.
    pub compress: &'a [f32],
    /// The ceiling's factors, one a frame, on the signal that it has delayed.
    pub ceiling: &'a [f32],
}

/// Where what reaches a strip's fader comes from.
pub enum Shaping<'a> {
    /// From the effects before it.
    Run,
    /// From them, and it is written down: the left channel and, where it is stereo, the right one.
    Noted(&'a mut [Vec<f32>; 2]),
    /// It is in the block already, mono or not: another strip of the same settings has made it.
    Done {
        /// True where it is the left channel alone.
        mono: bool,
    },
}

impl<'a> SideChain<'a> {
    /// What it is for some of the block's frames.
    pub(crate) fn part(self, part: Range<usize>) -> SideChain<'a> {
        SideChain {
            envelope: &self.envelope[part],
            most: self.most,
        }
    }
}

impl<'a> Ride<'a> {
    /// What it is for some of the block's frames.
    pub(crate) fn part(self, part: Range<usize>) -> Ride<'a> {
        Ride {
            compress: &self.compress[part.clone()],
            ceiling: &self.ceiling[part],
        }
    }
}
