//! One bar of a chart: how its counts are divided, and what each row has in them.

use super::above::{self, Sign};
use super::cell::Cell;
use super::grid;
use super::line::{ChartLine, Lateness};
use crate::loopfile::Loop;
use crate::text::width::cut;

/// Whose a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
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

/// A line of a bar.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row {
    pub whose: Whose,
    /// What it has, whatever the grid; none of counts.
    pub line: Option<ChartLine>,
    /// One cell a count.
    pub cells: Vec<Cell>,
}

/// A bar, ready to be printed; two that look the same are equal.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Measure {
    /// Steps of each count.
    pub divisions: Vec<u32>,
    /// The first count that it shows.
    pub first_count: usize,
    /// The chords above it.
    pub signs: Vec<Sign>,
    /// The accents', the counts', then the parts' that play.
    pub rows: Vec<Row>,
}

/// How bars are to be drawn.
#[derive(Clone, Copy)]
pub(super) struct Look<'a> {
    /// The parts that have a row.
    pub rows: &'a [bool],
    /// A deviation for each stroke of each part, where they are asked for.
    pub feel: Option<&'a Lateness>,
    /// The steps that most counts have.
    pub usual: u32,
    /// The columns that a bar may take.
    pub room: usize,
}

impl Measure {
    /// A bar of a loop, counted from 0, with texts of so many columns at most.
    pub(super) fn of(song: &Loop, bar: u32, look: Look<'_>, longest: usize) -> Measure {
        let narrow = longest < usize::MAX;
        let parts = (0..song.parts.len()).filter(|part| look.rows[*part]);
        let lines: Vec<(usize, ChartLine)> = parts
            .filter_map(|part| Some((part, ChartLine::read(song, part, bar, look.feel, narrow)?)))
            .collect();
        let counts = 0..song.time.counts;
        let needs = |count: u32| lines.iter().filter_map(move |(_, line)| line.need(count));
        let needs: Vec<Vec<u32>> = counts.clone().map(|count| needs(count).collect()).collect();
        let divisions = divisions(&needs, look.usual);
        let cells = |of: &dyn Fn(u32, u32) -> Cell| -> Vec<Cell> {
            let cells = counts.clone().zip(&divisions);
            cells
                .map(|(count, division)| of(count, *division).cut(longest))
                .collect()
        };
        let row = |whose: Whose, line: &ChartLine| Row {
            whose,
            line: Some(line.clone()),
            cells: cells(&|count, division| line.cell(count, division, matches!(whose, Whose::Feel(_)))),
        };
        let accents = above::accents(song, bar);
        let mut rows: Vec<Row> = accents
            .iter()
            .map(|(number, places)| row(Whose::Accents(*number), &ChartLine::of_accents(places)))
            .collect();
        rows.push(Row {
            whose: Whose::Counts,
            line: None,
            cells: cells(&|count, division| {
                let steps = (0..division).map(|step| grid::syllable(count + 1, step, division));
                Cell::Steps(steps.collect())
            }),
        });
        for (part, line) in &lines {
            rows.push(row(Whose::Marks(*part), line));
            rows.extend(look.feel.map(|_| row(Whose::Feel(*part), line)));
        }
        let mut signs = above::signs(song, bar, &divisions);
        signs
            .iter_mut()
            .for_each(|sign| sign.symbol = cut(&sign.symbol, look.room));
        Measure {
            divisions,
            first_count: 0,
            signs,
            rows,
        }
    }

    /// True where some part plays.
    pub(super) fn sounds(&self) -> bool {
        self.rows.iter().any(|row| matches!(row.whose, Whose::Marks(_)))
    }

    /// Its row of a kind.
    pub(super) fn row(&self, whose: Whose) -> Option<&Row> {
        self.rows.iter().find(|row| row.whose == whose)
    }

    /// The one grid of all its counts, where they have one that is not the usual one.
    pub(super) fn other_grid(&self, usual: u32) -> Option<u32> {
        let first = *self.divisions.first()?;
        let one = self.divisions.iter().all(|division| *division == first);
        (one && first != usual && self.sounds()).then_some(first)
    }

    /// Some of its counts.
    pub(super) fn piece(&self, from: usize, to: usize) -> Measure {
        let within = |sign: &&Sign| (from..to).contains(&(sign.count as usize));
        Measure {
            divisions: self.divisions[from..to].to_vec(),
            first_count: from,
            signs: self.signs.iter().filter(within).cloned().collect(),
            rows: self
                .rows
                .iter()
                .map(|row| Row {
                    whose: row.whose,
                    line: row.line.clone(),
                    cells: row.cells[from..to].to_vec(),
                })
                .collect(),
        }
    }
}

/// The divisions of a bar's counts, each with the divisions that its parts need: the usual one, or that which suits the whole bar
/// better, or one that suits a count where several parts have no use for these. What one part has beside goes between braces.
fn divisions(needs: &[Vec<u32>], usual: u32) -> Vec<u32> {
    let own = grid::division(&needs.concat());
    // Five to seven steps a count are a mixture: of that, each count has its own share.
    let own = if usual.is_multiple_of(own) || (5..=7).contains(&own) {
        usual
    } else {
        own
    };
    let division = |needs: &Vec<u32>| {
        let suits = |division: &u32| grid::unfit(*division, needs) == 0;
        let simple = [own, usual].into_iter().find(suits);
        simple.unwrap_or_else(|| match grid::unfit(own, needs) {
            1 => own,
            _ => grid::division(needs),
        })
    };
    needs.iter().map(division).collect()
}

/// The division of the counts that suits a bar best; none where nothing plays.
pub(super) fn division(song: &Loop, bar: u32, rows: &[bool]) -> Option<u32> {
    let parts = (0..song.parts.len()).filter(|part| rows[*part]);
    let lines: Vec<ChartLine> = parts
        .filter_map(|part| ChartLine::read(song, part, bar, None, false))
        .collect();
    let needs = lines
        .iter()
        .flat_map(|line| (0..song.time.counts).filter_map(|count| line.need(count)));
    let needs: Vec<u32> = needs.collect();
    (!needs.is_empty()).then(|| grid::division(&needs))
}
