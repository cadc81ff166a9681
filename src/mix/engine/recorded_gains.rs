//! The gains that whole buses had, kept for stems.
//!
//! A compressor or a ceiling on a bus hears the sum. A stem that goes through the bus alone must get the gain that the
//! whole got at that moment, or stems would not sum to the mix.

use super::time::Span;
use crate::mix::strip::{Channel, Ride};

/// The gains of every bus over the whole time.
pub(crate) struct Gains {
    span: Span,
    buses: Vec<Kept>,
}

#[derive(Clone, Default)]
struct Kept {
    /// The frame of the first gain: 0 on a circle, where the run-in is the end of the time; earlier on a line.
    first: i64,
    compress: Vec<f32>,
    ceiling: Vec<f32>,
}

impl Gains {
    /// No gains yet, of buses that begin at some frames.
    pub(crate) fn new(begins: &[i64], span: Span) -> Gains {
        let kept = |begins: &i64| Kept {
            first: if span.circle { 0 } else { *begins },
            ..Kept::default()
        };
        Gains {
            span,
            buses: begins.iter().map(kept).collect(),
        }
    }

    /// Keeps the gains of a bus's latest block, which began at a frame; blocks come in order.
    pub(crate) fn keep(&mut self, bus: usize, now: i64, strip: &Channel) {
        let kept = &mut self.buses[bus];
        if now >= kept.first {
            kept.compress.extend_from_slice(strip.compress_gains());
            kept.ceiling.extend_from_slice(strip.ceiling_gains());
        }
    }

    /// The gains of a bus for the block that begins at a frame; 1 where it has none.
    pub(crate) fn read<'a>(&self, bus: usize, now: i64, compress: &'a mut [f32], ceiling: &'a mut [f32]) -> Ride<'a> {
        let kept = &self.buses[bus];
        for (gains, block) in [(&kept.compress, &mut *compress), (&kept.ceiling, &mut *ceiling)] {
            if !gains.is_empty() {
                Span {
                    frames: gains.len(),
                    circle: self.span.circle,
                }
                .read(gains, now - kept.first, block);
            }
        }
        Ride { compress, ceiling }
    }
}
