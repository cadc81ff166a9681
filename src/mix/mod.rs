//! The mix: strips, sends, buses, master. It knows nothing of notes and beats.

mod effect;

pub use effect::Effect;
