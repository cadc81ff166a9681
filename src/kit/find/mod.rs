//! Finding one-shots by how they sound.
//!
//! In: distances between sounds. Out: orders and choices of them. It knows nothing of loops and of the command line.

mod order;

pub(crate) use order::chain;
