//! The audio of one-shots: a file's bytes become a recording at the render's rate, and its pitch and kind are found by ear.
//!
//! In: file contents. Out: samples, conditioned and resampled, and what analysis finds in them. It knows nothing of names,
//! pieces or loops.

pub(crate) mod conditioning;
pub(crate) mod crossfade;
pub(crate) mod decode;
pub(crate) mod facts;
pub(crate) mod interpolation;
pub(crate) mod pitch;
pub(crate) mod resampling;
pub(crate) mod stand_in;
pub(crate) mod sustain;
pub(crate) mod variable_speed;
