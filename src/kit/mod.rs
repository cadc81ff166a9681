//! The kit: a folder of one-shots, read in two halves.
//!
//! Its [`Index`] (names, choke groups, layers, turns) is what `score` asks; its [`Recording`]s are what `sound` plays.
//! [`Kit::open`] reads names and `kit.toml` and decodes nothing but what names leave open ([`Kit::open_for`] only what some pieces need); [`Kit::load`] decodes what is played.

mod alike;
mod between;
pub mod care;
mod credit;
pub mod decode;
mod facts;
mod folder;
mod hear;
mod index;
mod known;
mod lasting;
mod lend;
mod letters;
mod load;
mod manifest;
mod names;
mod open;
pub mod pitch;
mod recording;
mod resample;
mod roots;
mod scan;
mod senses;
mod shots;
mod stand_in;
mod tell;
mod variants;
mod words;
mod written;

pub use care::Care;
pub use credit::{Credit, Said};
pub use decode::{Decoded, decode, decoded_bytes, told_seconds};
pub use facts::{Facts, facts};
pub use index::{Index, Layer, Piece};
pub use known::listened;
pub use lend::is_percussion;
pub use load::{file_name, load_file};
pub use manifest::{About, NAME as MANIFEST};
pub use open::Kit;
pub use recording::{Held, Recording};
pub use resample::{prepare_pitches, repitch, repitch_part, repitched_frames, resample};
pub use scan::{MOST_SHOTS, comes_to, is_one_shot};
pub use shots::one_shots;
pub use tell::{Decided, GUESS, Reading, read_name};
pub use written::has_manifest;
