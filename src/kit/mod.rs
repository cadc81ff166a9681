//! The kit: a folder of one-shots, read in two halves.
//!
//! [`Kit::open`] reads names and `kit.toml` and gives the [`Index`] (pieces, layers, takes, choke groups) that `score` asks.
//! [`Kit::load`] decodes the [`Recording`]s that `sound` plays. [`Kit::open_for`] analyses only what some pieces need.
//!
//! [`folder`] scans folders and reads `kit.toml`, [`names`] reads file names, [`audio`] decodes, conditions and resamples,
//! [`findings`] listens to a file once and remembers what was found.
//! It knows nothing of loops.

pub(crate) mod audio;
mod decoding;
mod durations;
pub(crate) mod find;
pub(crate) mod findings;
mod folder;
mod index;
mod kind;
mod load;
mod names;
mod open;
mod pieces;
mod recording;
mod root;
mod root_notices;
mod roots;
mod substitute;
mod sustain;

pub(crate) use audio::decode::{Sides, told_seconds};
pub(crate) use audio::facts::Facts;
pub(crate) use audio::interpolation::Band;
pub(crate) use audio::resampling::{Pitches, band, repitch_part, repitched_frames, within_octaves};
pub(crate) use audio::variable_speed::{Step, read_along};
pub(crate) use findings::listened;
pub(crate) use folder::credit::{Credit, Said};
pub(crate) use folder::manifest::NAME as MANIFEST;
pub(crate) use folder::one_shots::one_shots;
pub(crate) use folder::scan::{MOST_SHOTS, comes_to, is_one_shot};
pub(crate) use folder::write_manifest::has_manifest;
pub(crate) use index::{Index, Layer, Piece};
pub(crate) use kind::kind;
pub(crate) use load::file_name;
pub use load::load_file;
pub use names::classify::{Decided, Reading, read_name};
pub(crate) use names::classify::{drum_of, words_of};
pub use names::lexicon::GUESS;
pub(crate) use names::words::Drum;
pub use open::Kit;
pub(crate) use pieces::by_sound;
pub(crate) use recording::{Held, Recording};
pub(crate) use substitute::{is_percussion, percussion};
