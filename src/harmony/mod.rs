//! Music theory: notes, chord symbols, keys, degrees, voicings and the naming of chords.
//!
//! Knows nothing of bars, files or sound. What it reads are single words; what is wrong in one is a [`Misread`] whose
//! span lies inside the word, so that whoever holds the text can point into it.

#[cfg(feature = "cli")]
pub(crate) mod analysis;
pub(crate) mod chord;
pub(crate) mod degree;
pub(crate) mod degree_word;
#[cfg(feature = "cli")]
mod find_key;
pub(crate) mod key;
mod leading;
mod misread;
pub(crate) mod name;
pub(crate) mod note;
mod pitch;
mod quality;
pub(crate) mod scale;
pub(crate) mod spell;
mod symbol;
pub(crate) mod voicing;
mod voicing_laws;

pub use chord::{Chord, Symbol};
#[cfg(feature = "cli")]
pub(crate) use degree::Degree;
pub use degree_word::DegreeWord;
#[cfg(feature = "cli")]
pub(crate) use find_key::find_key;
pub(crate) use key::Diatonic;
pub use key::Key;
pub(crate) use leading::{VoicingRequest, lead_each};
pub(crate) use misread::Misread;
pub use name::name_chord;
pub use note::Note;
pub use note::Spelling;
pub(crate) use note::{Letter, frequency};
pub(crate) use pitch::{parse_pitch, pitch_name};
pub(crate) use spell::spell;
pub use voicing::Voicing;
pub use voicing::voicings;
pub(crate) use voicing_laws::too_low;
