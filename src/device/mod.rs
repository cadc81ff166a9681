//! Playing without another program: [`Turntable`] gives the blocks of a loop that repeats without a gap; with the feature `sound`
//! a sound device plays them.

#[cfg(feature = "sound")]
mod output;
mod turntable;

#[cfg(feature = "sound")]
pub(crate) use output::Output;
#[cfg(feature = "sound")]
pub(crate) use turntable::{Record, Turntable};
