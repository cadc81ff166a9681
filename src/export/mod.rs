//! Export: finished audio, and what was played, become files. One file or folder a format.
//!
//! In: audio, scores, figures. Out: bytes, written beside their place and renamed. It knows nothing of how audio was made.

mod atomic_write;
pub mod bars;
pub mod credits;
mod dither;
#[cfg(feature = "pages")]
pub mod flac;
pub mod mark;
pub mod midi;
pub mod name;
pub mod notes;
pub mod outline;
#[cfg(feature = "pages")]
pub mod page;
#[cfg(feature = "pictures")]
pub mod picture;
pub mod sequence;
pub mod spill;
pub mod tablature;
pub mod wav;

pub use atomic_write::{write_beside, write_preview};
