//! The columns of bars that stand side by side: one place of the bar has the same columns in each of them.

use std::ops::Range;

use super::cell::Cell;
use super::measure::{Measure, Row, Whose};
use crate::text::width::columns;

/// What stands between two beats whose marks stand close together.
const CLOSE: &str = " ";
/// What stands between two beats in which marks stand apart.
const SPACED: &str = "  ";
/// What stands between two beats in which there are words.
const APART: &str = "┊";
/// Where a note goes on.
const HELD: &str = "=";
/// Where nothing plays.
const REST: &str = "-";

/// The columns of a system.
pub(super) struct Columns {
    /// For each count its grids, by their steps: the columns of each step.
    counts: Vec<Vec<Vec<usize>>>,
    /// For each count whether a beat ends with it and another follows.
    ends: Vec<bool>,
    /// What stands between two beats.
    gap: &'static str,
}

impl Columns {
    /// The columns that bars of one metre need, of which some rows are shown; with so many counts a beat.
    pub(super) fn of(measures: &[&Measure], shown: &dyn Fn(Whose) -> bool, beat: u32) -> Columns {
        let (first, all) = measures
            .first()
            .map_or((0, 0), |one| (one.first_count, one.divisions.len()));
        let rows = |measure: &'_ Measure| measure.rows.iter().any(|row| shown(row.whose));
        let narrowest = usize::from(measures.iter().any(|measure| rows(measure)));
        let grids = |count: usize| {
            let mut steps: Vec<usize> = measures
                .iter()
                .map(|measure| measure.divisions[count] as usize)
                .collect();
            steps.sort_unstable();
            steps.dedup();
            steps.into_iter().map(|steps| vec![narrowest; steps]).collect()
        };
        let ends = |count: usize| count + 1 < all && (first + count + 1).is_multiple_of(beat as usize);
        let mut columns = Columns {
            counts: (0..all).map(grids).collect(),
            ends: (0..all).map(ends).collect(),
            gap: "",
        };
        for measure in measures {
            for row in measure.rows.iter().filter(|row| shown(row.whose)) {
                (0..all).for_each(|count| columns.make_room(measure, row, count));
            }
        }
        // Rows that are not shown have a say here: a bar was cut to fit with all of them, and marks apart take more room.
        let words = |row: &Row| row.whose != Whose::Counts && row.cells.iter().any(Cell::has_words);
        columns.gap = match narrowest {
            0 => "",
            _ if !columns.has_spaces() => CLOSE,
            _ if measures.iter().any(|measure| measure.rows.iter().any(words)) => APART,
            _ => columns.space_out(),
        };
        if columns.gap == APART {
            for (measure, row) in measures.iter().filter_map(|one| Some((one, one.row(Whose::Counts)?))) {
                (0..all).for_each(|count| columns.make_room(measure, row, count));
            }
        }
        columns.even();
        for measure in measures {
            columns.make_room_above(measure);
        }
        columns
    }

    /// Widens a count's steps to what a row has there.
    fn make_room(&mut self, measure: &Measure, row: &Row, count: usize) {
        let next = row.cells.get(count + 1).filter(|_| !self.ends[count]);
        let next = next.map(|cell| match cell {
            Cell::Steps(texts) => texts.first().map_or("", String::as_str),
            Cell::Whole(text) => text,
        });
        let gap = self.gap;
        let apart = |text: &str, next: Option<&str>| {
            let next = next.unwrap_or(HELD);
            let words = match row.whose {
                Whose::Feel(_) => true,
                // Of numbers alone it is not clear where one ends. Where marks stand apart, they do, too.
                Whose::Counts => gap == APART && next.starts_with(|sign: char| sign.is_ascii_digit()),
                _ => text != REST,
            };
            let long = columns(text) > 1 || columns(next) > 1 || matches!(row.whose, Whose::Feel(_));
            usize::from(words && long && ![HELD, REST, ""].contains(&next))
        };
        let steps = self.steps_mut(measure, count);
        match &row.cells[count] {
            Cell::Whole(text) => {
                let lacking = (columns(text) + apart(text, next)).saturating_sub(steps.iter().sum());
                steps.last_mut().into_iter().for_each(|last| *last += lacking);
            }
            Cell::Steps(texts) => {
                for (from, text) in texts
                    .iter()
                    .enumerate()
                    .filter(|(_, text)| ![HELD, ""].contains(&text.as_str()))
                {
                    // A word may lie over what is held of its note.
                    let over = texts[from + 1..]
                        .iter()
                        .take_while(|text| [HELD, ""].contains(&text.as_str()));
                    let to = from + 1 + over.count();
                    let next = texts.get(to).map(String::as_str).or(next);
                    widen(&mut steps[from..to], columns(text) + apart(text, next));
                }
            }
        }
    }

    /// True where some step within a beat is wider than a mark.
    fn has_spaces(&self) -> bool {
        self.counts.iter().enumerate().any(|(count, grids)| {
            let last = self.ends[count] || count + 1 == self.counts.len();
            grids.iter().any(|steps| {
                let within = steps.len() - usize::from(last);
                steps[..within].iter().any(|step| *step > 1)
            })
        })
    }

    /// Puts a space behind every step within a beat, so that each mark can be read, and written, by itself.
    fn space_out(&mut self) -> &'static str {
        let all = self.counts.len();
        for (count, grids) in self.counts.iter_mut().enumerate() {
            let last = self.ends[count] || count + 1 == all;
            for steps in grids {
                let within = steps.len() - usize::from(last);
                steps[..within].iter_mut().for_each(|step| *step += 1);
            }
        }
        SPACED
    }

    /// Makes a count equally wide on all its grids.
    fn even(&mut self) {
        for grids in &mut self.counts {
            let widest = grids.iter().map(|steps| steps.iter().sum::<usize>()).max();
            for steps in grids {
                let lacking = widest.unwrap_or(0) - steps.iter().sum::<usize>();
                steps.last_mut().into_iter().for_each(|last| *last += lacking);
            }
        }
    }

    /// Makes room for a bar's chords: each has the columns up to the next one, and a space between. What a symbol
    /// needs more stands behind its counts, so that the marks of a beat stay together.
    fn make_room_above(&mut self, measure: &Measure) {
        for number in 0..measure.signs.len() {
            let (_, room) = self.place_above(measure, number);
            let sign = &measure.signs[number];
            let longest = sign.tones.iter().map(|tone| columns(tone)).max().unwrap_or(0);
            let apart = usize::from(number + 1 < measure.signs.len());
            let lacking = (columns(&sign.symbol).max(longest) + apart).saturating_sub(room);
            let first = sign.count as usize - measure.first_count;
            let next = measure.signs.get(number + 1);
            let last = next.map_or(self.counts.len(), |next| next.count as usize - measure.first_count);
            match next.filter(|_| last == first) {
                Some(next) => self.steps_mut(measure, first)[next.step as usize - 1] += lacking,
                None => {
                    for count in (first..last).cycle().take(lacking) {
                        let steps = self.steps_mut(measure, count);
                        steps.last_mut().into_iter().for_each(|last| *last += 1);
                    }
                }
            }
            self.even();
        }
    }

    fn steps_mut(&mut self, measure: &Measure, count: usize) -> &mut [usize] {
        let division = measure.divisions[count] as usize;
        let grid = self.counts[count].iter_mut().find(|steps| steps.len() == division);
        grid.expect("a bar's grids are among its system's")
    }

    /// Columns of a bar.
    pub(super) fn width(&self) -> usize {
        self.begins(self.counts.len())
    }

    /// The column at which a count begins.
    fn begins(&self, count: usize) -> usize {
        let counts = self.counts[..count].iter().zip(&self.ends);
        let width = |(grids, end): (&Vec<Vec<usize>>, &bool)| {
            let gap = if *end { columns(self.gap) } else { 0 };
            grids.first().map_or(0, |steps| steps.iter().sum()) + gap
        };
        counts.map(width).sum()
    }

    /// The columns of a step of a bar.
    fn step(&self, measure: &Measure, count: usize, step: usize) -> Range<usize> {
        let division = measure.divisions[count] as usize;
        let grid = self.counts[count].iter().find(|steps| steps.len() == division);
        let steps = grid.map_or(&[][..], Vec::as_slice);
        let from = self.begins(count) + steps[..step].iter().sum::<usize>();
        from..from + steps[step]
    }

    /// A row's text; rests where the bar has no such row.
    pub(super) fn text(&self, measure: &Measure, whose: Whose) -> String {
        let row = measure.row(whose);
        let feel = matches!(whose, Whose::Feel(_));
        let mut line = String::new();
        for count in 0..self.counts.len() {
            let rest = if feel { "" } else { REST };
            let rests = || Cell::Steps(vec![rest.into(); measure.divisions[count] as usize]);
            match row.map_or_else(rests, |row| row.cells[count].clone()) {
                Cell::Whole(text) => put(&mut line, self.begins(count), &text),
                Cell::Steps(texts) => {
                    for (step, text) in texts.iter().enumerate() {
                        let place = self.step(measure, count, step);
                        let taken = columns(&line);
                        // A word lies over what is held of its note.
                        if text == HELD && taken > place.start {
                            line.push_str(if taken < place.end { HELD } else { "" });
                        } else {
                            put(&mut line, place.start, text);
                        }
                    }
                }
            }
            if self.ends[count] && !feel {
                put(&mut line, self.begins(count + 1) - columns(self.gap), self.gap);
            }
        }
        line
    }

    /// The line of a bar's chord symbols.
    pub(super) fn symbols(&self, measure: &Measure) -> String {
        self.symbols_behind("", measure).unwrap_or_default()
    }

    /// The same behind what stands before the first chord; none where there is no room for both.
    pub(super) fn symbols_behind(&self, heading: &str, measure: &Measure) -> Option<String> {
        let mut line = heading.to_string();
        for (number, sign) in measure.signs.iter().enumerate() {
            let column = self.place_above(measure, number).0;
            if column > 0 && columns(&line) >= column {
                return None;
            }
            put(&mut line, column, &sign.symbol);
        }
        Some(line)
    }

    /// The lines of a bar's chords' tones, each chord's under its symbol, in as many lines as they need.
    pub(super) fn tones(&self, measure: &Measure) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for (number, sign) in measure.signs.iter().enumerate() {
            let (column, room) = self.place_above(measure, number);
            let room = room - usize::from(number + 1 < measure.signs.len());
            let mut texts: Vec<String> = Vec::new();
            for tone in &sign.tones {
                match texts.last_mut() {
                    Some(text) if columns(text) + 1 + columns(tone) <= room => text.push_str(&format!(" {tone}")),
                    _ => texts.push(tone.clone()),
                }
            }
            lines.resize(lines.len().max(texts.len()), String::new());
            for (line, text) in lines.iter_mut().zip(texts) {
                put(line, column, &text);
            }
        }
        lines
    }

    /// The column of one of a bar's chords, and the columns up to the next one.
    fn place_above(&self, measure: &Measure, number: usize) -> (usize, usize) {
        let begins = |number: usize| {
            let sign = measure.signs.get(number)?;
            Some(
                self.step(measure, sign.count as usize - measure.first_count, sign.step as usize)
                    .start,
            )
        };
        let from = begins(number).unwrap_or(0);
        let room = match begins(number + 1) {
            Some(next) => next - from,
            None => self.width() - from,
        };
        (from, room)
    }
}

/// Widens steps, the narrowest first, until they take so many columns.
fn widen(steps: &mut [usize], need: usize) {
    while steps.iter().sum::<usize>() < need {
        let narrowest = steps.iter_mut().min_by_key(|step| **step);
        narrowest.into_iter().for_each(|step| *step += 1);
    }
}

/// Writes a text at a column of a line that ends before it.
fn put(line: &mut String, column: usize, text: &str) {
    let spaces = column.saturating_sub(columns(line));
    line.extend(std::iter::repeat_n(' ', spaces));
    line.push_str(text);
}
