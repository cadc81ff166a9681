//! The mix: strips, sends, buses, master. It knows nothing of notes and beats.
//!
//! One file an effect; [`desk`] runs them all, [`spaces`] are the rooms and delays, [`mod@master`] finishes.

mod bend;
pub mod ceiling;
pub mod compress;
pub mod convolve;
pub mod delay;
pub mod desk;
pub mod drive;
pub mod duck;
mod effect;
mod effort;
mod eq;
mod fast;
pub mod filter;
mod hold;
mod keys;
mod lane;
pub mod lean;
pub mod master;
mod matched;
mod naming;
mod oversample;
mod peaks;
pub mod place;
pub mod plan;
mod reflections;
mod ride;
pub mod room;
mod routing;
pub mod spaces;
pub mod strip;
pub mod sweep;
mod tail;
mod time;
mod weigh;

pub use ceiling::Ceiling;
pub use compress::Compressor;
pub use drive::Saturator;
pub use duck::{Ducker, Follower};
pub use effect::Effect;
pub use effort::Effort;
pub use eq::Eq;
pub use filter::{Curve, Filter, Section};
pub use keys::{Keys, Under};
pub use place::{Spread, Width, balance_gains, pan_gains_mono};
pub use ride::Gains;
pub use routing::LONGEST_RUN_IN;
pub use time::Span;

#[cfg(test)]
mod signals;
