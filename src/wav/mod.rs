//! WAV files: walking their chunks, reading them in all their dialects, writing them.
//!
//! Formats: the RIFF/WAVE of "Multimedia Programming Interface and Data Specifications 1.0" (IBM and Microsoft,
//! 1991), its update of 1994 (float, `fact`), WAVE_FORMAT_EXTENSIBLE, and EBU Tech 3306 (RF64).

mod about;
mod error;
mod format;
mod law;
mod read;
mod riff;
mod write;

pub(crate) use about::words;
pub use error::WavError;
pub(crate) use error::kind_of;
pub(crate) use format::Kind;
pub(crate) use law::{a_law, mu_law};
pub use read::Decoded;
pub(crate) use read::Head;
pub(crate) use read::deal;
pub use read::head;
pub use read::head_from;
pub use read::read;
pub use read::read_from;
pub use write::{Coding, Tags, Writer};
