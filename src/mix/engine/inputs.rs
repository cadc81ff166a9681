//! What a mix works from: the loop, its parts' audio, its time.

use std::sync::Arc;

use super::recorded_gains::Gains;
use super::side_chain::SideChains;
use super::time::{BLOCK, Span};
use crate::loopfile::{Loop, Target};
use crate::mix::strip::Channel;
use crate::mix::strip::sweep::{Clock, moves};
use crate::render_cache::{CacheKey, Turn};

/// A part's dry audio, from some frame on.
pub(crate) trait Source: std::marker::Send + Sync {
    /// Fills the next block: one slice a channel, all equally long. False where it is silent: then the block is left as it is.
    fn fill(&mut self, block: &mut [&mut [f32]]) -> bool;
}

/// Opens a part's dry audio at a frame, which lies before 0 where a repeating loop is run in.
pub(crate) type Open<'a> = dyn Fn(usize, i64) -> Box<dyn Source + 'a> + Sync + 'a;

/// What a mix shares with others.
#[derive(Clone, Copy)]
pub(crate) struct Sharing<'a> {
    /// The turn in which it asks.
    pub turn: &'a Turn,
    /// What is the cache key for each part's dry audio.
    pub sources: &'a [CacheKey],
}

/// Both sides of a signal over the whole time.
pub(crate) type Stereo = [Vec<f32>; 2];

/// What a mix works from.
pub(crate) struct Mixer<'a> {
    /// The loop, for its strips.
    pub song: &'a Loop,
    /// How many channels each part's audio has: 1 or 2.
    pub channels: &'a [usize],
    /// True for each part that plays anything. A strip that nothing reaches is not run.
    pub plays: &'a [bool],
    /// Opens a part.
    pub open: &'a Open<'a>,
    /// How time goes.
    pub span: Span,
    /// Where in the loop a frame is.
    pub clock: Clock,
    /// Frames per second.
    pub rate: u32,
    /// Is told, block by block, which share of the time has been mixed: from 0 to 1.
    pub progress: &'a (dyn Fn(f64) + Sync),
    /// The envelopes of the parts that others duck under.
    pub keys: Arc<SideChains>,
    /// True where each bus is measured.
    pub measures: bool,
    /// What it shares with other mixes, where it does, while it asks for that.
    pub sharing: Option<Sharing<'a>>,
}

impl Mixer<'_> {
    /// Frames of the block that begins at a frame: a block ends at frame 0 and at the end at the latest.
    pub(crate) fn next_block(&self, now: i64) -> usize {
        let end = if now < 0 { 0 } else { self.span.frames as i64 };
        BLOCK.min((end - now) as usize)
    }

    /// A strip of the loop with what moves in it, for a signal of one channel or two.
    ///
    /// # Panics
    /// For a room or delay, which has no strip.
    pub(crate) fn channel(&self, target: Target, channels: usize) -> Channel {
        let strip = target.strip(self.song).expect("a part or bus has a strip");
        Channel::new(
            strip,
            moves(self.song, target, self.clock, self.rate),
            channels,
            self.rate,
        )
    }
}

/// What of a mix is run.
#[derive(Clone, Copy)]
pub(crate) enum Run<'a> {
    /// Everything that is heard.
    Whole,
    /// Everything, and the gains that the buses had are kept, for stems.
    Keeping,
    /// Some parts alone, through buses that ride the gains which the whole had.
    Stem(&'a [bool], &'a Gains),
}
