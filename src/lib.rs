//! pressroll turns a loop file and a folder of one-shot WAVs into a finished stereo loop.

pub mod base;
pub mod chart;
pub mod cli;
pub mod device;
pub mod export;
pub mod files;
pub mod harmony;
pub mod kit;
pub mod loopfile;
pub mod manual;
pub mod measure;
pub mod midi;
pub mod mix;
pub mod project;
pub mod render;
pub mod render_cache;
pub mod schema;
pub mod score;
pub mod sound;
pub mod starter;
pub mod text;
pub mod watch;
pub mod wav;
