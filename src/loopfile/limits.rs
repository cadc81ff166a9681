//! How much a loop or a form may hold: far more than anybody writes, and little enough to be refused at once.
//!
//! Whatever grows with a number in a file is held against one of these before memory is asked for.

pub(crate) use crate::schema::{MOST_BELLS, MOST_VALUES};

/// The most parts of a loop, doubles counted.
pub(crate) const MOST_PARTS: usize = 512;
/// The most buses of a loop.
pub(crate) const MOST_BUSES: usize = 256;
/// How many buses a signal may pass on its way to the master.
pub(crate) const DEEPEST: usize = 32;
/// The most rooms and delays of a loop.
pub(crate) const MOST_SPACES: usize = 64;
/// The most mixes of a loop.
pub(crate) const MOST_MIXES: usize = 256;
/// The most sweeps of a loop or a form.
pub(crate) const MOST_SWEEPS: usize = 1024;
/// The most sections of a form.
pub(crate) const MOST_SECTIONS: usize = 1000;
/// The longest name; stems are named after parts, and file systems stop at 255 bytes.
pub(crate) const LONGEST_NAME: usize = 60;
/// The longest loop or form, in seconds: what it takes in memory grows with it.
pub(crate) const LONGEST: f64 = 2.0 * 3600.0;
/// The longest recorded impulse response, in seconds.
pub(crate) const LONGEST_IMPULSE: f64 = 60.0;
/// The longest that a `let ring` rings after the last bar, in seconds.
pub(crate) const LONGEST_RING: f64 = 60.0;

/// The most bars of a loop whose hits are read.
pub(crate) const MOST_BARS: u32 = 10_000;

/// The most marks of one bar, dashes counted.
pub(crate) const MOST_MARKS: usize = 4096;

/// The most strokes that a loop's parts play in all.
pub(crate) const MOST_STROKES: usize = 1_000_000;
