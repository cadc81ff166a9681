//! Stages of the work, and where it forks into branches that may run side by side.
//!
//! Each is a span for whoever listens, as `benches/span.rs` does, to see what waits for what. In a render nobody listens, and a span
//! costs a look at one flag.

use rayon::prelude::*;
use tracing::trace_span;

/// Does a stage of the work; within a fork it is one of its branches.
pub(crate) fn stage<T>(name: &'static str, work: impl FnOnce() -> T) -> T {
    trace_span!("stage", name).in_scope(work)
}

/// Does work that consists of branches which may run side by side.
pub(crate) fn fork<T>(name: &'static str, work: impl FnOnce() -> T) -> T {
    trace_span!("fork", name).in_scope(work)
}

/// Does two things side by side, each with its name.
pub(crate) fn join<A: Send, B: Send>(
    (first, one): (&'static str, impl FnOnce() -> A + Send),
    (second, other): (&'static str, impl FnOnce() -> B + Send),
) -> (A, B) {
    fork(first, || rayon::join(|| stage(first, one), || stage(second, other)))
}

/// Does the same with each of some things, side by side.
pub(crate) fn each<T: Send>(
    name: &'static str,
    things: impl ParallelIterator<Item = T>,
    work: impl Fn(T) + Sync + Send,
) {
    fork(name, || things.for_each(|thing| stage(name, || work(thing))));
}

/// The same where something comes of each, in their order.
pub(crate) fn all<T: Send, M: Send>(
    name: &'static str,
    things: impl IndexedParallelIterator<Item = T>,
    work: impl Fn(T) -> M + Sync + Send,
) -> Vec<M> {
    fork(name, || things.map(|thing| stage(name, || work(thing))).collect())
}
