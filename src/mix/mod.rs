//! The mix: strips, sends, buses, master. It knows nothing of notes and beats.

mod ceiling;
mod compress;
pub mod convolve;
pub mod delay;
mod drive;
mod duck;
mod effect;
mod fast;
mod filter;
mod hold;
mod oversample;
mod peaks;
mod place;
mod reflections;
pub mod room;
mod tail;

pub use ceiling::Ceiling;
pub use compress::Compressor;
pub use drive::Saturator;
pub use duck::{Ducker, Follower};
pub use effect::Effect;
pub use filter::{Curve, Eq, Filter, Section};
pub use place::{Spread, Width, balance_gains, pan_gains_mono};

#[cfg(test)]
mod signals;
