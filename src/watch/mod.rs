//! Watching: which files a render is made of, when one of them is saved, and the page on which the newest render is heard.

mod inventory;
mod lookout;
mod request;
pub mod server;

pub use inventory::{Inventory, MadeOf};
pub use lookout::Lookout;
