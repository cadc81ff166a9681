//! Export: finished audio becomes files.

mod beside;
mod dither;
pub mod wav;

pub use beside::write_beside;
