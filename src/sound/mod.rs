//! Sound: hits and a kit's recordings become one part's dry audio.
//!
//! A [`Player`] works through time from front to back and fills block after block; how the time is cut into blocks
//! never changes a bit. It knows nothing of strips and buses.

mod bank;
mod dry;
mod dulled;
mod envelope;
mod extent;
mod held;
mod player;
mod rounds;
mod voice;

pub use bank::Bank;
pub use dry::{Dry, Reader};
pub use extent::Extent;
pub use player::{Player, level};
pub use rounds::Rounds;
