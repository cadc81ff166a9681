//! The mix: strips, sends, buses, master. It knows nothing of notes and beats.

pub mod convolve;
pub mod delay;
mod effect;
pub mod filter;
mod reflections;
pub mod room;
mod tail;

pub use effect::Effect;
