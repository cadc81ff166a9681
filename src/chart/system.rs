//! A system: bars side by side, with what stands over them and a line for each part.

use super::block::Block;
use super::columns::Columns;
use super::measure::{Measure, Whose};
use super::printed::{Found, Printed};
use super::told::in_few_lines;
use super::{BOLD, DIM, PLAIN, WIDTH, above};
use crate::loopfile::{Loop, Way};
use crate::score::spelled;
use crate::text::width::{columns, cut, padded, wrapped};

/// Columns between the longest name and its marks.
pub(super) const GAP: usize = 1;
/// What stands between two bars.
pub(super) const BARLINE: &str = " | ";
/// What stands between two bars where there is no barline.
const SPACE: &str = "   ";
/// What stands between a bar's heading and its first chord.
const BEHIND: &str = ": ";
/// What stands in a bar in which nothing plays.
const SILENCE: &str = "silence";

/// Bars side by side, of which the rows are shown that have not been printed before.
pub(super) struct System {
    blocks: Vec<Block>,
    columns: Columns,
    /// The heading of each bar.
    headings: Vec<Vec<String>>,
    /// True where the chords stand behind the headings.
    in_line: bool,
    /// The columns of each bar with its heading.
    widths: Vec<usize>,
    shown: Vec<Whose>,
    /// The parts that play what other bars show.
    before: Vec<Found>,
}

impl System {
    /// Lays out bars in so many columns, with so many counts a beat; as wide as they are where that is too few.
    pub(super) fn new(blocks: Vec<Block>, printed: &Printed, room: usize, beat: u32) -> System {
        let mut rows: Vec<Whose> = Vec::new();
        for row in blocks.iter().flat_map(|block| &block.measure.rows) {
            if !rows.contains(&row.whose) {
                rows.push(row.whose);
            }
        }
        let parts: Vec<usize> = rows
            .iter()
            .filter_map(|whose| match whose {
                Whose::Marks(part) => Some(*part),
                _ => None,
            })
            .collect();
        let before = printed.find(&parts, &blocks);
        let told = |part: &usize| before.iter().any(|found| found.parts.contains(part));
        let mut shown: Vec<Whose> = rows
            .into_iter()
            .filter(|whose| match whose {
                Whose::Marks(part) | Whose::Feel(part) => !told(part),
                _ => true,
            })
            .collect();
        if shown == [Whose::Counts] {
            shown.clear();
        }
        let measures: Vec<&Measure> = blocks.iter().map(|block| &block.measure).collect();
        let layout = Columns::of(&measures, &|whose| shown.contains(&whose), beat);
        let bar = |block: &Block| {
            let silent = if block.measure.sounds() { 0 } else { SILENCE.len() };
            layout.width().max(silent)
        };
        // A heading may widen a narrow bar by a little, one that stands alone as far as it likes; a longer one goes over several lines.
        let least = if blocks.len() == 1 { room } else { 24 };
        let heading = |block: &Block| wrapped(&block.name, room.min(bar(block).max(least)));
        let headings: Vec<Vec<String>> = blocks.iter().map(heading).collect();
        let widths = blocks.iter().zip(&headings).map(|(block, heading)| {
            let widest = heading.iter().map(|line| columns(line)).max();
            bar(block).max(widest.unwrap_or(0))
        });
        System {
            widths: widths.collect(),
            headings,
            in_line: false,
            columns: layout,
            shown,
            before,
            blocks,
        }
    }

    /// It with its chords in the line of the headings, where there is room for both.
    pub(super) fn with_chords_in_line(mut self, room: usize) -> System {
        let chords = |block: &Block| !block.measure.signs.is_empty();
        if !self.blocks.iter().any(chords) || self.headings.iter().any(|lines| lines.len() != 1) {
            return self;
        }
        let line = |block: &Block| match chords(block) {
            true => self
                .columns
                .symbols_behind(&format!("{}{BEHIND}", block.name), &block.measure),
            false => Some(block.name.clone()),
        };
        let Some(lines) = self.blocks.iter().map(line).collect::<Option<Vec<String>>>() else {
            return self;
        };
        let widths = self.widths.iter().zip(&lines);
        let widths: Vec<usize> = widths.map(|(width, line)| *width.max(&columns(line))).collect();
        let old = std::mem::replace(&mut self.widths, widths);
        if self.width() > room {
            self.widths = old;
            return self;
        }
        self.headings = lines.into_iter().map(|line| vec![line]).collect();
        self.in_line = true;
        self
    }

    /// Columns behind the names.
    pub(super) fn width(&self) -> usize {
        self.widths.iter().sum::<usize>() + self.widths.len().saturating_sub(1) * BARLINE.len()
    }

    /// Its bars, for what comes after it; those of a piece of a bar, too.
    pub(super) fn blocks(&self) -> &[Block] {
        &self.blocks
    }

    /// The parts that have a row in it.
    pub(super) fn parts(&self) -> Vec<usize> {
        let part = |whose: &Whose| match whose {
            Whose::Marks(part) => Some(*part),
            _ => None,
        };
        self.shown.iter().filter_map(part).collect()
    }

    /// Its lines: headings, chords, their tones where asked for, accents, counts, and a line for each part that has
    /// something new.
    pub(super) fn lines(&self, song: &Loop, names: usize, tones: bool) -> Vec<String> {
        let mut page = Page {
            system: self,
            names,
            lines: Vec::new(),
        };
        let symbols = if self.shown.is_empty() { BARLINE } else { SPACE };
        page.stacked(if self.in_line { symbols } else { SPACE }, |bar| {
            self.headings[bar].clone()
        });
        if !self.in_line {
            page.stacked(symbols, |bar| vec![self.columns.symbols(&self.blocks[bar].measure)]);
        }
        if tones {
            page.stacked(SPACE, |bar| self.columns.tones(&self.blocks[bar].measure));
        }
        if !self.blocks.iter().any(|block| block.measure.sounds()) {
            page.line("", BARLINE, |_| SILENCE.into(), Style::Plain);
            return page.lines;
        }
        for (number, line) in song.accents.iter().enumerate() {
            page.accents(Whose::Accents(number), line.parts.as_deref());
        }
        page.row(Whose::Counts, "", BARLINE, Style::Plain);
        for (number, part) in song.parts.iter().enumerate() {
            let words = part.way != Way::Comp && part.strokes.iter().any(|stroke| stroke.pitch.is_some());
            let style = if words { Style::Words } else { Style::Marks };
            page.row(Whose::Marks(number), &cut(&part.name, LONGEST_NAME), BARLINE, style);
            page.row(Whose::Feel(number), "", SPACE, Style::Plain);
        }
        let told = self.before.iter().map(|found| {
            let parts: Vec<&str> = found.parts.iter().map(|part| song.parts[*part].name.as_str()).collect();
            format!("as {}: {}", spelled(&found.bars), parts.join(", "))
        });
        page.lines.extend(in_few_lines(told.collect()));
        page.lines
    }
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

struct Page<'a> {
    system: &'a System,
    names: usize,
    lines: Vec<String>,
}

impl Page<'_> {
    /// The texts of all bars, told by their numbers, as one.
    fn joined(&self, between: &str, text: impl Fn(usize) -> String) -> String {
        let bars = self.system.widths.iter().enumerate();
        let texts: Vec<String> = bars.map(|(bar, width)| padded(&text(bar), *width)).collect();
        texts.join(between)
    }

    /// One line through all bars.
    fn line(&mut self, name: &str, between: &str, text: impl Fn(&Block) -> String, style: Style) {
        let line = self.joined(between, |bar| text(&self.system.blocks[bar]));
        let line = styled(line.trim_end(), style);
        let line = format!("{}{}{line}", padded(name, self.names), " ".repeat(GAP));
        self.lines.push(line.trim_end().to_string());
    }

    /// As many lines as the bar with most of them has, none for bars without any.
    fn stacked(&mut self, between: &str, texts: impl Fn(usize) -> Vec<String>) {
        let texts: Vec<Vec<String>> = (0..self.system.blocks.len()).map(texts).collect();
        for number in 0..texts.iter().map(Vec::len).max().unwrap_or(0) {
            let text = |bar: usize| texts[bar].get(number).cloned().unwrap_or_default();
            if texts
                .iter()
                .all(|texts| texts.get(number).is_none_or(|text| text.trim().is_empty()))
            {
                continue;
            }
            let line = self.joined(between, text);
            let indent = " ".repeat(self.names + GAP);
            self.lines.push(format!("{indent}{line}").trim_end().to_string());
        }
    }

    /// A row, where it is shown.
    fn row(&mut self, whose: Whose, name: &str, between: &str, style: Style) {
        if self.system.shown.contains(&whose) {
            let columns = &self.system.columns;
            self.line(name, between, |block| columns.text(&block.measure, whose), style);
        }
    }

    /// A row of accents. A name that is too long for its column stands on lines of its own.
    fn accents(&mut self, whose: Whose, parts: Option<&[String]>) {
        if !self.system.shown.contains(&whose) {
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

/// The longest name that is printed whole.
pub(super) const LONGEST_NAME: usize = 24;
