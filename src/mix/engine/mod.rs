//! The engine of the mix: which strips run, in which order, over which stretch of time, and which results are shared.
//!
//! In: parts' audio and the loop's routing. Out: the sum for the master and one sum for each room and delay. No signal
//! processing happens here: effects are in [`super::strip`], rooms and delays in [`super::spaces`].

pub(crate) mod block;
pub(crate) mod cache_keys;
pub(crate) mod inputs;
pub(crate) mod lane;
pub(crate) mod mixer;
pub(crate) mod outlet;
pub(crate) mod plan;
pub(crate) mod planned;
pub(crate) mod recorded_gains;
pub(crate) mod routing;
pub(crate) mod side_chain;
mod side_chain_follow;
pub(crate) mod time;
