//! The reading of hits: tablature, even rhythms, counted lists and borrowed lines become [`Stroke`]s at exact places.
//!
//! A part's lines are laid over the loop's bars in the order of the file, so that later lines replace earlier ones bar
//! by bar. The bars that a line is given are taken in the order of time: a line of n bars plays its first bar on the
//! first of them, its second on the second, and so on from its first again, wherever in the loop they stand. Two bars
//! written for `4,8` play one on bar 4 and the other on bar 8.
//!
//! - In: a part's lines with the bars that they are for, the pieces that its marks play, and the loop's time.
//! - Out: a [`ReadPart`] a part, its strokes in the order of time; the band's accents; hints at bars that are uneven.
//! - It knows nothing of velocities after swing, drift or chance, of pitches, and of a kit.

pub(crate) mod accents;
mod assemble;
mod bars;
mod borrow;
mod braces;
mod counted;
mod even;
mod grid;
mod line;
mod marks;
mod reading;
mod swell;
mod tablature;
#[cfg(test)]
pub(in crate::loopfile) mod tests;
pub(crate) mod uneven_bars;

use std::collections::BTreeMap;

use accents::Accent;

use super::limits::{MOST_BARS, MOST_STROKES};
use super::{Exact, HitPart, Stroke, Time, Words};
use crate::schema::Play;
use crate::text::Problem;

pub(super) use bars::{ranges, read as read_bars};
pub(super) use borrow::is_borrowed;
pub(super) use braces::{Item, items};
pub(crate) use counted::syllable_at;
pub(super) use counted::{CountedWords, counted};
pub(super) use even::is_even;
pub(super) use reading::Marked;
pub(super) use swell::Swells;
pub(super) use tablature::measures;

use grid::Grid;
use line::Line;
use marks::Vocabulary;
use reading::Reading;

/// The most bars that all parts together may have.
const MOST_CELLS: usize = 4_000_000;

/// A part's hits, read.
#[derive(Debug, Clone)]
pub(crate) struct ReadPart {
    /// The pieces that its strokes play, as the file names them: the part's own first, then those that its other marks
    /// ask for, in the order in which they first play. Pieces that no stroke plays are left out.
    pub pieces: Vec<Words>,
    /// What it plays, in the order of time; strokes at one time stand in the order of the file.
    pub strokes: Vec<Stroke>,
    /// The bars that no line names, counted from 1.
    pub unnamed_bars: Vec<u32>,
    /// The places of the band's accents that are meant for it.
    pub accents: BTreeMap<Exact, Accent>,
}

/// Reads the hits of all parts of a loop of `bars` bars: one answer a part, in the order of `parts`.
///
/// Whatever is wrong goes into `problems`, and what is wrong is silent in the answer. A loop with more bars than
/// [`MOST_BARS`], more marks in a bar than [`MOST_MARKS`] or more strokes than [`MOST_STROKES`] is a problem too, found
/// before memory is asked for.
pub(crate) fn read(parts: &[HitPart], time: &Time, bars: u32, problems: &mut Vec<Problem>) -> Vec<ReadPart> {
    if let Some(problem) = too_large(parts, bars) {
        problems.push(problem);
        return parts.iter().map(silent).collect();
    }
    let vocabularies: Vec<Vocabulary> = parts.iter().map(|part| Vocabulary::new(part, problems)).collect();
    let mut grid = Grid::new(parts.len(), bars);
    let mut reading = Reading::new(parts, time, bars, problems);
    let mut lines: Vec<Vec<Line>> = Vec::with_capacity(parts.len());
    for (number, part) in parts.iter().enumerate() {
        let mut read = Vec::with_capacity(part.lines.len());
        for written in &part.lines {
            let line = line::read(written, &vocabularies[number], &mut reading);
            if let Some(given) = bars::read(&written.bars, bars, reading.problems) {
                grid.lay(number, read.len(), &given, &line);
                grid.lay_swell(number, &given, written.swell);
            }
            read.push(line);
        }
        lines.push(read);
    }
    let unnamed: Vec<Vec<u32>> = (0..parts.len()).map(|part| grid.unnamed(part)).collect();
    grid.settle(parts, problems);
    assemble::assemble(parts, &vocabularies, &lines, &grid, problems)
        .into_iter()
        .zip(unnamed)
        .map(|((pieces, strokes), unnamed_bars)| ReadPart {
            pieces,
            strokes,
            unnamed_bars,
            accents: BTreeMap::new(),
        })
        .collect()
}

/// Reads a line of comping as tablature, or as a list that counts aloud: its bars, none where anything is wrong in it.
pub(super) fn comping(play: &Play, time: &Time, bars: u32, problems: &mut Vec<Problem>) -> Vec<Vec<Marked>> {
    let mut reading = Reading::new(&[], time, bars, problems);
    let vocabulary = Vocabulary::of_comping();
    match play {
        Play::Line(line) => tablature::read(line, &vocabulary, &mut reading),
        Play::Counted(strikes) => counted::read(strikes, &vocabulary, &mut reading).into_iter().collect(),
    }
}

fn too_large(parts: &[HitPart], bars: u32) -> Option<Problem> {
    if bars > MOST_BARS {
        Some(Problem::new(format!(
            "the loop has {bars} bars; hits are read for {MOST_BARS} at most"
        )))
    } else if parts.len().saturating_mul(bars as usize) > MOST_CELLS {
        let parts = parts.len();
        Some(Problem::new(format!(
            "{parts} parts of {bars} bars each are more than one loop can hold"
        )))
    } else {
        None
    }
}

fn silent(part: &HitPart) -> ReadPart {
    ReadPart {
        pieces: vec![part.piece.clone()],
        strokes: Vec::new(),
        unnamed_bars: Vec::new(),
        accents: BTreeMap::new(),
    }
}

/// A whole number in figures; one too large to hold is as large as can be.
fn figure(text: &str) -> Option<u32> {
    let figures = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    figures.then(|| text.parse().unwrap_or(u32::MAX))
}
