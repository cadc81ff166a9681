//! The mix: strips, sends, buses, master. It knows nothing of notes and beats.

pub mod convolve;
mod effect;
mod reflections;
pub mod room;
mod tail;

pub use effect::Effect;
