//! One bar of a chart: its grid, its rows, and how wide they are.

use super::grid;
use crate::loopfile::{Exact, Loop, Part, Stroke};

/// The most marks between two braces.
const MOST_FITTED: u32 = 16;
/// The most marks that one step shows.
const MOST_IN_STEP: usize = 8;

/// What a row has at one count.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// One text a step.
    Steps(Vec<String>),
    /// One text over all steps.
    Whole(String),
}

/// Whose a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose {
    /// The counts'.
    Counts,
    /// A part's marks.
    Marks(usize),
    /// How far a part's hits lie from the grid.
    Feel(usize),
}

/// A line of a bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    pub whose: Whose,
    /// One cell a count.
    pub cells: Vec<Cell>,
}

/// A bar, ready to be printed; two that look the same are equal.
#[derive(Debug, Clone, PartialEq)]
pub struct Measure {
    /// Steps of a count.
    pub division: u32,
    /// The first count that it shows.
    pub first_count: u32,
    /// The counts', then the parts' that play.
    pub rows: Vec<Row>,
}

/// A stroke's place within its count, its mark, and its deviation.
struct Placed {
    count: u32,
    within: Exact,
    mark: char,
    late: Option<f64>,
}

impl Measure {
    /// A bar of a loop, counted from 0, on a grid of so many steps a count; `feel` has a deviation for each stroke of each
    /// part.
    pub fn of(song: &Loop, bar: u32, division: u32, feel: Option<&[Vec<Option<f64>>]>) -> Measure {
        let counts = song.time.counts;
        let played = played(song, bar, feel);
        let need = |placed: &Vec<Placed>, count| grid::need(at(placed, count).map(|stroke| stroke.within));
        let said = |count: u32| {
            Cell::Steps(
                (0..division)
                    .map(|step| grid::syllable(count + 1, step, division))
                    .collect(),
            )
        };
        let mut rows = vec![Row {
            whose: Whose::Counts,
            cells: (0..counts).map(said).collect(),
        }];
        for (number, placed) in &played {
            let cells = |text: &dyn Fn(Option<&Placed>) -> String, feel: bool| -> Vec<Cell> {
                let cell = |count| {
                    cell(
                        &at(placed, count).collect::<Vec<_>>(),
                        need(placed, count),
                        division,
                        text,
                        feel,
                    )
                };
                (0..counts).map(cell).collect()
            };
            let mark = |stroke: Option<&Placed>| stroke.map_or("-".into(), |stroke| stroke.mark.to_string());
            rows.push(Row {
                whose: Whose::Marks(*number),
                cells: cells(&mark, false),
            });
            if feel.is_some() {
                rows.push(Row {
                    whose: Whose::Feel(*number),
                    cells: cells(&late, true),
                });
            }
        }
        Measure {
            division,
            first_count: 0,
            rows,
        }
    }

    /// True where some part plays.
    pub fn sounds(&self) -> bool {
        self.rows.len() > 1
    }

    /// Columns of each step, count by count.
    fn columns(&self) -> Vec<Vec<usize>> {
        let counts = self.rows.first().map_or(0, |row| row.cells.len());
        let mut columns = vec![vec![1; self.division as usize]; counts];
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
        columns
    }

    /// Columns in all.
    pub fn width(&self) -> usize {
        self.columns()
            .iter()
            .flatten()
            .map(|column| column + 1)
            .sum::<usize>()
            .saturating_sub(1)
    }

    /// A row's text, as wide as the bar; rests where the bar has no such row.
    pub fn text(&self, whose: Whose) -> String {
        let rest = Cell::Steps(vec![
            if matches!(whose, Whose::Marks(_)) {
                "-".into()
            } else {
                String::new()
            };
            self.division as usize
        ]);
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

    /// The bar in pieces of whole counts, none wider than so many columns where that can be.
    pub fn split(self, most: usize) -> Vec<Measure> {
        let mut pieces: Vec<Measure> = Vec::new();
        let counts = self.rows.first().map_or(0, |row| row.cells.len());
        let piece = |from: usize, to: usize| Measure {
            division: self.division,
            first_count: from as u32,
            rows: self
                .rows
                .iter()
                .map(|row| Row {
                    whose: row.whose,
                    cells: row.cells[from..to].to_vec(),
                })
                .collect(),
        };
        let mut from = 0;
        while from < counts {
            let fits = |to: &usize| piece(from, *to).width() <= most;
            let to = (from + 2..=counts).take_while(fits).last().unwrap_or(from + 1);
            pieces.push(piece(from, to));
            from = to;
        }
        pieces
    }
}

/// The division of the counts that suits a bar best; none where nothing plays.
pub fn division(song: &Loop, bar: u32) -> Option<u32> {
    let played = played(song, bar, None);
    let counts = played
        .iter()
        .flat_map(|(_, placed)| (0..song.time.counts).map(move |count| (placed, count)));
    let struck = counts.filter(|(placed, count)| at(placed, *count).next().is_some());
    let needs: Vec<u32> = struck
        .map(|(placed, count)| grid::need(at(placed, count).map(|stroke| stroke.within)))
        .collect();
    (!needs.is_empty()).then(|| grid::division(&needs))
}

/// The parts that are heard in a bar, with their strokes.
fn played(song: &Loop, bar: u32, feel: Option<&[Vec<Option<f64>>]>) -> Vec<(usize, Vec<Placed>)> {
    let heard = song.parts.iter().enumerate().filter(|(_, part)| !part.silenced);
    let placed = |(number, part): (usize, &Part)| {
        let feel = feel.map(|feel| &feel[number][..]);
        (number, placed(part, bar, song.time.counts, feel))
    };
    heard.map(placed).filter(|(_, placed)| !placed.is_empty()).collect()
}

/// Where a part's strokes stand in a bar.
fn placed(part: &Part, bar: u32, counts: u32, feel: Option<&[Option<f64>]>) -> Vec<Placed> {
    let begins = Exact::from_integer(bar.into());
    let first = part.strokes.partition_point(|stroke| stroke.at < begins);
    let within = |(_, stroke): &(usize, &Stroke)| stroke.at < begins + Exact::from_integer(1);
    let place = |(number, stroke): (usize, &Stroke)| {
        let counted = (stroke.at - begins) * Exact::from_integer(counts.into());
        Placed {
            count: counted.to_integer() as u32,
            within: counted.fract(),
            mark: stroke.mark,
            late: feel.and_then(|feel| feel[number]),
        }
    };
    part.strokes
        .iter()
        .enumerate()
        .skip(first)
        .take_while(within)
        .map(place)
        .collect()
}

fn at(placed: &[Placed], count: u32) -> impl Iterator<Item = &Placed> {
    placed.iter().filter(move |stroke| stroke.count == count)
}

/// A count's strokes as texts: one a step where they fit the grid, braces where they are finer, and braces over the whole
/// count where they divide it otherwise. Deviations have commas for braces.
fn cell(strokes: &[&Placed], need: u32, division: u32, text: &dyn Fn(Option<&Placed>) -> String, feel: bool) -> Cell {
    if !need.is_multiple_of(division) && !division.is_multiple_of(need) && need <= MOST_FITTED {
        return Cell::Whole(fitted(strokes, Exact::from_integer(0), need, need, text, feel));
    }
    let step = |step: u32| {
        let (from, to) = (
            Exact::new(step.into(), division.into()),
            Exact::new((step + 1).into(), division.into()),
        );
        let here: Vec<&Placed> = strokes
            .iter()
            .filter(|stroke| from <= stroke.within && stroke.within < to)
            .copied()
            .collect();
        match here[..] {
            [] => text(None),
            [stroke] if stroke.within == from => text(Some(stroke)),
            _ => {
                let parts = grid::need(
                    here.iter()
                        .map(|stroke| (stroke.within - from) * Exact::from_integer(division.into())),
                );
                fitted(&here, from, parts, parts.saturating_mul(division), text, feel)
            }
        }
    };
    Cell::Steps((0..division).map(step).collect())
}

/// Strokes between braces: `parts` even parts from a place of the count on, each as long as a count over `of`.
fn fitted(
    strokes: &[&Placed],
    from: Exact,
    parts: u32,
    of: u32,
    text: &dyn Fn(Option<&Placed>) -> String,
    feel: bool,
) -> String {
    let texts: Vec<String> = if feel || parts > MOST_FITTED {
        // Too fine to be drawn to scale: what is struck, in order.
        strokes
            .iter()
            .take(MOST_IN_STEP)
            .map(|stroke| text(Some(stroke)))
            .collect()
    } else {
        let part = |number: u32| from + Exact::new(number.into(), of.into());
        (0..parts)
            .map(|number| text(strokes.iter().find(|stroke| stroke.within == part(number)).copied()))
            .collect()
    };
    match (&texts[..], feel) {
        ([one], _) => one.clone(),
        (_, true) => texts.join(","),
        _ => format!("{{{}}}", texts.concat()),
    }
}

/// How late a stroke is, in whole ms; nothing where none is struck, `?` where chance left it out.
fn late(stroke: Option<&Placed>) -> String {
    match stroke.map(|stroke| stroke.late) {
        None => String::new(),
        Some(None) => "?".into(),
        Some(Some(seconds)) => match libm::round(seconds * 1000.0) as i64 {
            0 => "0".into(),
            ms => format!("{ms:+}"),
        },
    }
}

fn length(text: &str) -> usize {
    text.chars().count()
}

fn padded(text: &str, width: usize) -> String {
    format!("{text:width$}")
}
