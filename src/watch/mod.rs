//! Watching: which files a render is made of, when one of them is saved, and the listening page of the newest render.
//!
//! In: paths, and renders as bytes. Out: what was saved since, and answers over HTTP on 127.0.0.1. It knows nothing of loops: what
//! the page asks to be tried or kept goes to whoever does.

mod body;
mod clients;
mod file_watcher;
mod inventory;
mod request;
mod samples;
pub(crate) mod server;
mod token;

pub(crate) use file_watcher::FileWatcher;
pub(crate) use inventory::{Inventory, MadeOf};
pub(crate) use request::LONGEST_CHANGE;
pub(crate) use samples::Samples;
