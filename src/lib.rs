//! pressroll turns a loop file and a folder of one-shot WAVs into a finished stereo loop.

pub mod audio;
pub mod chance;
pub mod chart;
pub mod cli;
pub mod device;
pub mod export;
pub mod files;
pub mod harmony;
pub mod keep;
pub mod keys;
pub mod kit;
pub mod loopfile;
mod loudness;
pub mod measure;
pub mod memory;
pub mod midi;
pub mod mix;
pub mod render;
pub mod score;
pub mod sound;
pub mod starter;
pub mod text;
pub mod watch;
pub mod wav;
mod wide;
