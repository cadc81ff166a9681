//! The score: a [`Loop`](crate::loopfile::Loop) becomes hits in time.

mod hit;

pub use hit::Hit;
