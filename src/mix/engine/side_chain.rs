//! Keys: the envelopes of the parts that others duck under, over the whole loop.
//!
//! A duck is measured against its envelope's own maximum, so the envelope must be known before the mix begins.

use std::sync::Arc;

use super::time::Span;
use crate::loopfile::Duck;
use crate::mix::effort::Effort;
use crate::mix::strip::SideChain;
use crate::render_cache::CacheKey;

/// One envelope for each part that is followed and each release it is followed with.
#[derive(Default)]
pub(crate) struct SideChains(pub(super) Vec<Envelope>);

pub(super) struct Envelope {
    pub(super) by: usize,
    pub(super) release: f64,
    pub(super) curve: Arc<Curve>,
    /// What stands for it in the cache, where there is one.
    pub(super) name: Option<CacheKey>,
}

pub(super) struct Curve {
    pub(super) most: f32,
    pub(super) frames: Vec<f32>,
    pub(super) effort: Effort,
}

/// The envelope that a master ducks under, which outlives the desk.
pub(crate) struct MasterSideChain {
    pub(super) curve: Arc<Curve>,
    span: Span,
}

impl MasterSideChain {
    /// Copies the stretch that begins at a frame into `room` and gives it as a key.
    pub(crate) fn read<'a>(&self, first: i64, room: &'a mut [f32]) -> SideChain<'a> {
        self.span.read(&self.curve.frames, first, room);
        SideChain {
            envelope: room,
            most: self.curve.most,
        }
    }
}

impl SideChains {
    /// What it cost to follow them.
    pub(crate) fn effort(&self) -> Effort {
        let mut effort = Effort::default();
        self.0.iter().for_each(|envelope| effort += envelope.curve.effort);
        effort
    }

    /// What is the cache key for the envelope that a strip ducks under.
    pub(crate) fn name(&self, duck: &Duck) -> Option<CacheKey> {
        self.find(duck)?.name
    }

    pub(super) fn find(&self, duck: &Duck) -> Option<&Envelope> {
        self.0
            .iter()
            .find(|envelope| envelope.by == duck.by && envelope.release == duck.release)
    }

    /// Copies the stretch of a duck's key that begins at a frame into `room` and gives it as a key.
    pub(crate) fn read<'a>(&self, span: Span, duck: &Duck, first: i64, room: &'a mut [f32]) -> SideChain<'a> {
        let under = self.under(duck, span);
        under
            .expect("every part that is ducked under was followed")
            .read(first, room)
    }

    /// The envelope that a duck goes by, in a mix of some time.
    pub(crate) fn under(&self, duck: &Duck, span: Span) -> Option<MasterSideChain> {
        let curve = self.find(duck)?.curve.clone();
        Some(MasterSideChain { curve, span })
    }
}
