//! The kit: a folder of one-shots, read in two halves.
//!
//! Its [`Index`] (names, choke groups, layers, turns) is what `score` asks; its [`Recording`]s are what `sound` plays.

mod recording;
mod resample;

pub use recording::Recording;
pub use resample::{repitch, resample};

/// What a kit holds, without its sound.
#[derive(Debug, Clone, Default)]
pub struct Index {
    /// The pieces.
    pub pieces: Vec<Piece>,
}

/// One piece of a kit.
#[derive(Debug, Clone)]
pub struct Piece {
    /// Its name: the General MIDI percussion name in short where it is one, else the name that its file has.
    pub name: String,
    /// Its velocity layers from the softest to the hardest, at least one; the last reaches 127.
    pub layers: Vec<Layer>,
    /// The group in which hits stop one another, unless the loop file says otherwise.
    pub choke: Option<String>,
}

/// The takes of one piece for a range of velocities.
#[derive(Debug, Clone)]
pub struct Layer {
    /// The highest velocity that it is for.
    pub upto: f64,
    /// Its takes in the order in which they are taken in turn, as numbers of recordings in the kit; at least one.
    pub takes: Vec<usize>,
}

impl Index {
    /// The number of a piece by its name.
    pub fn find(&self, name: &str) -> Option<usize> {
        self.pieces.iter().position(|piece| piece.name == name)
    }
}
