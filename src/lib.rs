//! pressroll turns a loop file and a folder of one-shot WAVs into a finished stereo loop.

pub mod audio;
pub mod keys;
pub mod kit;
pub mod loopfile;
pub mod mix;
pub mod score;
pub mod text;
pub mod wav;
