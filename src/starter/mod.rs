//! The starter: two demo kits, synthesised, with loops that play them.
//!
//! What [`demos`] gives is committed under `kits/`. After a change here, remove that folder, run `pressroll start kits`
//! and commit what it writes; `tests/starter.rs` keeps both the same.

use std::path::PathBuf;

mod first;
mod kits;
mod metal;
mod pack;
mod pitched;
mod shed;
mod skins;
mod small;
mod stairwell;
mod workshop;

pub use first::first_loop;

/// A demo kit with its loops.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Demo {
    /// The name of its folder.
    pub name: &'static str,
    /// Its files: paths relative to the folder, and what is in them.
    pub files: Vec<(PathBuf, Vec<u8>)>,
}

/// All demo kits with their loops, the same bytes on every machine.
pub fn demos() -> Vec<Demo> {
    vec![kits::harbour_studio(), kits::boat_shed()]
}
