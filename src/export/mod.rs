//! Export: finished audio, and what was played, become files.

mod atomic_write;
pub mod bars;
pub mod credits;
mod dither;
pub mod flac;
pub mod mark;
pub mod midi;
pub mod name;
pub mod notes;
pub mod outline;
pub mod page;
pub mod picture;
pub mod sequence;
pub mod spill;
pub mod tablature;
pub mod wav;

pub use atomic_write::{write_beside, write_preview};
