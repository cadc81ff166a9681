//! The bars of all parts, and the line that plays in each.

use std::collections::BTreeSet;

use super::line::Line;
use super::swell::Swells;
use crate::loopfile::{Exact, HitPart};
use crate::schema::Play;
use crate::text::Problem;

/// What one bar of one part plays. Numbers fit 32 bits, since a grid has few million cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cell {
    /// No line names the bar.
    Unnamed,
    /// Nothing.
    Silent,
    /// A bar of a line, the nth, counted from the first again after the last.
    Line { part: u32, line: u32, nth: u32 },
    /// What another bar plays; which line says so.
    As { part: u32, bar: u32, line: u32 },
    /// Its borrowing is just being followed.
    Followed,
}

/// The bars of all parts.
pub(crate) struct Grid {
    bars: usize,
    cells: Vec<Cell>,
    swells: Swells,
}

impl Grid {
    /// Bars that no line names yet.
    pub(super) fn new(parts: usize, bars: u32) -> Grid {
        Grid {
            bars: bars as usize,
            cells: vec![Cell::Unnamed; parts * bars as usize],
            swells: Swells::default(),
        }
    }

    /// The bars of a part.
    pub(super) fn part(&self, part: usize) -> &[Cell] {
        &self.cells[part * self.bars..(part + 1) * self.bars]
    }

    /// Lays a part's line over the bars that it is given, in place of what lay there.
    pub(super) fn lay(&mut self, part: usize, line: usize, given: &[u32], read: &Line) {
        for (&bar, nth) in given.iter().zip(0u32..) {
            let cell = match read {
                Line::Bars(_) => Cell::Line {
                    part: part as u32,
                    line: line as u32,
                    nth,
                },
                Line::Borrowed(borrowed) => {
                    let bar = match &borrowed.bars {
                        Some(bars) => bars[nth as usize % bars.len()],
                        None => bar,
                    };
                    Cell::As {
                        part: borrowed.part as u32,
                        bar,
                        line: line as u32,
                    }
                }
            };
            self.cells[part * self.bars + bar as usize] = cell;
        }
    }

    /// Lays a swell over the bars that a part's line was given.
    pub(super) fn lay_swell(&mut self, part: usize, given: &[u32], swell: Option<(f64, f64)>) {
        self.swells.lay(part * self.bars, given, swell);
    }

    /// What a swell makes of a part's velocities at a place within a bar, counted from 0.
    pub(super) fn swell(&self, part: usize, bar: usize, within: Exact) -> f64 {
        self.swells.scale(part * self.bars + bar, within)
    }

    /// The bars of a part that no line names, counted from 1.
    pub(super) fn unnamed(&self, part: usize) -> Vec<u32> {
        let cells = self.part(part).iter().zip(1u32..);
        cells
            .filter(|(cell, _)| **cell == Cell::Unnamed)
            .map(|(_, bar)| bar)
            .collect()
    }

    /// Follows all borrowing to the lines where it ends, so that no cell borrows any more.
    pub(super) fn settle(&mut self, parts: &[HitPart], problems: &mut Vec<Problem>) {
        let mut told = BTreeSet::new();
        let mut path: Vec<Borrowing> = Vec::new();
        for start in 0..self.cells.len() {
            let mut at = start;
            while let Cell::As { part, bar, line } = self.cells[at] {
                path.push(Borrowing {
                    cell: at,
                    line: line as usize,
                });
                self.cells[at] = Cell::Followed;
                at = part as usize * self.bars + bar as usize;
            }
            let mut ends = self.cells[at];
            if ends == Cell::Followed {
                let circle = path.iter().position(|borrowing| borrowing.cell == at).unwrap_or(0);
                self.tell_circle(&path[circle..], parts, &mut told, problems);
                ends = Cell::Silent;
            }
            // A bar that borrows swells as the one it borrows from, unless it has a swell of its own.
            let mut swell = self.swells.at(at);
            for borrowing in path.drain(..).rev() {
                self.cells[borrowing.cell] = ends;
                swell = self.swells.at(borrowing.cell).or(swell);
                if let Some(swell) = swell {
                    self.swells.set(borrowing.cell, swell);
                }
            }
        }
    }

    /// Says once for each line that it borrows in a circle.
    fn tell_circle(
        &self,
        circle: &[Borrowing],
        parts: &[HitPart],
        told: &mut BTreeSet<(usize, usize)>,
        problems: &mut Vec<Problem>,
    ) {
        let part_of = |borrowing: &Borrowing| borrowing.cell / self.bars;
        let mut new = true;
        for borrowing in circle {
            new &= told.insert((part_of(borrowing), borrowing.line));
        }
        let (true, Some(first)) = (new, circle.first()) else {
            return;
        };
        let part = &parts[part_of(first)];
        let Play::Line(line) = &part.lines[first.line].play else {
            return;
        };
        let (name, bar) = (&part.name.text, first.cell % self.bars + 1);
        let what = match circle {
            [_] => format!("bar {bar} of `{name}` plays as itself"),
            [_, second, ..] => {
                let (other, other_bar) = (&parts[part_of(second)].name.text, second.cell % self.bars + 1);
                format!(
                    "bar {bar} of `{name}` plays as bar {other_bar} of `{other}`, which comes back to it in a circle"
                )
            }
            [] => return,
        };
        let place = line.place(crate::text::trimmed(&line.text, 0..line.text.len()));
        problems.push(Problem::at(&place, what).help("write the marks of one of them out"));
    }
}

/// A step on the way from a bar to the line that it plays in the end.
struct Borrowing {
    cell: usize,
    line: usize,
}
