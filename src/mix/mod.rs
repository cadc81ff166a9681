//! The mix: parts' audio becomes the finished sum. It knows nothing of notes and beats.
//!
//! [`engine`] runs all strips in order, with no signal processing of its own; [`strip`] has one file an effect; [`spaces`] are
//! the rooms and delays; [`mod@master`] finishes.

mod effort;
pub(crate) mod engine;
pub(crate) mod master;
pub(crate) mod spaces;
pub(crate) mod strip;

pub use effort::Effort;
pub use engine::routing::LONGEST_RUN_IN;
pub(crate) use engine::side_chain::{MasterSideChain, SideChains};
pub(crate) use engine::time::Span;
pub use strip::ceiling::Ceiling;
pub use strip::compressor::Compressor;
pub use strip::drive::Saturator;
pub use strip::duck::{Ducker, Follower};
pub use strip::effect::Effect;
pub use strip::eq::Eq;
pub use strip::filter::{Curve, Filter};
pub use strip::pan::Spread;
pub use strip::pan::Width;
pub(crate) use strip::pan::{balance_gains, pan_gains_mono};

#[cfg(test)]
mod test_signals;
