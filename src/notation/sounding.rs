//! What sounds in a voice, before it has values.

use super::{Sign, WrittenNote};
use crate::loopfile::Exact;

/// What is played at one place of a voice, before it has a value.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Struck {
    /// Its notes.
    pub notes: Vec<WrittenNote>,
    /// The grace notes before it.
    pub graces: Vec<Vec<WrittenNote>>,
    /// Signs above it.
    pub signs: Vec<Sign>,
}

/// Something that sounds in a bar, from where to where, in whole notes from the barline.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sounding<'a> {
    pub from: Exact,
    pub to: Exact,
    pub struck: &'a Struck,
    /// True where it began in an earlier bar.
    pub before: bool,
    /// True where it goes on in the next bar.
    pub on: bool,
    /// True where it is written only as far as it goes without a tie: drums.
    pub short: bool,
}
