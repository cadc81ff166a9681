//! A catalogue: previews of many loops on many kits in many versions, and what is told of each.
//!
//! - In: a list ([`List`]), the folder that the previews are for, and which share of them to make.
//! - Out: files of previews, a record beside them for each, an index of all.
//! - A [`Plan`] is what a list comes to: the same on every machine. It is made from loop files alone; kits are opened by whoever
//!   renders.
//! - It knows nothing of what an engine of jobs is: shares are numbers.

mod content;
mod describe;
mod found;
mod index;
mod list;
mod make;
#[cfg(all(test, feature = "mp3"))]
mod mp3_tests;
mod pack;
mod page;
mod plan;
mod record;
mod run;
mod shard;
mod store;

pub(crate) use index::Index;
pub(crate) use list::{List, MOST_VARIED};
pub(crate) use pack::{pack, packed};
pub(crate) use plan::{MOST_ENTRIES, Plan};
pub(crate) use run::{Failed, Outcome, Running};
pub(crate) use shard::{Asked, MOST as MOST_SHARDS, Shard};
pub(crate) use store::Store;
