//! The kit: a folder of one-shots, read in two halves.
//!
//! [`Kit::open`] reads names and `kit.toml` and gives the [`Index`] (pieces, layers, takes, choke groups) that `score` asks.
//! [`Kit::load`] decodes the [`Recording`]s that `sound` plays. [`Kit::open_for`] analyses only what some pieces need.
//!
//! [`folder`] scans folders and reads `kit.toml`, [`names`] reads file names, [`audio`] decodes, conditions and resamples.
//! It knows nothing of loops.

pub mod audio;
mod durations;
mod folder;
mod index;
mod load;
mod names;
mod open;
mod recording;
mod root;
mod roots;
mod substitute;

pub use audio::analysis_memory::listened;
pub use audio::decode::{decoded_bytes, told_seconds};
pub use audio::facts::Facts;
pub use audio::resampling::{prepare_pitches, repitch_part, repitched_frames};
pub use folder::credit::{Credit, Said};
pub use folder::manifest::NAME as MANIFEST;
pub use folder::one_shots::one_shots;
pub use folder::scan::{MOST_SHOTS, comes_to, is_one_shot};
pub use folder::write_manifest::has_manifest;
pub use index::{Index, Layer, Piece};
pub use load::{file_name, load_file};
pub use names::classify::{Decided, Reading, read_name};
pub use names::lexicon::GUESS;
pub use open::Kit;
pub use recording::{Held, Recording};
pub use substitute::is_percussion;
