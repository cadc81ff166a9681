//! The mix: strips, sends, buses, master. It knows nothing of notes and beats.

mod bend;
mod ceiling;
mod compress;
mod drive;
mod duck;
mod effect;
mod eq;
mod fast;
mod filter;
mod hold;
mod oversample;
mod peaks;
mod place;

pub use ceiling::Ceiling;
pub use compress::Compressor;
pub use drive::Saturator;
pub use duck::{Ducker, Follower};
pub use effect::Effect;
pub use eq::Eq;
pub use filter::{Curve, Filter, Section};
pub use place::{Spread, Width, balance_gains, pan_gains_mono};

#[cfg(test)]
mod signals;
