//! A block of a strip's output, which knows where it is silent.

use std::ops::Range;

use super::time::STRETCH;
use crate::base::audio::peak;

/// A block of a strip's output: both sides or, where it is mono, the left one alone and what the fader and the pan make
/// of it on either side.
#[derive(Default)]
pub(crate) struct Block {
    pub sides: [Vec<f32>; 2],
    pub faders: Option<[f32; 2]>,
    /// False for each stretch that is silent: there all samples are 0, and nobody needs to look at them.
    pub sounds: Vec<bool>,
}

impl Block {
    /// Each side's samples, and the factor that is still to be put on them.
    pub(crate) fn sides(&self) -> [(&[f32], f32); 2] {
        let [left, right] = &self.sides;
        match self.faders {
            None => [(left, 1.0), (right, 1.0)],
            Some([to_left, to_right]) => [(left, to_left), (left, to_right)],
        }
    }

    /// Its highest sample, as an amplitude.
    pub(crate) fn peak(&self) -> f32 {
        if !self.sounds.contains(&true) {
            return 0.0;
        }
        match self.faders {
            None => peak(&self.sides),
            Some([to_left, to_right]) => peak(&self.sides[..1]) * to_left.abs().max(to_right.abs()),
        }
    }

    /// Makes it so many frames long; what it holds and whether that sounds stays.
    pub(crate) fn resize(&mut self, frames: usize) {
        self.faders = None;
        self.sides.iter_mut().for_each(|side| side.resize(frames, 0.0));
        self.sounds.resize(frames.div_ceil(STRETCH), false);
    }

    /// The frames of some stretches.
    pub(crate) fn frames(&self, stretches: Range<usize>) -> Range<usize> {
        stretches.start * STRETCH..(stretches.end * STRETCH).min(self.sides[0].len())
    }

    /// Both sides of some frames.
    pub(crate) fn part(&mut self, frames: Range<usize>) -> [&mut [f32]; 2] {
        self.sides.each_mut().map(|side| &mut side[frames.clone()])
    }

    /// Silences a stretch.
    pub(crate) fn silence(&mut self, stretch: usize) {
        if std::mem::take(&mut self.sounds[stretch]) {
            let frames = self.frames(stretch..stretch + 1);
            self.part(frames).into_iter().for_each(|side| side.fill(0.0));
        }
    }

    /// Silences all of it.
    pub(crate) fn silence_all(&mut self) {
        (0..self.sounds.len()).for_each(|stretch| self.silence(stretch));
    }

    /// The frames of the stretches that sound.
    pub(crate) fn sounding(&self) -> impl Iterator<Item = Range<usize>> {
        let sounding = (0..self.sounds.len()).filter(|stretch| self.sounds[*stretch]);
        sounding.map(|stretch| self.frames(stretch..stretch + 1))
    }
}
