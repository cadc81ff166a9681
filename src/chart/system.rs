//! A system: bars side by side, with what stands over them and a line for each part.

use super::above;
use super::measure::{Measure, Whose};
use super::{BOLD, DIM, PLAIN, WIDTH};
use crate::loopfile::{Loop, Way};
use crate::text::width::{columns, cut, padded, wrapped};

/// Columns between the longest name and its marks.
pub(super) const GAP: usize = 1;
/// What stands between two bars.
pub(super) const BARLINE: &str = " | ";
/// What stands between two bars where there is no barline.
const SPACE: &str = "   ";
/// What stands in a bar in which nothing plays.
const SILENCE: &str = "silence";

/// A bar with what stands over it.
pub(super) struct Block {
    heading: Vec<String>,
    measure: Measure,
    /// Columns.
    pub width: usize,
}

impl Block {
    pub(super) fn new(heading: String, measure: Measure, room: usize) -> Block {
        let silent = if measure.sounds() { 0 } else { SILENCE.len() };
        let bar = measure.width().max(silent);
        // A heading may widen a narrow bar by a little; a long one goes over several lines.
        let heading = wrapped(&heading, room.min(bar.max(24)));
        let widest = heading.iter().map(|line| columns(line)).max().unwrap_or(0);
        Block {
            heading,
            width: bar.max(widest),
            measure,
        }
    }

    fn has(&self, whose: Whose) -> bool {
        self.measure.rows.iter().any(|row| row.whose == whose)
    }
}

/// Bars side by side: headings, chords, their tones where asked for, accents, counts, and a line for each part that plays in
/// one of them.
pub(super) fn system(song: &Loop, blocks: &[Block], names: usize, tones: bool) -> Vec<String> {
    let mut page = System {
        blocks,
        names,
        lines: Vec::new(),
    };
    page.stacked(|block| block.heading.clone());
    page.stacked(|block| vec![block.measure.symbols()]);
    if tones {
        page.stacked(|block| block.measure.tones());
    }
    if !blocks.iter().any(|block| block.measure.sounds()) {
        page.line("", BARLINE, |_| SILENCE.into(), Style::Plain);
        return page.lines;
    }
    for (number, line) in song.accents.iter().enumerate() {
        page.accents(Whose::Accents(number), line.parts.as_deref());
    }
    page.line("", BARLINE, |block| block.measure.text(Whose::Counts), Style::Plain);
    for (number, part) in song.parts.iter().enumerate() {
        let words = part.way != Way::Comp && part.strokes.iter().any(|stroke| stroke.pitch.is_some());
        let style = if words { Style::Words } else { Style::Marks };
        page.row(Whose::Marks(number), &shortened(&part.name), BARLINE, style);
        page.row(Whose::Feel(number), "", SPACE, Style::Plain);
    }
    page.lines
}

/// How accents and ghost notes are told by their looks.
#[derive(Clone, Copy, PartialEq)]
enum Style {
    Plain,
    /// Capitals are accents, `g` is a ghost note.
    Marks,
    /// `G1^` is an accent, `(G1)` a ghost note.
    Words,
}

struct System<'a> {
    blocks: &'a [Block],
    names: usize,
    lines: Vec<String>,
}

impl System<'_> {
    /// One line through all bars.
    fn line(&mut self, name: &str, between: &str, text: impl Fn(&Block) -> String, style: Style) {
        let texts = self.blocks.iter();
        let texts = texts.map(|block| format!("{:1$}", text(block), block.width));
        let line = texts.collect::<Vec<_>>().join(between);
        let line = styled(line.trim_end(), style);
        let line = format!("{}{}{line}", padded(name, self.names), " ".repeat(GAP));
        self.lines.push(line.trim_end().to_string());
    }

    /// As many lines as the bar with most of them has, none for bars without any.
    fn stacked(&mut self, texts: impl Fn(&Block) -> Vec<String>) {
        let texts: Vec<Vec<String>> = self.blocks.iter().map(texts).collect();
        for number in 0..texts.iter().map(Vec::len).max().unwrap_or(0) {
            let text = |bar: usize| texts[bar].get(number).cloned().unwrap_or_default();
            let line = self.blocks.iter().enumerate();
            let line = line.map(|(bar, block)| format!("{:1$}", text(bar), block.width));
            let line = line.collect::<Vec<_>>().join(SPACE);
            if !line.trim().is_empty() {
                let indent = " ".repeat(self.names + GAP);
                self.lines.push(format!("{indent}{line}").trim_end().to_string());
            }
        }
    }

    /// A row, where one of the bars has it.
    fn row(&mut self, whose: Whose, name: &str, between: &str, style: Style) {
        if self.blocks.iter().any(|block| block.has(whose)) {
            self.line(name, between, |block| block.measure.text(whose), style);
        }
    }

    /// A row of accents. A name that is too long for its column stands on lines of its own.
    fn accents(&mut self, whose: Whose, parts: Option<&[String]>) {
        if !self.blocks.iter().any(|block| block.has(whose)) {
            return;
        }
        let mut name = above::label(parts);
        if columns(&name) > self.names {
            self.lines.extend(wrapped(&name, WIDTH));
            name = String::new();
        }
        self.row(whose, &name, BARLINE, Style::Marks);
    }
}

/// Accents bold, ghost notes dim.
fn styled(line: &str, style: Style) -> String {
    match style {
        Style::Plain => line.to_string(),
        Style::Marks => line
            .chars()
            .map(|mark| match mark {
                'A'..='Z' => format!("{BOLD}{mark}{PLAIN}"),
                'g' => format!("{DIM}{mark}{PLAIN}"),
                _ => mark.to_string(),
            })
            .collect(),
        Style::Words => {
            let words = line.split(' ').map(|word| {
                let bare = word.trim_matches(['{', '}']);
                match (bare.ends_with('^'), bare.starts_with('(')) {
                    (true, _) => word.replace(bare, &format!("{BOLD}{bare}{PLAIN}")),
                    (_, true) => word.replace(bare, &format!("{DIM}{bare}{PLAIN}")),
                    _ => word.to_string(),
                }
            });
            words.collect::<Vec<_>>().join(" ")
        }
    }
}

fn shortened(name: &str) -> String {
    cut(name, LONGEST_NAME)
}

/// The longest name that is printed whole.
pub(super) const LONGEST_NAME: usize = 24;
