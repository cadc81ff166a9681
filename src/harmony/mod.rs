//! Music theory: notes, chord symbols, keys, degrees, voicings and the naming of chords.
//!
//! Knows nothing of bars, files or sound. What it reads are single words; what is wrong in one is a [`Misread`] whose
//! span lies inside the word, so that whoever holds the text can point into it.

pub mod chord;
pub mod degree;
pub mod degree_word;
pub mod key;
mod misread;
pub mod name;
pub mod note;
mod quality;
pub mod scale;
pub mod spell;
mod symbol;
pub mod voicing;

pub use chord::{Chord, Symbol};
pub use degree_word::DegreeWord;
pub use key::{Diatonic, Key};
pub use misread::Misread;
pub use name::name_chord;
pub use note::{Letter, Note, Spelling, frequency};
pub use spell::spell;
pub use voicing::{Asked, Voicing, lead_each, voicings};
