//! Export: finished audio, and what was played, become files.

pub mod bars;
mod beside;
mod dither;
pub mod flac;
pub mod midi;
pub mod name;
pub mod notes;
pub mod outline;
pub mod page;
pub mod picture;
pub mod tablature;
pub mod wav;

pub use beside::write_beside;
