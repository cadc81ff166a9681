//! What others hear of a strip in a mix.

use super::block::Block;
use super::inputs::Stereo;
use super::time::Span;
use crate::base::audio::gain_of_db;
use crate::base::simd::wide;
use crate::loopfile::{Field, Send};
use crate::mix::strip::sweep::Moves;

/// What a strip lets others hear: where it goes and its last whole block, while it may be at work on its next one.
pub(crate) struct Outlet<'a> {
    /// The bus that it feeds; the master where none.
    pub feeds: Option<usize>,
    pub sends: &'a [Send],
    pub lead: usize,
    /// True where something hears it.
    pub heard: bool,
    pub moves: Option<Moves>,
    pub block: Block,
}

impl Outlet<'_> {
    /// Adds its block to the sum of what goes straight to the master.
    pub(crate) fn add(&self, span: Span, sum: &mut Stereo, now: i64) {
        let first = now + self.lead as i64;
        for (sum, (samples, fader)) in sum.iter_mut().zip(self.block.sides()) {
            for part in self.block.sounding() {
                span.add(sum, first + part.start as i64, &samples[part], fader);
            }
        }
    }

    /// Both sides of its block, each with the factor that the fader is.
    pub(crate) fn sides(&self) -> [(&[f32], f32); 2] {
        self.block.sides()
    }

    /// Adds its block to what a room or delay gets by one of its sends.
    pub(crate) fn send(&self, number: usize, span: Span, sum: &mut Stereo, now: i64) {
        let first = now + self.lead as i64;
        let frames = self.block.sides[0].len();
        let mut gains = Vec::new();
        let field = Field::Send(number);
        let moves = self.moves.as_ref();
        let moves = moves.is_some_and(|moves| moves.gains(field, first, &mut gains, frames));
        let level = gain_of_db(self.sends[number].level_db) as f32;
        for (sum, (samples, fader)) in sum.iter_mut().zip(self.block.sides()) {
            for part in self.block.sounding() {
                let (samples, gains) = (&samples[part.clone()], gains.get(part.clone()).filter(|_| moves));
                span.runs(first + part.start as i64, part.len(), |at, index, run| {
                    let pairs = sum[index..index + run].iter_mut().zip(&samples[at..at + run]);
                    wide(|| match gains {
                        Some(gains) => pairs
                            .zip(&gains[at..at + run])
                            .for_each(|((sum, sample), gain)| *sum += fader * sample * gain),
                        None => pairs.for_each(|(sum, sample)| *sum += level * (fader * sample)),
                    });
                });
            }
        }
    }
}
