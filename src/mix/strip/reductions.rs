//! How deep a strip reduces its gain.

/// The deepest gain reductions of a strip in dB, 0 or more.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Reductions {
    /// The compressor's, before makeup and blend.
    pub compressor_db: f64,
    /// The same as it is heard, after blend.
    pub heard_db: f64,
    /// The ceiling's.
    pub ceiling_db: f64,
}

impl Reductions {
    /// The deepest of two.
    pub(crate) fn max(self, other: Reductions) -> Reductions {
        Reductions {
            compressor_db: self.compressor_db.max(other.compressor_db),
            heard_db: self.heard_db.max(other.heard_db),
            ceiling_db: self.ceiling_db.max(other.ceiling_db),
        }
    }
}
