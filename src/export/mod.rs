//! Export: finished audio, and what was played, become files. One file or folder a format.
//!
//! In: audio, scores, figures. Out: bytes, written beside their place and renamed. It knows nothing of how audio was made.

mod atomic_write;
pub(crate) mod bars;
pub(crate) mod credits;
mod dither;
#[cfg(feature = "pages")]
pub(crate) mod flac;
#[cfg(feature = "pages")]
pub(crate) mod lesson;
pub(crate) mod mark;
pub(crate) mod midi;
#[cfg(feature = "mp3")]
pub(crate) mod mp3;
#[cfg(feature = "cli")]
pub(crate) mod musicxml;
pub(crate) mod name;
pub(crate) mod notes;
pub(crate) mod outline;
#[cfg(feature = "pages")]
pub(crate) mod page;
#[cfg(feature = "pictures")]
pub(crate) mod picture;
pub(crate) mod sequence;
#[cfg(feature = "cli")]
pub(crate) mod sliced;
pub(crate) mod spill;
#[cfg(feature = "cli")]
pub(crate) mod staves;
pub(crate) mod tablature;
#[cfg(feature = "cli")]
pub(crate) mod transcribed;
pub(crate) mod wav;

pub(crate) use atomic_write::{write_beside, write_folder, write_preview};
