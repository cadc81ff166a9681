//! A loop as it is charted: its bars in systems, what looks the same printed once, and what has no row told below.

use super::block::Block;
use super::line::{ChartLine, Standing, standings};
use super::measure::{self, Look, Measure};
use super::printed::Printed;
use super::system::{GAP, LONGEST_NAME, System};
use super::told::in_few_lines;
use super::{WIDTH, above, feel, fit, grid, takes, voices};
use crate::loopfile::{Exact, Loop, Part, Stroke};
use crate::score::{Score, spelled};
use crate::text::width::columns;

/// The marks that play a part's own piece.
const COMMON: &str = "xXgfFdDrRbBm3456789";
/// The most bars in a system; of those, equal ones stand once.
const MOST_BARS: [u32; 7] = [64, 32, 16, 8, 4, 2, 1];
/// The same in music whose phrases have three bars.
const MOST_BARS_OF_THREE: [u32; 4] = [12, 6, 3, 1];

/// A loop, ready to be charted.
#[derive(Clone)]
pub(super) struct Charted {
    song: Loop,
    feel: Option<Vec<Vec<Option<f64>>>>,
    standings: Vec<Standing>,
    /// The parts that have a row here.
    rows: Vec<bool>,
    /// The first and the last bar, counted from 1.
    bars: (u32, u32),
}

impl Charted {
    /// Some of a loop's bars; with a score also how far its hits lie from the grid.
    pub(super) fn new(song: &Loop, bars: (u32, u32), score: Option<&Score>) -> Charted {
        let feel = score.map(|score| feel::deviations(song, score));
        let (song, feel) = takes::apart(song, feel);
        let standings = standings(&song);
        Charted {
            rows: standings.iter().map(|standing| *standing == Standing::Row).collect(),
            standings,
            song,
            feel,
            bars,
        }
    }

    /// Leaves out the parts that play in all bars what another loop's part of the same name is printed to play there,
    /// and gives their names.
    pub(super) fn leave_out(&mut self, other: &Charted) -> Vec<String> {
        if !self.is_within(other) {
            return Vec::new();
        }
        let mut names = Vec::new();
        for (part, row) in self.rows.clone().into_iter().enumerate() {
            let name = &self.song.parts[part].name;
            let known = other.song.parts.iter().position(|part| part.name == *name);
            let Some(known) = known.filter(|known| row && other.standings[*known] == Standing::Row) else {
                continue;
            };
            let mut bars = self.bars.0 - 1..self.bars.1;
            let plays = bars.clone().any(|bar| self.line(part, bar).is_some());
            if plays && bars.all(|bar| self.line(part, bar) == other.line(known, bar)) {
                names.push(name.clone());
                self.rows[part] = false;
            }
        }
        names
    }

    /// True where no other part of another loop than these plays in its bars.
    pub(super) fn has_all_of(&self, parts: &[String], other: &Charted) -> bool {
        let plays = |part: usize| (self.bars.0 - 1..self.bars.1).any(|bar| other.line(part, bar).is_some());
        let rows = other.standings.iter().enumerate();
        let rows = rows.filter(|(_, standing)| **standing == Standing::Row);
        rows.into_iter()
            .all(|(part, _)| parts.contains(&other.song.parts[part].name) || !plays(part))
    }

    /// True where none of its parts has a row here.
    pub(super) fn is_empty(&self) -> bool {
        !self.rows.contains(&true)
    }

    /// True where another loop's chords stand at the same places of the same bars.
    pub(super) fn has_chords_of(&self, other: &Charted) -> bool {
        let counts = vec![1; self.song.time.counts as usize];
        let chords = |song: &Loop, bar: u32| above::signs(song, bar, &counts);
        let mut bars = self.bars.0 - 1..self.bars.1;
        self.is_within(other) && bars.all(|bar| chords(&self.song, bar) == chords(&other.song, bar))
    }

    /// True where its bars are among another's, and have the same metre.
    fn is_within(&self, other: &Charted) -> bool {
        let metre = |song: &Loop| (song.time.counts, song.time.unit);
        metre(&self.song) == metre(&other.song) && other.bars.0 <= self.bars.0 && self.bars.1 <= other.bars.1
    }

    /// What a part has in a bar, counted from 0.
    fn line(&self, part: usize, bar: u32) -> Option<ChartLine> {
        ChartLine::read(&self.song, part, bar, self.feel.as_deref(), false)
    }

    /// The bars, equal ones once, as many side by side as the page has room for, and what is told below.
    pub(super) fn lines(&self, tones: bool) -> Vec<String> {
        let names = self.names();
        let mut lines = Vec::new();
        let room = WIDTH - names - GAP;
        for mut system in self.systems(room) {
            // A chord's tones stand under it.
            if !tones {
                system = system.with_chords_in_line(room);
            }
            lines.extend(system.lines(&self.song, names, tones));
        }
        lines.extend(self.foot(tones));
        lines
    }

    fn systems(&self, room: usize) -> Vec<System> {
        let (first, last) = self.bars;
        let divisions: Vec<Option<u32>> = (first..=last)
            .map(|bar| measure::division(&self.song, bar - 1, &self.rows))
            .collect();
        let look = Look {
            rows: &self.rows,
            feel: self.feel.as_deref(),
            usual: usual(&divisions),
            room,
        };
        let beat = grid::beat(&self.song.time);
        let measures = self.measures(look);
        let length = last - first + 1;
        let lengths = match length.is_multiple_of(3) && !length.is_multiple_of(4) {
            true => &MOST_BARS_OF_THREE[..],
            false => &MOST_BARS[..],
        };
        let mut printed = Printed::default();
        let mut systems: Vec<System> = Vec::new();
        let mut done = 0;
        while done < length {
            for bars in lengths.iter().copied().filter(|bars| done.is_multiple_of(*bars)) {
                let begin = |(_, all): &&(Measure, Vec<u32>)| (first + done..first + done + bars).contains(&all[0]);
                let blocks: Vec<Block> = measures
                    .iter()
                    .filter(begin)
                    .map(|one| self.block(one, look.usual))
                    .collect();
                let system = System::new(blocks, &printed, room, beat);
                if bars > 1 && system.width() > room {
                    continue;
                }
                done += bars;
                let new = match system.width() > room {
                    true => split(system, &printed, room, beat),
                    false => vec![system],
                };
                new.iter()
                    .for_each(|system| printed.add(system.blocks(), &system.parts()));
                systems.extend(new.into_iter().filter(|system| !system.blocks().is_empty()));
                break;
            }
        }
        systems
    }

    /// The bars that differ, each with all bars that look like it.
    fn measures(&self, look: Look<'_>) -> Vec<(Measure, Vec<u32>)> {
        let mut measures: Vec<(Measure, Vec<u32>)> = Vec::new();
        for bar in self.bars.0..=self.bars.1 {
            let measure = fit::measure(&self.song, bar - 1, look);
            match measures.iter_mut().find(|(other, _)| *other == measure) {
                Some((_, bars)) => bars.push(bar),
                None => measures.push((measure, vec![bar])),
            }
        }
        measures
    }

    fn block(&self, (measure, bars): &(Measure, Vec<u32>), usual: u32) -> Block {
        let mut name = called(bars);
        if let Some(division) = measure.other_grid(usual) {
            name = format!("{name}, in {}", grid::note_value(division, &self.song.time));
        }
        Block {
            name,
            bars: bars.clone(),
            measure: measure.clone(),
        }
    }

    /// What is told of what has no row.
    pub(super) fn foot(&self, tones: bool) -> Vec<String> {
        let mut lines = if tones {
            voices::voicings(&self.song, self.bars)
        } else {
            Vec::new()
        };
        let named = |standing: Standing, name: &dyn Fn(&Part) -> String| {
            let parts = self.song.parts.iter().zip(&self.standings);
            let parts = parts
                .filter(|(_, other)| **other == standing)
                .map(|(part, _)| name(part));
            parts.collect::<Vec<_>>().join(", ")
        };
        let along = named(Standing::Along, &|part| {
            let pieces: Vec<&str> = part.pieces.iter().map(|piece| piece.piece.as_str()).collect();
            format!("{} ({})", part.name, pieces.join(", "))
        });
        let silent = named(Standing::Silent, &|part| part.name.clone());
        let mut told = self.elsewhere();
        for (what, names) in [("along with their parts", along), ("not heard", silent)] {
            told.extend((!names.is_empty()).then(|| format!("{what}: {names}")));
        }
        lines.extend(in_few_lines(told));
        lines
    }

    /// The bars in which parts play their marks on another piece than their own.
    fn elsewhere(&self) -> Vec<String> {
        let mut told = Vec::new();
        let rows = self.song.parts.iter().zip(&self.rows);
        for (part, _) in rows.filter(|(part, row)| **row && part.performance.is_none()) {
            for (number, played) in part.pieces.iter().enumerate().skip(1) {
                // A mark that all parts know plays the part's own piece, but in bars that change it.
                let moved = |stroke: &&Stroke| {
                    stroke.piece == number && (stroke.pitch.is_some() || COMMON.contains(stroke.mark))
                };
                let bar = |at: Exact| at.floor().to_integer() as u32 + 1;
                let mut bars: Vec<u32> = part.strokes.iter().filter(moved).map(|stroke| bar(stroke.at)).collect();
                bars.dedup();
                told.extend(
                    (!bars.is_empty())
                        .then(|| format!("{} plays on {} in {}", part.name, played.piece, spelled(&bars))),
                );
            }
        }
        told
    }

    /// Columns for the names of the rows.
    fn names(&self) -> usize {
        let rows = self.song.parts.iter().zip(&self.rows).filter(|(_, row)| **row);
        let longest = rows.map(|(part, _)| columns(&part.name)).max().unwrap_or(0);
        let accents = self
            .song
            .accents
            .iter()
            .map(|_| above::label(None).len())
            .max()
            .unwrap_or(0);
        longest.clamp(accents, LONGEST_NAME)
    }
}

/// A bar that is wider than the page, in systems of their own.
fn split(system: System, printed: &Printed, room: usize, beat: u32) -> Vec<System> {
    let mut systems = Vec::new();
    for block in system.blocks() {
        for measure in fit::split(&block.measure, room, beat) {
            let mut name = block.name.clone();
            if measure.first_count > 0 {
                name = format!("{name}, from count {}", measure.first_count + 1);
            }
            let piece = Block {
                name,
                bars: block.bars.clone(),
                measure,
            };
            systems.push(System::new(vec![piece], printed, room, beat));
        }
    }
    systems
}

/// Bars in words: `bar 3`, `bars 1-4, 8`; where many come at one distance, `every 2 bars from 1 to 31`.
fn called(bars: &[u32]) -> String {
    match bars {
        [first, second, .., last] if bars.len() > 4 && second - first > 1 => {
            let every = second - first;
            match bars.windows(2).all(|pair| pair[1] - pair[0] == every) {
                true => format!("every {every} bars from {first} to {last}"),
                false => spelled(bars),
            }
        }
        _ => spelled(bars),
    }
}

/// The grid that most bars need, the finest of those where as many need one or the other.
fn usual(divisions: &[Option<u32>]) -> u32 {
    let bars = |division: &u32| divisions.iter().filter(|other| **other == Some(*division)).count();
    (1..=8).max_by_key(bars).unwrap_or(1)
}
