//! One staff of a system: its lines, clef, key, metre, barlines, and all that stands in its bars.

use super::above::{ROW_NAME, ROW_NAMES};
use super::bar::BarShapes;
use super::curves::{Line, Placed};
use super::ink::{Ink, Kind, Side, thick};
use super::pitch::{one_line, signature};
use super::shape::DEGREE;
use super::signs::sign;
use super::spacing::BarPlace;
use super::{beams, heads, tuplets};
use crate::notation::{Clef, Sheet, SheetBar, Staff};

/// What stands before a bar's music.
#[derive(Debug, Clone, Copy)]
pub(super) struct Opening {
    /// True in the first bar of a system, which has clef and key.
    pub first: bool,
    /// True where the metre is written.
    pub metre: bool,
    /// True where the key changes.
    pub key: bool,
}

impl Opening {
    /// What opens a bar of a sheet.
    pub(super) fn of(sheet: &Sheet, bar: usize, first: bool) -> Opening {
        let before = bar.checked_sub(1).map(|before| &sheet.bars[before]);
        let now = &sheet.bars[bar];
        Opening {
            first,
            metre: before.is_none_or(|before| before.metre != now.metre),
            key: before.is_some_and(|before| before.key != now.key),
        }
    }
}

/// Space between the signs that open a bar.
const SPACE: f64 = 0.7;

fn clef_sign(clef: Clef) -> (&'static str, f64) {
    match clef {
        Clef::Treble => ("gClef", 3.0),
        Clef::TrebleDown => ("gClef8vb", 3.0),
        Clef::Bass => ("fClef", 1.0),
        Clef::BassDown => ("fClef8vb", 1.0),
        Clef::Percussion => ("unpitchedPercussionClef1", 2.0),
    }
}

const DIGITS: [&str; 10] = [
    "timeSig0", "timeSig1", "timeSig2", "timeSig3", "timeSig4", "timeSig5", "timeSig6", "timeSig7", "timeSig8",
    "timeSig9",
];

fn figures(number: u32) -> (Vec<&'static str>, f64) {
    let digits: Vec<&'static str> = number
        .to_string()
        .bytes()
        .map(|digit| DIGITS[usize::from(digit - b'0')])
        .collect();
    let width = digits.iter().map(|digit| sign(digit).width() + 0.1).sum();
    (digits, width)
}

/// Heights between which a staff's barlines go: its outer lines, or a space around its only one.
pub(super) fn heights(staff: &Staff) -> (f64, f64) {
    if one_line(staff.clef, &staff.drums) {
        (1.0, 3.0)
    } else {
        (0.0, 4.0)
    }
}

/// Widths of the three things that may open a bar of a staff: clef, key, metre.
pub(super) fn opening_widths(sheet: &Sheet, staff: &Staff, bar: usize, opening: Opening) -> [f64; 3] {
    let now = &sheet.bars[bar];
    let clef = if opening.first {
        SPACE + sign(clef_sign(staff.clef).0).width()
    } else {
        0.0
    };
    let signs = key_signs(sheet, staff.clef, bar, opening);
    let key: f64 = signs.iter().map(|(name, _)| sign(name).width() + 0.1).sum();
    let key = if key > 0.0 { key + SPACE } else { 0.0 };
    let metre = match opening.metre {
        true => figures(now.metre.0).1.max(figures(now.metre.1).1) + SPACE,
        false => 0.0,
    };
    [clef, key, metre]
}

/// Space that a repeat's beginning takes.
pub(super) fn repeat_width(bar: &SheetBar) -> f64 {
    if bar.repeat_begins { 1.9 } else { 0.0 }
}

/// Space that a bar's end takes beyond a barline's own.
pub(super) fn closing_width(sheet: &Sheet, bar: usize) -> f64 {
    match end(sheet, bar) {
        End::Plain => 0.0,
        End::Section => 0.5,
        End::Last => 0.9,
        End::Repeat => 1.4,
    }
}

/// How a bar ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    Plain,
    Section,
    Last,
    Repeat,
}

fn end(sheet: &Sheet, bar: usize) -> End {
    let next = sheet.bars.get(bar + 1);
    match next {
        _ if sheet.bars[bar].repeat_ends.is_some() => End::Repeat,
        None => End::Last,
        Some(next) if next.section.is_some() => End::Section,
        Some(_) => End::Plain,
    }
}

/// The barlines at a bar's end, which is at a place: where each stands, and its thickness.
pub(super) fn closing_lines(sheet: &Sheet, bar: usize, right: f64) -> Vec<(f64, f64)> {
    let thin = (right - thick::BAR / 2.0, thick::BAR);
    let heavy = (right - thick::HEAVY_BAR / 2.0, thick::HEAVY_BAR);
    match end(sheet, bar) {
        End::Plain => vec![thin],
        End::Section => vec![thin, (right - 0.66, thick::BAR)],
        End::Last | End::Repeat => vec![heavy, (right - 0.98, thick::BAR)],
    }
}

fn key_signs(sheet: &Sheet, clef: Clef, bar: usize, opening: Opening) -> Vec<(&'static str, f64)> {
    let now = sheet.bars[bar].key;
    let before = bar.checked_sub(1).map(|before| sheet.bars[before].key);
    match (opening.key, opening.first) {
        (true, _) => signature(now, before, clef),
        (false, true) => signature(now, None, clef),
        (false, false) => Vec::new(),
    }
}

/// A staff of a system that is to be drawn.
pub(super) struct StaffLine<'a, 'b> {
    pub sheet: &'a Sheet,
    pub staff: &'a Staff,
    /// The first bar of the system.
    pub first: usize,
    pub bars: &'b [BarShapes<'a>],
    pub places: &'b [BarPlace],
    /// Where clef, key and metre stand, from each bar's left: the widest of all staves.
    pub openings: &'b [[f64; 3]],
    pub degrees: bool,
}

impl<'a> StaffLine<'a, '_> {
    /// Draws it; its top line is at height 0.
    pub(super) fn draw(&self) -> Ink {
        let mut ink = Ink::new();
        let (left, right) = (self.places[0].left, self.places[self.places.len() - 1].right);
        let lines = if one_line(self.staff.clef, &self.staff.drums) {
            2..3
        } else {
            0..5
        };
        for line in lines {
            let y = f64::from(line);
            ink.line((left, y), (right, y), thick::STAFF);
        }
        for place in 0..self.places.len() {
            self.open(&mut ink, place);
            self.close(&mut ink, place);
        }
        let lines = self.bars_of_voices(&mut ink);
        for line in lines {
            line.draw(&mut ink);
            if self.degrees {
                self.write_degrees(&mut ink, &line);
            }
        }
        ink
    }

    fn open(&self, ink: &mut Ink, place: usize) {
        let bar = self.first + place;
        let opening = Opening::of(self.sheet, bar, place == 0);
        let mut x = self.places[place].left;
        let widths = self.openings[place];
        if opening.first {
            let (name, y) = clef_sign(self.staff.clef);
            ink.sign(name, x + SPACE - sign(name).reach[0], y);
        }
        x += widths[0];
        let mut key_x = x + SPACE;
        for (name, y) in key_signs(self.sheet, self.staff.clef, bar, opening) {
            ink.sign(name, key_x, y);
            key_x += sign(name).width() + 0.1;
        }
        x += widths[1];
        if opening.metre {
            let (counts, unit) = self.sheet.bars[bar].metre;
            let middle = x + SPACE + (widths[2] - SPACE) / 2.0;
            for (number, y) in [(counts, 1.0), (unit, 3.0)] {
                let (digits, width) = figures(number);
                let mut x = middle - width / 2.0;
                for digit in digits {
                    ink.sign(digit, x - sign(digit).reach[0], y);
                    x += sign(digit).width() + 0.1;
                }
            }
        }
        x += widths[2];
        if self.sheet.bars[bar].repeat_begins {
            let heavy = if opening.first { x + 0.5 } else { x };
            self.bar_line(ink, heavy + thick::HEAVY_BAR / 2.0, thick::HEAVY_BAR);
            self.bar_line(ink, heavy + 0.98, thick::BAR);
            repeat_dots(ink, heavy + 1.45);
        }
    }

    fn close(&self, ink: &mut Ink, place: usize) {
        let (bar, right) = (self.first + place, self.places[place].right);
        for (x, width) in closing_lines(self.sheet, bar, right) {
            self.bar_line(ink, x, width);
        }
        if end(self.sheet, bar) == End::Repeat {
            repeat_dots(ink, right - 1.45);
        }
    }

    fn bar_line(&self, ink: &mut Ink, x: f64, width: f64) {
        let (top, bottom) = heights(self.staff);
        let half = thick::STAFF / 2.0;
        ink.line((x, top - half), (x, bottom + half), width);
    }

    /// Draws what stands in the bars, and gives each voice through the whole system.
    fn bars_of_voices(&self, ink: &mut Ink) -> Vec<Line<'a>> {
        let most = self.bars.iter().map(|bar| bar.voices.len()).max().unwrap_or(0);
        let before = self.first.checked_sub(1).map(|before| &self.staff.measures[before]);
        let edges = (self.places[0].begins, self.places[self.places.len() - 1].right - 0.4);
        let mut lines: Vec<Line<'a>> = (0..most)
            .map(|voice| Line {
                placed: Vec::new(),
                before: before.and_then(|measure| measure.voices.get(voice)?.last()),
                edges,
            })
            .collect();
        for (bar, place) in self.bars.iter().zip(self.places) {
            let edges = (place.begins, place.right);
            if bar.voices.iter().all(Vec::is_empty) {
                heads::whole_rest(ink, self.staff, edges);
            }
            for (voice, shapes) in bar.voices.iter().enumerate() {
                let columns: Vec<f64> = shapes.iter().map(|shape| place.column(shape.event.at)).collect();
                let tips = beams::draw(ink, shapes, &columns, self.staff.clef);
                let placed = shapes.iter().zip(columns.iter().zip(tips));
                let placed: Vec<Placed<'a>> = placed
                    .map(|(shape, (x, tip))| Placed {
                        shape: shape.clone(),
                        x: *x,
                        tip,
                    })
                    .collect();
                for one in &placed {
                    heads::draw(ink, one, self.staff, edges);
                }
                tuplets::draw(ink, &placed);
                lines[voice].placed.extend(placed);
            }
        }
        lines
    }

    fn write_degrees(&self, ink: &mut Ink, line: &Line) {
        let y = ink.heights().1.max(4.8) + 1.6;
        if line.placed.iter().any(|placed| !placed.shape.degrees().is_empty()) {
            ink.words(
                Kind::Words,
                ROW_NAMES[0],
                (self.places[0].left - 0.8, y),
                ROW_NAME,
                Side::Right,
            );
        }
        for placed in &line.placed {
            let text = placed.shape.degrees();
            if !text.is_empty() {
                let x = placed.x + placed.shape.shift + 0.6;
                ink.words(Kind::Words, &text, (x, y), DEGREE, Side::Middle);
            }
        }
    }
}

fn repeat_dots(ink: &mut Ink, x: f64) {
    ink.dot(x, 1.5, 0.22);
    ink.dot(x, 2.5, 0.22);
}
