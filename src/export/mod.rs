//! Export: finished audio, and what was played, become files.

pub mod aside;
pub mod bars;
mod beside;
pub mod credits;
mod dither;
pub mod flac;
pub mod in_turn;
pub mod mark;
pub mod midi;
pub mod name;
pub mod notes;
pub mod outline;
pub mod page;
pub mod picture;
pub mod tablature;
pub mod wav;

pub use beside::{write_beside, write_preview};
