//! Watching: which files a render is made of, when one of them is saved, and the page on which the newest render is heard.

mod file_watcher;
mod inventory;
mod request;
pub mod server;

pub use file_watcher::Lookout;
pub use inventory::{Inventory, MadeOf};
