//! Sound: hits and a kit's recordings become one part's dry audio.
//!
//! A [`Player`] works through time from front to back and fills block after block; how the time is cut into blocks
//! never changes a bit. It knows nothing of strips and buses.

mod bank;
mod bend;
mod dry;
mod envelope;
mod extent;
mod identity;
mod legato;
mod player;
mod rounds;
mod sustain;
mod tone;
mod voice;

pub use bank::Bank;
pub(crate) use dry::{Dry, DryReader};
pub(crate) use envelope::choke_frames;
pub use extent::Extent;
pub use player::Player;
pub(crate) use player::level;
pub use rounds::Rounds;
