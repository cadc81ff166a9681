//! A chapter as plain text for a terminal: paragraphs at its width, tables in columns, examples indented.

use pulldown_cmark::{Event, HeadingLevel, Options, Parser, Tag, TagEnd};

use crate::text::width::{columns, padded, wrapped};

/// Examples stand so far to the right.
const INDENT: &str = "    ";
/// What stands before the lines of a caution.
const CAUTION: &str = "  | ";
/// Columns between two of a table.
const GAP: usize = 2;
/// Bold and back again (SGR of ECMA-48); output without colours leaves them out.
const BOLD: &str = "\u{1b}[1m";
const PLAIN: &str = "\u{1b}[0m";

/// A chapter's Markdown as text of at most so many columns, but for examples, which stay as they are.
pub(crate) fn for_terminal(markdown: &str, width: usize) -> String {
    let mut page = Page {
        width,
        ..Page::default()
    };
    Parser::new_ext(markdown, Options::ENABLE_TABLES).for_each(|event| page.take(event));
    page.out.trim_end().to_string() + "\n"
}

#[derive(Default)]
struct Page {
    width: usize,
    out: String,
    /// The words of the paragraph, heading, item or cell that is open.
    words: String,
    example: bool,
    /// What stands before the first line of what is open, and before the others.
    before: (&'static str, &'static str),
    rows: Vec<Vec<String>>,
}

impl Page {
    fn take(&mut self, event: Event) {
        match event {
            Event::Start(Tag::CodeBlock(_)) => self.example = true,
            Event::Start(Tag::Item) => self.before = ("- ", "  "),
            Event::Start(Tag::BlockQuote(_)) => self.before = (CAUTION, CAUTION),
            Event::Start(Tag::Image { .. }) => self.words += "Picture (in `pressroll manual --page`): ",
            Event::Start(Tag::TableHead | Tag::TableRow) => self.rows.push(Vec::new()),
            Event::Text(text) if self.example => {
                text.lines()
                    .for_each(|line| self.out += &format!("{}\n", format!("{INDENT}{line}").trim_end()));
            }
            Event::Text(text) => self.words += &text,
            Event::Code(code) => self.words += &format!("`{code}`"),
            Event::SoftBreak | Event::HardBreak => self.words.push(' '),
            Event::End(end) => self.end(end),
            _ => {}
        }
    }

    fn end(&mut self, end: TagEnd) {
        match end {
            TagEnd::Heading(level) => self.heading(if level == HeadingLevel::H1 { "=" } else { "-" }),
            TagEnd::Paragraph => {
                self.lines();
                self.out.push('\n');
            }
            TagEnd::Item => {
                self.lines();
                self.before = ("", "");
            }
            TagEnd::BlockQuote(_) => self.before = ("", ""),
            TagEnd::CodeBlock => {
                self.example = false;
                self.out.push('\n');
            }
            TagEnd::List(_) => self.out.push('\n'),
            TagEnd::TableCell => {
                let cell = std::mem::take(&mut self.words);
                self.rows.last_mut().into_iter().for_each(|row| row.push(cell.clone()));
            }
            TagEnd::Table => self.table(),
            _ => {}
        }
    }

    fn heading(&mut self, rule: &str) {
        let words = std::mem::take(&mut self.words);
        let rule = rule.repeat(columns(&words));
        self.out += &format!("{BOLD}{words}{PLAIN}\n{rule}\n\n");
    }

    /// The open words, in lines.
    fn lines(&mut self) {
        let words = std::mem::take(&mut self.words);
        let (first, others) = self.before;
        for (number, line) in wrapped(&words, self.width - columns(first)).iter().enumerate() {
            self.out += &format!("{}{line}\n", if number == 0 { first } else { others });
        }
    }

    /// Cells in columns under their heads, each as many lines as it takes; where the page is too narrow for that, row by row.
    fn table(&mut self) {
        let rows = std::mem::take(&mut self.rows);
        let Some((heads, others)) = rows.split_first() else {
            return;
        };
        let table = match widths(&rows, self.width) {
            Some(widths) => in_columns(heads, others, &widths),
            None => in_blocks(heads, others, self.width),
        };
        self.out += &format!("{table}\n");
    }
}

/// Rows of cells in columns, with a rule under the heads.
fn in_columns(heads: &[String], rows: &[Vec<String>], widths: &[usize]) -> String {
    let rules: Vec<String> = widths.iter().map(|width| "-".repeat(*width)).collect();
    // Where a first cell goes over several lines, a space tells the rows apart.
    let tall = |row: &Vec<String>| {
        let first = row.first().zip(widths.first());
        first.is_some_and(|(cell, width)| columns(cell) > *width)
    };
    let apart = if rows.iter().any(tall) { "\n" } else { "" };
    let rows: Vec<String> = rows.iter().map(|row| set(row, widths)).collect();
    format!(
        "{}{}\n{}",
        set(heads, widths),
        rules.join(&" ".repeat(GAP)),
        rows.join(apart)
    )
}

/// Rows as blocks: the first cell, and under it the others behind their heads.
fn in_blocks(heads: &[String], rows: &[Vec<String>], page: usize) -> String {
    let head = heads.iter().skip(1).map(|head| columns(head)).max().unwrap_or(0);
    let widths = [0, head, page.saturating_sub(head + 2 * GAP).max(1)];
    let block = |row: &Vec<String>| {
        let cells = heads.iter().zip(row).skip(1).filter(|(_, cell)| !cell.is_empty());
        let lines = cells.map(|(head, cell)| set(&[String::new(), head.clone(), cell.clone()], &widths));
        let first = wrapped(row.first().map_or("", String::as_str), page).join("\n");
        format!("{first}\n{}", lines.collect::<String>())
    };
    rows.iter().map(block).collect::<Vec<_>>().join("\n")
}

/// A row of cells in columns.
fn set(row: &[String], widths: &[usize]) -> String {
    let cells = row.iter().zip(widths).map(|(cell, width)| wrapped(cell, *width));
    let cells: Vec<Vec<String>> = cells.collect();
    let height = cells.iter().map(Vec::len).max().unwrap_or(0);
    let line = |number: usize| {
        let cells = cells.iter().zip(widths);
        let cell =
            |(cell, width): (&Vec<String>, &usize)| padded(cell.get(number).map_or("", String::as_str), width + GAP);
        format!("{}\n", cells.map(cell).collect::<String>().trim_end())
    };
    (0..height).map(line).collect()
}

/// Widths of columns that fit a page, where none has to break a word: the widest gives way first.
fn widths(rows: &[Vec<String>], page: usize) -> Option<Vec<usize>> {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let cells = |column: usize| rows.iter().filter_map(move |row| row.get(column));
    let word = |cell: &String| cell.split_whitespace().map(columns).max().unwrap_or(0);
    let longest: Vec<usize> = (0..count)
        .map(|column| cells(column).map(word).max().unwrap_or(0))
        .collect();
    let mut widths: Vec<usize> = (0..count)
        .map(|column| cells(column).map(|cell| columns(cell)).max().unwrap_or(0))
        .collect();
    let room = page.saturating_sub(GAP * count.saturating_sub(1));
    while widths.iter().sum::<usize>() > room {
        let whole = (0..count).filter(|column| widths[*column] > longest[*column]);
        let widest = whole.max_by_key(|column| widths[*column])?;
        widths[widest] -= 1;
    }
    Some(widths)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::manual::CHAPTERS;

    #[test]
    fn no_line_but_an_example_is_wider_than_the_terminal() {
        for width in [40, 80, 100] {
            for chapter in CHAPTERS {
                let page = for_terminal(chapter.text, width).replace(BOLD, "").replace(PLAIN, "");
                let wide = page
                    .lines()
                    .find(|line| columns(line) > width && !line.starts_with(INDENT));
                assert_eq!(wide, None, "{} in {width} columns", chapter.name);
            }
        }
    }

    #[test]
    fn an_example_fits_a_terminal_of_80_columns() {
        for chapter in CHAPTERS {
            let page = for_terminal(chapter.text, 80);
            let wide = page.lines().find(|line| line.starts_with(INDENT) && columns(line) > 80);
            assert_eq!(wide, None, "{}", chapter.name);
        }
    }

    #[test]
    fn a_table_stands_in_columns_and_wraps_its_widest() {
        let table =
            "| key | does |\n| --- | --- |\n| `gain` | how loud it is, in dB, and nothing else that matters |\n";
        let expected = "key     does\n------  ----------------------\n`gain`  how loud it is, in dB,\n        and nothing else that\n        matters\n";
        assert_eq!(for_terminal(table, 30), expected);
    }

    #[test]
    fn rows_whose_first_cells_are_tall_stand_apart() {
        let table = "| in the name | is |\n| --- | --- |\n| one two | a |\n| three four five | b |\n";
        let expected = "in the name  is\n-----------  --\none two      a\n\nthree four   b\nfive\n";
        assert_eq!(for_terminal(table, 15), expected);
    }

    #[test]
    fn a_table_too_wide_for_its_page_stands_row_by_row() {
        let table = "| what | of | test |\n| --- | --- | --- |\n| pan | power | tests/somewhere |\n| decay | | tests/elsewhere |\n";
        let expected = "pan\n  of    power\n  test  tests/somewhere\n\ndecay\n  test  tests/elsewhere\n";
        assert_eq!(for_terminal(table, 24), expected);
    }

    #[test]
    fn a_list_and_a_caution_hang_behind_their_signs() {
        let text = "- one thing and another\n- more\n\n> mind your ears and mine\n";
        assert_eq!(
            for_terminal(text, 16),
            "- one thing and\n  another\n- more\n\n  | mind your\n  | ears and\n  | mine\n"
        );
    }
}
