//! WAV files: walking their chunks, reading them in all their dialects, writing them.
//!
//! Formats: the RIFF/WAVE of "Multimedia Programming Interface and Data Specifications 1.0" (IBM and Microsoft,
//! 1991), its update of 1994 (float, `fact`), and EBU Tech 3306 (RF64).

mod write;

pub use write::{Coding, Tags, Writer};
