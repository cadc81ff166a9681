//! Export: finished audio, and what was played, become files.

mod beside;
mod dither;
pub mod midi;
pub mod name;
pub mod notes;
pub mod tablature;
pub mod wav;

pub use beside::write_beside;
