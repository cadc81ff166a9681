//! What is planned for each strip of a mix, and what came of it.

use std::ops::Range;
use std::sync::Arc;

use super::inputs::Stereo;
use crate::loopfile::Target;
use crate::mix::strip::Reductions;

/// Where one strip's signal comes from, and where it goes.
#[derive(Default)]
pub(crate) struct Planned {
    /// True where the strip is needed.
    pub wanted: bool,
    /// What is kept of it.
    pub stored: Stored,
}

impl Planned {
    /// A strip that is run and of which nothing is kept.
    pub(crate) fn all() -> Planned {
        Planned {
            wanted: true,
            stored: Stored::None,
        }
    }
}

/// What is told of a strip: its peak as an amplitude and, where it is a bus's, its deepest gain reductions.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Figure {
    pub peak: f32,
    pub reductions: Reductions,
}

/// A strip that has run.
pub(crate) struct Ran {
    pub target: Target,
    pub peak: f32,
    /// A bus's; none where its effects were not run.
    pub reductions: Option<Reductions>,
    /// What it gave, where there is a place for it.
    pub noted: Option<Track>,
    /// True where its effects were run, and not read from what is kept.
    pub run: bool,
}

/// What is kept of a strip.
#[derive(Default)]
pub(crate) enum Stored {
    /// Nothing, and nothing will be.
    #[default]
    None,
    /// What it gave.
    Kept(Arc<Track>),
    /// Nothing yet, but there is a place for it.
    Place,
}

/// What a strip gave over the whole time, kept for other mixes: what reached its fader or, with a ceiling, what came
/// out of it.
pub(crate) struct Track {
    /// The frame at which the strip began.
    pub first: i64,
    /// Left and right; the right one is empty where it is mono.
    pub sides: [Vec<f32>; 2],
}

impl Track {
    /// Room for what a strip gives from its beginning to the end of the time.
    pub(crate) fn new(first: i64, frames: usize, channels: usize) -> Track {
        let side = |number| Vec::with_capacity(if number < channels { frames } else { 0 });
        Track {
            first,
            sides: [side(0), side(1)],
        }
    }

    /// Bytes of one of so many channels.
    pub(crate) fn bytes(first: i64, end: usize, channels: usize) -> usize {
        channels * (end as i64 - first) as usize * size_of::<f32>()
    }

    /// Takes down some frames of a block that comes out of a ceiling.
    pub(crate) fn note(&mut self, block: &Stereo, frames: Range<usize>) {
        let noted = self.sides.iter_mut().zip(block);
        noted.for_each(|(note, side)| note.extend_from_slice(&side[frames.clone()]));
    }

    /// Takes down so many frames of silence.
    pub(crate) fn rest(&mut self, frames: usize, channels: usize) {
        let noted = self.sides.iter_mut().take(channels);
        noted.for_each(|note| note.resize(note.len() + frames, 0.0));
    }

    /// Copies the block that begins at a frame; the answer is whether it is mono.
    pub(crate) fn read(&self, now: i64, block: &mut [Vec<f32>; 2]) -> bool {
        let from = (now - self.first) as usize;
        for (block, side) in block.iter_mut().zip(&self.sides).filter(|(_, side)| !side.is_empty()) {
            let to = from + block.len();
            block.copy_from_slice(&side[from..to]);
        }
        self.sides[1].is_empty()
    }
}
