//! One bar of a chart: its grid, its rows, and how wide they are.

use super::above::{self, Sign};
use super::cell::Cell;
use super::grid;
use super::line::{ChartLine, Lateness};
use crate::loopfile::Loop;
use crate::text::width::{columns as length, padded};

/// Whose a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Whose {
    /// The band's accents, by the first of the loop's lines that is for the same parts.
    Accents(usize),
    /// The counts'.
    Counts,
    /// A part's marks.
    Marks(usize),
    /// How far a part's hits lie from the grid.
    Feel(usize),
}

impl Whose {
    /// True for rows in which a rest is written where nothing is.
    pub(super) fn rests(self) -> bool {
        matches!(self, Whose::Marks(_) | Whose::Accents(_))
    }
}

/// A line of a bar.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row {
    pub whose: Whose,
    /// One cell a count.
    pub cells: Vec<Cell>,
}

/// A bar, ready to be printed; two that look the same are equal.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Measure {
    /// Steps of a count.
    pub division: u32,
    /// The first count that it shows.
    pub first_count: u32,
    /// The chords above it.
    pub signs: Vec<Sign>,
    /// The accents', the counts', then the parts' that play.
    pub rows: Vec<Row>,
}

/// How bars are to be drawn.
#[derive(Clone, Copy)]
pub(super) struct Look<'a> {
    /// A deviation for each stroke of each part, where they are asked for.
    pub feel: Option<&'a Lateness>,
    /// The columns that a bar may take.
    pub room: usize,
}

impl Measure {
    /// A bar of a loop, counted from 0, on a grid of so many steps a count.
    pub(super) fn of(song: &Loop, bar: u32, division: u32, look: Look<'_>) -> Measure {
        let wide = Measure::drawn(song, bar, division, look.feel, false);
        let fits = |count: usize| wide.piece(count, count + 1).width() <= look.room;
        if (0..wide.counts()).all(fits) {
            return wide;
        }
        Measure::drawn(song, bar, division, look.feel, true)
    }

    fn drawn(song: &Loop, bar: u32, division: u32, feel: Option<&Lateness>, narrow: bool) -> Measure {
        let counts = 0..song.time.counts;
        let row = |whose: Whose, line: &ChartLine| Row {
            whose,
            cells: counts
                .clone()
                .map(|count| line.cell(count, division, matches!(whose, Whose::Feel(_))))
                .collect(),
        };
        let said = |count: u32| {
            let steps = (0..division).map(|step| grid::syllable(count + 1, step, division));
            Cell::Steps(steps.collect())
        };
        let accents = above::accents(song, bar);
        let mut rows: Vec<Row> = accents
            .iter()
            .map(|(number, places)| row(Whose::Accents(*number), &ChartLine::of_accents(places)))
            .collect();
        rows.push(Row {
            whose: Whose::Counts,
            cells: counts.clone().map(said).collect(),
        });
        for line in ChartLine::of(song, bar, feel, narrow) {
            rows.push(row(Whose::Marks(line.part), &line));
            rows.extend(feel.map(|_| row(Whose::Feel(line.part), &line)));
        }
        Measure {
            division,
            first_count: 0,
            signs: above::signs(song, bar, division),
            rows,
        }
    }

    /// True where some part plays.
    pub(super) fn sounds(&self) -> bool {
        self.rows.iter().any(|row| matches!(row.whose, Whose::Marks(_)))
    }

    fn counts(&self) -> usize {
        self.rows.first().map_or(0, |row| row.cells.len())
    }

    /// Columns of each step, count by count.
    fn columns(&self) -> Vec<Vec<usize>> {
        let mut columns = vec![vec![1; self.division as usize]; self.counts()];
        for (count, columns) in columns.iter_mut().enumerate() {
            for row in &self.rows {
                if let Cell::Steps(texts) = &row.cells[count] {
                    columns
                        .iter_mut()
                        .zip(texts)
                        .for_each(|(column, text)| *column = (*column).max(length(text)));
                }
            }
            for row in &self.rows {
                let room = columns.iter().sum::<usize>() + columns.len() - 1;
                if let (Cell::Whole(text), Some(last)) = (&row.cells[count], columns.last_mut()) {
                    *last += length(text).saturating_sub(room);
                }
            }
        }
        self.widen(&mut columns);
        columns
    }

    /// Makes room for the chords: each has the columns up to the next one, and a space between. What a symbol needs
    /// more is spread over its steps, so that they stay even.
    fn widen(&self, columns: &mut [Vec<usize>]) {
        let all = self.counts() * self.division as usize;
        for (number, sign) in self.signs.iter().enumerate() {
            let from = self.step_of(sign);
            let next = self.signs.get(number + 1).map_or(all, |next| self.step_of(next));
            let steps = from..next.min(all);
            let column = |step: usize| (step / self.division as usize, step % self.division as usize);
            let have: usize = steps
                .clone()
                .map(|step| columns[column(step).0][column(step).1] + 1)
                .sum();
            let longest = sign.tones.iter().map(|tone| length(tone)).max().unwrap_or(0);
            let lacking = (length(&sign.symbol).max(longest) + 1).saturating_sub(have);
            for step in steps.cycle().take(lacking) {
                columns[column(step).0][column(step).1] += 1;
            }
        }
    }

    /// The step of this piece of a bar over which a chord stands.
    fn step_of(&self, sign: &Sign) -> usize {
        ((sign.count - self.first_count) * self.division + sign.step) as usize
    }

    /// Columns in all.
    pub(super) fn width(&self) -> usize {
        self.columns()
            .iter()
            .flatten()
            .map(|column| column + 1)
            .sum::<usize>()
            .saturating_sub(1)
    }

    /// A row's text, as wide as the bar; rests where the bar has no such row.
    pub(super) fn text(&self, whose: Whose) -> String {
        let rest = if whose.rests() { "-".into() } else { String::new() };
        let rest = Cell::Steps(vec![rest; self.division as usize]);
        let row = self.rows.iter().find(|row| row.whose == whose);
        let mut texts = Vec::new();
        for (count, columns) in self.columns().iter().enumerate() {
            match row.map_or(&rest, |row| &row.cells[count]) {
                Cell::Steps(steps) => {
                    texts.extend(steps.iter().zip(columns).map(|(text, column)| padded(text, *column)))
                }
                Cell::Whole(text) => texts.push(padded(text, columns.iter().sum::<usize>() + columns.len() - 1)),
            }
        }
        texts.join(" ")
    }

    /// The line of its chord symbols.
    pub(super) fn symbols(&self) -> String {
        let mut line = String::new();
        for (column, _, sign) in self.places() {
            line = format!("{}{}", padded(&line, column), sign.symbol);
        }
        line
    }

    /// The lines of its chords' tones, each chord's under its symbol, in as many lines as they need.
    pub(super) fn tones(&self) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for (column, room, sign) in self.places() {
            let mut texts: Vec<String> = Vec::new();
            for tone in &sign.tones {
                match texts.last_mut() {
                    Some(text) if length(text) + 1 + length(tone) <= room => text.push_str(&format!(" {tone}")),
                    _ => texts.push(tone.clone()),
                }
            }
            lines.resize(lines.len().max(texts.len()), String::new());
            for (line, text) in lines.iter_mut().zip(texts) {
                *line = format!("{}{text}", padded(line, column));
            }
        }
        lines
    }

    /// Its chords, each with its first column and the columns up to the next one's space.
    fn places(&self) -> Vec<(usize, usize, &Sign)> {
        let columns: Vec<usize> = self.columns().into_iter().flatten().collect();
        let begins = |step: usize| {
            columns[..step.min(columns.len())]
                .iter()
                .map(|column| column + 1)
                .sum::<usize>()
        };
        let place = |(number, sign): (usize, &'_ Sign)| {
            let from = begins(self.step_of(sign));
            let next = self
                .signs
                .get(number + 1)
                .map_or(columns.len(), |next| self.step_of(next));
            (from, begins(next).saturating_sub(from + 1))
        };
        let signs = self.signs.iter().enumerate();
        signs
            .map(|(number, sign)| {
                let (from, room) = place((number, sign));
                (from, room, sign)
            })
            .collect()
    }

    /// Some of its counts.
    fn piece(&self, from: usize, to: usize) -> Measure {
        let within = |sign: &&Sign| (from..to).contains(&(sign.count as usize));
        Measure {
            division: self.division,
            first_count: from as u32,
            signs: self.signs.iter().filter(within).cloned().collect(),
            rows: self
                .rows
                .iter()
                .map(|row| Row {
                    whose: row.whose,
                    cells: row.cells[from..to].to_vec(),
                })
                .collect(),
        }
    }

    /// The bar in pieces of whole counts, none wider than so many columns where that can be.
    pub(super) fn split(self, most: usize) -> Vec<Measure> {
        let mut pieces: Vec<Measure> = Vec::new();
        let counts = self.counts();
        let mut from = 0;
        while from < counts {
            let fits = |to: &usize| self.piece(from, *to).width() <= most;
            let to = (from + 2..=counts).take_while(fits).last().unwrap_or(from + 1);
            pieces.push(self.piece(from, to));
            from = to;
        }
        pieces
    }
}

/// The division of the counts that suits a bar best; none where nothing plays.
pub(super) fn division(song: &Loop, bar: u32) -> Option<u32> {
    let lines = ChartLine::of(song, bar, None, false);
    let needs: Vec<u32> = lines.iter().flat_map(|line| line.needs(song.time.counts)).collect();
    (!needs.is_empty()).then(|| grid::division(&needs))
}
