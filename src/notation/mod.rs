//! Written music: a loop or a form as staves, bars, voices and note values.
//!
//! - In: a `Loop` or a `Form`.
//! - Out: a [`Sheet`], which `export` writes as MusicXML and draws as staves.
//! - It knows nothing of samples, files and how things are drawn.

mod sheet;

pub(crate) use sheet::*;
