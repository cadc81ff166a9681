//! pressroll renders sample-based loops offline: a loop file and a folder of one-shots become a finished stereo loop, with the
//! same bytes every time.
//!
//! A [`Project`] is a loop file or a form file with its kits. Open it, change it, render it, read its score, compare its
//! versions. What can stand in a file, `pressroll reference` and `pressroll manual` say; how to install the program, its README.
//!
//! # Render a loop to samples
//!
//! ```
//! use pressroll::{Order, Project};
//!
//! # fn main() -> Result<(), pressroll::Problems> {
//! let project = Project::options("kits/harbour-studio/loops/night-ferry.toml")
//!     .set("master.ceiling", "-2")
//!     .without(["shaker"])
//!     .open()?;
//! let order = Order { rate: 16_000, bars: Some((1, 2)), ..Order::default() };
//! let rendered = project.render(&order)?;
//! assert_eq!(rendered.audio.channels.len(), 2);
//! assert!(rendered.true_peak_db.is_some_and(|peak| peak <= -2.0));
//! # Ok(())
//! # }
//! ```
//!
//! # Read the score
//!
//! Every hit and note at the time and velocity at which it is played, with swing, feel and chance in them:
//!
//! ```
//! # fn main() -> Result<(), pressroll::Problems> {
//! let project = pressroll::Project::open("kits/harbour-studio/loops/night-ferry.toml")?;
//! let score = project.score(&pressroll::Order::default())?;
//! let snares: Vec<f64> = score.hits().filter(|hit| hit.part == "snare").map(|hit| hit.at).collect();
//! assert!(!snares.is_empty() && snares.iter().all(|at| *at < score.seconds));
//! # Ok(())
//! # }
//! ```
//!
//! # Analyse a folder of one-shots
//!
//! ```
//! # fn main() -> Result<(), pressroll::Problems> {
//! for one_shot in pressroll::analyse("kits/boat-shed")? {
//!     if let Ok(figures) = &one_shot.figures {
//!         println!("{}: {}, {:.2} s", one_shot.file.display(), one_shot.piece, figures.seconds);
//!     }
//! }
//! # Ok(())
//! # }
//! ```
//!
//! # Build a loop in code
//!
//! What parts play is given as numbers, all else as settings by their addresses:
//!
//! ```
//! use pressroll::{Order, Part, Project};
//!
//! # fn main() -> Result<(), pressroll::Problems> {
//! let kick = [0, 2, 4, 6].into_iter().fold(Part::new("kick"), |part, beat| part.hit((beat, 4), 110.0));
//! let bass = Part::new("bass").note((0, 4), (1, 4), 31, 90.0).note((5, 4), (1, 8), 38, 80.0);
//! let project = Project::build(92.0, 2)
//!     .kit("kits/harbour-studio")
//!     .part(kick)
//!     .part(bass)
//!     .set("kick.drive", "3")
//!     .set("loop.ending", "let ring")
//!     .open()?;
//! let rendered = project.render(&Order { rate: 16_000, ..Order::default() })?;
//! assert!(rendered.lufs.is_some() && rendered.audio.seconds() > 5.2);
//! # Ok(())
//! # }
//! ```
//!
//! # Features
//!
//! The library needs none of the crates that make the program: depend on it with `default-features = false`. The default
//! feature `cli` is the command line with all that it writes: `pages`, `pictures` and `watch`. The feature `sound` lets the
//! program play by itself.
//!
//! # The way through
//!
//! A file is read into a loop without defaults, units or names; the loop and its kit's index become a score; the score and the
//! kit's recordings become each part's dry audio; strips, buses, rooms, delays and the master become the mix. None of these is
//! public. The page for those who take the code up is DEVELOPERS.md.

#![warn(unreachable_pub)]
// The command line uses more of the library than its other users can see.
#![cfg_attr(not(feature = "cli"), allow(dead_code, unused_imports))]

mod base;
#[cfg(feature = "cli")]
mod catalogue;
#[cfg(feature = "cli")]
mod chart;
#[cfg(feature = "cli")]
mod cli;
#[cfg(any(feature = "sound", test))]
mod device;
mod export;
mod files;
mod harmony;
mod kit;
#[cfg(feature = "cli")]
mod listening;
mod loopfile;
#[cfg(feature = "cli")]
mod manual;
mod measure;
mod midi;
mod mix;
mod notation;
mod project;
mod render;
mod render_cache;
mod schema;
mod score;
mod sound;
#[cfg(feature = "cli")]
mod starter;
mod text;
#[cfg(feature = "cli")]
mod transcription;
#[cfg(feature = "watch")]
mod watch;
mod wav;

#[cfg(feature = "cli")]
pub use cli::run;

pub use base::audio::Audio;
pub use loopfile::Ending;
pub use measure::{BusFigures, Figures, figures};
pub use project::{
    Compared, Comparison, LoopBuilder, OneShot, OneShotFigures, Options, Part, Played, Project, Score, analyse,
};
pub use render::{BusReport, Order, PartReport, Rendered};
pub use schema::Difference;
pub use text::{Place, Problem, Problems, Source};

/// For pressroll's own tests and benches, which look at single rooms from outside. No promise is made of anything in here.
#[doc(hidden)]
pub mod internals {
    pub mod base {
        pub use crate::base::audio::gain_of_db;
    }
    #[cfg(feature = "cli")]
    pub mod chart {
        pub use crate::chart::{Besides, song};
    }
    pub mod export {
        pub use crate::export::bars::{Bar, Bars};
        #[cfg(feature = "pages")]
        pub mod page {
            pub use crate::export::page::{BITS, Entry, Page, html, write};
        }
        #[cfg(feature = "pictures")]
        pub mod picture {
            pub use crate::export::picture::{Version, Versions};
        }
        pub mod notes {
            pub use crate::export::notes::written;
        }
        pub mod tablature {
            pub use crate::export::tablature::on_the_grid;
        }
        pub mod wav {
            pub use crate::export::wav::write;
        }
    }
    pub mod files {
        pub use crate::files::Refused;
    }
    pub mod harmony {
        pub use crate::harmony::{Chord, DegreeWord, Key, Note, Spelling, Symbol, Voicing, name_chord, voicings};
    }
    pub mod kit {
        pub use crate::kit::audio::decode::{Container, decode, decode_from};
        pub use crate::kit::audio::pitch::listen;
        pub use crate::kit::audio::resampling::{repitch, resample};
        pub use crate::kit::{Decided, GUESS, Kit, Reading, load_file, read_name};
    }
    #[cfg(feature = "cli")]
    pub mod listening {
        pub use crate::listening::{as_far, at_least, holm, over_average, strengths};
    }
    pub mod loopfile {
        pub use crate::loopfile::{
            Bell, Casting, Changes, Compress, Delay, Draft, Drive, Duck, Form, Given, Loop, LoopDraft, Mark,
            PITCHED_MARKS, Part, Room, Strip, read,
        };
    }
    pub mod measure {
        pub use crate::measure::{Energies, figures, loudness, true_peak_db};
    }
    pub mod midi {
        pub use crate::midi::*;
    }
    pub mod mix {
        pub use crate::mix::spaces::{convolution, delay, room};
        pub use crate::mix::strip::{Channel, SideChain};
        pub use crate::mix::{
            Ceiling, Compressor, Curve, Ducker, Effect, Effort, Eq, Filter, Follower, LONGEST_RUN_IN, Saturator,
            Spread, Width,
        };
    }
    pub mod render {
        pub use crate::render::{render, render_form_sharing, render_sharing};
        pub use crate::render_cache::RenderCache;
    }
    pub mod schema {
        pub use crate::schema::Table;
    }
    pub mod score {
        pub use crate::score::{FARTHEST, pitched, write, write_form};
    }
    pub mod sound {
        pub use crate::sound::{Bank, Extent, Player, Rounds};
    }
    #[cfg(feature = "cli")]
    pub mod starter {
        pub use crate::starter::*;
    }
    pub mod wav {
        pub use crate::wav::{Coding, Decoded, Tags, WavError, Writer, head, head_from, read, read_from};
    }
}
