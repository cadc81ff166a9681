//! Tables of text: every column as wide as its widest cell, and names that stay apart when they are cut.

use std::collections::{BTreeMap, BTreeSet};

use super::width::{columns, padded};

/// Spaces between two columns: fewer where names would have to be cut.
const GAPS: [usize; 2] = [2, 1];

/// A table whose first column holds names, on the left; all other columns but a last one of words stand on the right.
#[derive(Debug, Default)]
pub(crate) struct Table {
    rows: Vec<Vec<String>>,
    /// True where the last column holds words, on the left.
    words: bool,
}

impl Table {
    /// An empty table.
    pub(crate) fn new() -> Table {
        Table::default()
    }

    /// An empty table whose last column holds words.
    pub(crate) fn with_words() -> Table {
        Table {
            words: true,
            ..Table::default()
        }
    }

    /// Adds a row: its name, then its other cells.
    pub(crate) fn row<S: Into<String>>(&mut self, name: impl Into<String>, cells: impl IntoIterator<Item = S>) {
        let cells = cells.into_iter().map(S::into);
        self.rows.push(std::iter::once(name.into()).chain(cells).collect());
    }

    /// The table in lines of at most `width` columns, for which names are cut where they must be.
    pub(crate) fn text(&self, width: usize) -> String {
        let count = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let widest = |at: usize| {
            self.rows
                .iter()
                .filter_map(|row| row.get(at))
                .map(|cell| columns(cell))
                .max()
        };
        let widths: Vec<usize> = (0..count).map(|at| widest(at).unwrap_or(0)).collect();
        let fits = |gap: &usize| widths.iter().map(|width| width + gap).sum::<usize>() <= width + gap;
        let gap = GAPS.into_iter().find(fits).unwrap_or(GAPS[1]);
        let others: usize = widths.iter().skip(1).map(|width| width + gap).sum();
        let names: Vec<&str> = self.rows.iter().map(|row| row[0].as_str()).collect();
        let names = apart(&names, width.saturating_sub(others).max(SHORTEST));
        let first = names.iter().map(|name| columns(name)).max().unwrap_or(0);
        let mut page = String::new();
        for (row, name) in self.rows.iter().zip(&names) {
            let mut line = padded(name, first);
            for (at, cell) in row.iter().enumerate().skip(1) {
                let spaces = match self.words && at + 1 == count {
                    true => gap,
                    false => gap + widths[at].saturating_sub(columns(cell)),
                };
                line.push_str(&" ".repeat(spaces));
                line.push_str(cell);
            }
            page.push_str(line.trim_end());
            page.push('\n');
        }
        page
    }
}

/// The least that is left of a name.
const SHORTEST: usize = 8;

/// Names in so many columns, cut in their middle. Names that would be cut to the same are cut where they differ; where
/// that is not enough either, all stay whole.
pub(crate) fn apart(names: &[&str], width: usize) -> Vec<String> {
    let cut: Vec<String> = names.iter().map(|name| middle_cut(name, width)).collect();
    let cut_alike = alike(&cut, names);
    let told: Vec<String> = names
        .iter()
        .zip(&cut)
        .map(|(name, cut)| {
            // Of names in alphabetical order the first and the last have the least in common with any of them.
            let others = &cut_alike[cut.as_str()];
            let ends = others.first().into_iter().chain(others.last());
            match ends
                .filter(|other| *other != name)
                .map(|other| differs(name, other))
                .min()
            {
                Some(from) => end_cut(name, from, width),
                None => cut.clone(),
            }
        })
        .collect();
    match alike(&told, names).values().all(|names| names.len() == 1) {
        true => told,
        false => names.iter().map(|name| name.to_string()).collect(),
    }
}

/// By what names are cut to: which names these are.
fn alike<'a>(cut: &'a [String], names: &[&'a str]) -> BTreeMap<&'a str, BTreeSet<&'a str>> {
    let mut alike: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for (cut, name) in cut.iter().zip(names) {
        alike.entry(cut).or_default().insert(name);
    }
    alike
}

/// How many letters two texts have in common from their beginning.
fn differs(one: &str, other: &str) -> usize {
    one.chars()
        .zip(other.chars())
        .take_while(|(one, other)| one == other)
        .count()
}

/// A text without its middle, where it is wider than so many columns.
pub(crate) fn middle_cut(text: &str, width: usize) -> String {
    if columns(text) <= width {
        return text.to_string();
    }
    let letters: Vec<char> = text.chars().collect();
    // No more of either end than there is room for: a text may be a whole value of a file.
    let (mut head, mut tail) = ((letters.len() / 2).min(width), letters.len().div_ceil(2).min(width));
    loop {
        let kept: String = letters[..head]
            .iter()
            .chain(&['…'])
            .chain(&letters[letters.len() - tail..])
            .collect();
        if columns(&kept) <= width || head + tail == 0 {
            return kept;
        }
        if head >= tail { head -= 1 } else { tail -= 1 }
    }
}

/// A text from a little before a letter on, as far as it goes.
fn end_cut(text: &str, from: usize, width: usize) -> String {
    let rest: String = text.chars().skip(from.saturating_sub(3)).collect();
    let mut kept = if from > 3 { "…".to_string() } else { String::new() };
    for letter in rest.chars() {
        let longer = format!("{kept}{letter}");
        if columns(&longer) > width {
            break;
        }
        kept = longer;
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_wide_cell_widens_its_column() {
        let mut table = Table::with_words();
        table.row("", ["hits", "what"]);
        table.row("snare", ["7", "dark"]);
        table.row("kick", ["12345", "late"]);
        assert_eq!(
            table.text(80),
            "        hits  what\nsnare      7  dark\nkick   12345  late\n"
        );
    }

    #[test]
    fn columns_come_closer_before_a_name_is_cut() {
        let mut table = Table::new();
        table.row("bass forward", ["-38.8", "+0.4"]);
        assert_eq!(table.text(24), "bass forward -38.8 +0.4\n");
        assert_eq!(table.text(25), "bass forward  -38.8  +0.4\n");
    }

    #[test]
    fn names_are_never_cut_to_the_same() {
        let names = ["snare from the long shed at night", "snare from the long room at night"];
        let cut = apart(&names, 12);
        assert_eq!(cut, ["…ng shed at ", "…ng room at "]);
        assert_eq!(apart(&["kick", "kick"], 12), ["kick", "kick"]);
    }

    proptest! {
        #[test]
        fn different_names_stay_different(names in prop::collection::vec("[ab]{0,20}", 1..8), width in 8usize..16) {
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            let cut = apart(&names, width);
            for one in 0..names.len() {
                for other in 0..names.len() {
                    prop_assert_eq!(names[one] == names[other], cut[one] == cut[other]);
                }
            }
        }
    }
}
