//! Export: finished audio, and what was played, become files.

pub mod aside;
mod beside;
pub mod credits;
mod dither;
pub mod in_turn;
pub mod midi;
pub mod name;
pub mod notes;
pub mod tablature;
pub mod wav;

pub use beside::write_beside;
