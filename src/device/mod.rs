//! Playing without another program. What goes round is [`Turntable`]'s to say and needs no device; the device itself is there
//! where the program was built with the feature `sound`.

#[cfg(feature = "sound")]
mod output;
mod turntable;

#[cfg(feature = "sound")]
pub use output::Output;
pub use turntable::{Record, Turntable};
