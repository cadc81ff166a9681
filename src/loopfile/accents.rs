//! `[accents]`: what the whole band, or some of it, plays harder.

use std::collections::BTreeSet;

use super::gather::Accent;
use super::hits::{self, ReadPart};
use super::{Exact, Stroke, Time, Words, WrittenPart};
use crate::text::Problem;

/// What an accent makes of a velocity: as much as `X` is over `x`. No velocity goes past 127.
const RAISED: f64 = 118.0 / 96.0;

/// Reads the hits of all parts, with the band's accents on them.
///
/// Accents are read as a part's hits are, so everything that can be written there can be written here. Each line is
/// read by itself: a bar has the accents of the last line that names it, for that line's parts.
pub(super) fn read_with(
    accents: &[Accent],
    mut parts: Vec<WrittenPart>,
    time: &Time,
    bars: u32,
    problems: &mut Vec<Problem>,
) -> Vec<ReadPart> {
    let count = parts.len();
    let names: Vec<String> = parts.iter().map(|part| part.name.text.clone()).collect();
    parts.extend(accents.iter().map(line_alone));
    let mut read = hits::read(&parts, time, bars, problems);
    let lines = read.split_off(count);
    let mut last: Vec<Option<usize>> = vec![None; bars as usize];
    for (number, line) in lines.iter().enumerate() {
        let unnamed: BTreeSet<u32> = line.unnamed_bars.iter().copied().collect();
        for (bar, last) in last.iter_mut().enumerate() {
            if !unnamed.contains(&(bar as u32 + 1)) {
                *last = Some(number);
            }
        }
    }
    for (number, line) in lines.iter().enumerate() {
        let heard = |at: &Exact| last.get(at.to_integer() as usize) == Some(&Some(number));
        let places: BTreeSet<Exact> = line.strokes.iter().map(|stroke| stroke.at).filter(heard).collect();
        for (part, name) in read.iter_mut().zip(&names) {
            let meant = |parts: &Vec<Words>| parts.iter().any(|part| part.text == *name);
            if accents[number].parts.as_ref().is_none_or(meant) {
                part.accents.extend(&places);
            }
        }
    }
    for part in &mut read {
        raise(&mut part.strokes, &part.accents);
    }
    read
}

/// Accents what stands on some places.
pub(super) fn raise(strokes: &mut [Stroke], places: &BTreeSet<Exact>) {
    let meant = strokes.iter_mut().filter(|stroke| places.contains(&stroke.at));
    meant.for_each(|stroke| stroke.scale *= RAISED);
}

/// A part without a name, which nothing can borrow from, that plays one line of accents.
fn line_alone(accent: &Accent) -> WrittenPart {
    let bars = &accent.line.bars;
    let nobody = bars.part(0..0);
    WrittenPart {
        name: nobody.clone(),
        piece: nobody,
        marks: Vec::new(),
        changed_marks: Vec::new(),
        lines: vec![accent.line.clone()],
    }
}
