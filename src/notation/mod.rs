//! Written music: a loop or a form as staves, bars, voices and note values.
//!
//! - In: a `Loop` or a `Form`.
//! - Out: a [`Sheet`], which `export` writes as MusicXML and draws as staves.
//! - The way: performances come on the `grid`; `staves` tells which part stands where, by `spelling` and `drums`, and on how many
//!   staves, by `hands`; `measures` cuts that into bars, `rhythm` gives it values by the bar's `metre` and its `tuplets`; `fold`
//!   finds repeats. `lead` is the staff of a lead sheet, with the band's `accents`.
//! - It knows nothing of samples, files and how things are drawn.

mod accents;
mod drums;
mod feel;
mod fold;
mod grid;
mod hands;
mod lead;
mod line;
mod measures;
mod metre;
mod read;
mod rhythm;
mod sheet;
mod sounding;
mod spelling;
mod staves;
mod transposed;
mod tuplets;
mod value;

pub(crate) use grid::gridded;
pub use grid::on_the_grid;
pub(crate) use lead::lead;
pub(crate) use read::{Asked, of_form, of_loop};
pub(crate) use sheet::*;
pub(crate) use transposed::Instrument;
pub(crate) use value::drawn;
