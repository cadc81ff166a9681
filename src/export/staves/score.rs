//! Bars in systems, and systems as drawings.

use std::ops::Range;

use super::above;
use super::bar::{BarShapes, shapes};
use super::ink::{Ink, Kind, Reach, Side, short, thick, width};
use super::spacing::{BarPlace, BarSpace, fit, place};
use super::staff::{Opening, StaffLine, closing_lines, closing_width, heights, opening_widths, repeat_width};
use crate::loopfile::Exact;
use crate::notation::{Hand, Sheet, Staff};

/// The most bars of a system.
const BARS: usize = 4;
/// Space is pressed together by so much before a system takes fewer bars.
const TIGHT: f64 = 0.5;
/// The stretch beyond which a last system is left short.
const LOOSE: f64 = 1.5;
/// The least distance from one staff's bottom line to the next one's top line.
const APART: f64 = 4.0;
/// The least distance between what is drawn in two staves.
const CLEAR: f64 = 0.9;
/// Size of staves' names.
const NAME: f64 = 1.9;
/// The widest name of one line.
const LONG_NAME: f64 = 8.5;
/// Size of their short names.
const SHORT_NAME: f64 = 1.6;

/// One system.
#[derive(Debug)]
pub(super) struct System {
    pub bars: Range<usize>,
    pub ink: Ink,
    /// Its size in staff spaces. Its drawing's highest point is at 0.
    pub width: f64,
    pub height: f64,
    /// True where it holds what it holds with room to breathe.
    pub comfortable: bool,
    #[cfg(test)]
    pub places: Vec<super::spacing::BarPlace>,
}

/// A sheet that is to be laid out.
pub(super) struct Score<'a> {
    sheet: &'a Sheet,
    staves: Vec<&'a Staff>,
    degrees: bool,
    counts: bool,
    /// By staff and bar.
    shapes: Vec<Vec<BarShapes<'a>>>,
}

impl<'a> Score<'a> {
    /// Makes the shapes of all events of some staves.
    pub(super) fn new(sheet: &'a Sheet, staves: Vec<&'a Staff>, degrees: bool, counts: bool) -> Score<'a> {
        let of = |staff: &&'a Staff| {
            let bars = sheet.bars.iter().enumerate();
            bars.map(|(bar, about)| shapes(staff, bar, about.key, degrees))
                .collect()
        };
        let shapes = staves.iter().map(of).collect();
        Score {
            sheet,
            staves,
            degrees,
            counts,
            shapes,
        }
    }

    /// All systems, each so many staff spaces wide.
    pub(super) fn systems(&self, width: f64) -> Vec<System> {
        let mut systems = Vec::new();
        let mut first = 0;
        let mut usual = 1.0;
        while first < self.sheet.bars.len() {
            let (count, stretch) = self.break_at(first, width, usual);
            systems.push(self.system(first..first + count, stretch.unwrap_or(0.0), width));
            if let Some(stretch) = stretch {
                usual = stretch;
                systems.last_mut().expect("it was pushed").comfortable = true;
            }
            first += count;
        }
        systems
    }

    /// How many bars stand in the system that begins with a bar, and how far space is stretched in it; none where even a
    /// single bar does not fit. Four bars where they fit, else three that leave no bar alone, two or one. A section begins a
    /// system.
    fn break_at(&self, first: usize, width: f64, usual: f64) -> (usize, Option<f64>) {
        let bars = &self.sheet.bars;
        let most = self.usual(first);
        let pickup = most - BARS;
        let mut behind = first + 1 + pickup..bars.len();
        let section = behind.find(|bar| bars[*bar].section.is_some()).unwrap_or(bars.len());
        let left = section - first;
        for count in (1..=most.min(left)).rev() {
            if count == 3 + pickup && left == 4 + pickup {
                continue;
            }
            let spaces = self.spaces(first..first + count);
            let indent = self.indent(first..first + count);
            // What ends short of a whole system, such as a section's last bars, is not pulled apart.
            let loosest = if count < BARS { LOOSE.max(usual) } else { f64::MAX };
            let loosest = loosest.min(40.0);
            if let Some(stretch) = fit(&spaces, indent, width, TIGHT, loosest) {
                return (count, Some(stretch));
            }
        }
        (1, None)
    }

    /// How many bars a system has where they fit; a pickup stands before them.
    pub(super) fn usual(&self, first: usize) -> usize {
        BARS + usize::from(self.sheet.bars.get(first).is_some_and(|bar| bar.number == 0))
    }

    /// How many bars there are.
    pub(super) fn bars(&self) -> usize {
        self.sheet.bars.len()
    }

    /// The staves of a system: those on which something is played in it; all where nothing is.
    fn shown(&self, bars: Range<usize>) -> Vec<usize> {
        let plays = |order: &usize| {
            let (order, staff) = (*order, self.staves[*order]);
            // Both hands of a keyboard stand where one plays.
            let other = match staff.hand {
                Some(Hand::Right) => order.checked_add(1),
                Some(Hand::Left) => order.checked_sub(1),
                None => None,
            };
            let other = other.and_then(|other| self.staves.get(other));
            staff.parts.is_empty()
                || plays(staff, bars.clone())
                || other.is_some_and(|other| plays(other, bars.clone()))
        };
        let shown: Vec<usize> = (0..self.staves.len()).filter(plays).collect();
        match shown.iter().any(|staff| !self.staves[*staff].parts.is_empty()) {
            true => shown,
            false => (0..self.staves.len()).collect(),
        }
    }

    /// The name of a staff in a system: whole where it comes up first, in one line or two.
    fn name(&self, staff: usize, first: usize) -> (Vec<&str>, f64) {
        let staff = self.staves[staff];
        if staff.hand == Some(Hand::Left) {
            return (Vec::new(), NAME);
        }
        let known = first > 0 && (staff.parts.is_empty() || plays(staff, 0..first));
        match known {
            true => (vec![&staff.short], SHORT_NAME),
            false => (name_lines(&staff.name), NAME),
        }
    }

    /// Space for names left of a system.
    fn indent(&self, bars: Range<usize>) -> f64 {
        let names = self.shown(bars.clone()).into_iter().map(|staff| {
            let (lines, size) = self.name(staff, bars.start);
            lines
                .into_iter()
                .map(|line| self::width(line, size))
                .fold(0.0, f64::max)
        });
        let rows = above::ROW_NAMES.iter().zip([self.degrees, self.counts]);
        let rows = rows.map(|(name, stands)| {
            if stands {
                self::width(name, above::ROW_NAME)
            } else {
                0.0
            }
        });
        let braces = self
            .shown(bars.clone())
            .into_iter()
            .any(|staff| self.staves[staff].hand.is_some());
        match names.chain(rows).fold(0.0, f64::max) {
            0.0 => 0.3,
            wide if braces => wide + 2.0,
            wide => wide + 1.2,
        }
    }

    /// The bar's length in whole notes.
    fn length(&self, bar: usize) -> Exact {
        self.sheet.bars[bar].length()
    }

    /// The widths of what opens the bars of a system: the widest of all staves.
    fn openings(&self, bars: Range<usize>) -> Vec<[f64; 3]> {
        let of = |(order, bar): (usize, usize)| {
            let opening = Opening::of(self.sheet, bar, order == 0);
            let widths = self
                .staves
                .iter()
                .map(|staff| opening_widths(self.sheet, staff, bar, opening));
            widths.fold([0.0; 3], |most: [f64; 3], widths| {
                [0, 1, 2].map(|part| most[part].max(widths[part]))
            })
        };
        bars.enumerate().map(of).collect()
    }

    fn spaces(&self, bars: Range<usize>) -> Vec<BarSpace> {
        let openings = self.openings(bars.clone());
        let of = |(bar, opening): (usize, [f64; 3])| {
            let about = &self.sheet.bars[bar];
            let mut lanes: Vec<_> = self.shapes.iter().map(|staff| staff[bar].extents()).collect();
            lanes.push(above::kick_extents(about));
            if self.counts {
                lanes.push(above::count_extents(about, self.length(bar)));
            }
            BarSpace {
                opening: opening.iter().sum::<f64>() + repeat_width(about),
                closing: closing_width(self.sheet, bar),
                length: self.length(bar),
                lanes,
                over: above::chord_extents(about),
            }
        };
        bars.zip(openings).map(of).collect()
    }

    fn system(&self, bars: Range<usize>, stretch: f64, width: f64) -> System {
        let indent = self.indent(bars.clone());
        let shown = self.shown(bars.clone());
        let spaces = self.spaces(bars.clone());
        let openings = self.openings(bars.clone());
        let (places, end) = place(&spaces, indent, stretch);
        let mut ink = Ink::new();
        let mut tops: Vec<f64> = Vec::new();
        let (mut bottom, mut last_line) = (0.0, 0.0);
        for staff in &shown {
            let (staff, shapes) = (self.staves[*staff], &self.shapes[*staff]);
            let line = StaffLine {
                sheet: self.sheet,
                staff,
                first: bars.start,
                bars: &shapes[bars.clone()],
                places: &places,
                openings: &openings,
                degrees: self.degrees,
            };
            let drawn = line.draw();
            let (top, below) = drawn.heights();
            let (first_line, lowest_line) = heights(staff);
            let y = match tops.is_empty() {
                true => -top,
                false => (last_line + APART - first_line).max(bottom + CLEAR - top),
            };
            bottom = y + below;
            last_line = y + lowest_line;
            ink.take(drawn, 0.0, y);
            tops.push(y);
        }
        self.names(&mut ink, &shown, &tops, indent, bars.start);
        self.join_hands(&mut ink, &shown, &tops, &places, (indent, bars.start));
        let about: Vec<_> = bars.clone().map(|bar| &self.sheet.bars[bar]).collect();
        if self.counts {
            let bars: Vec<_> = bars
                .clone()
                .map(|bar| (&self.sheet.bars[bar], self.length(bar)))
                .collect();
            above::write_counts(&mut ink, &bars, &places, bottom);
        }
        let right = width.max(end);
        let over = above::draw(&about, &places, right, bars.start == 0);
        let (mut top, _) = ink.heights();
        top = top.min(over.heights().0);
        let (_, bottom) = ink.heights();
        let mut whole = Ink::new();
        whole.take(over, 0.0, 0.2 - top);
        whole.take(ink, 0.0, 0.2 - top);
        System {
            bars,
            ink: whole,
            // A bar too long for any system makes its own smaller.
            width: right + 0.1,
            height: bottom - top + 0.4,
            comfortable: false,
            #[cfg(test)]
            places,
        }
    }

    /// Joins the staves of each keyboard by a brace and by their barlines.
    fn join_hands(
        &self,
        ink: &mut Ink,
        shown: &[usize],
        tops: &[f64],
        places: &[BarPlace],
        (indent, first): (f64, usize),
    ) {
        for (staff, tops) in shown.iter().zip(tops.windows(2)) {
            if self.staves[*staff].hand != Some(Hand::Right) {
                continue;
            }
            let (from, to) = (tops[0], tops[1] + 4.0);
            brace(ink, indent - 0.35, (from, to));
            for (place, about) in places.iter().zip(first..) {
                for (x, width) in closing_lines(self.sheet, about, place.right) {
                    ink.line((x, tops[0] + 4.0), (x, tops[1]), width);
                }
            }
        }
    }

    /// Writes the staves' names, and joins them by a line.
    fn names(&self, ink: &mut Ink, shown: &[usize], tops: &[f64], indent: f64, first: usize) {
        for (place, (staff, top)) in shown.iter().zip(tops).enumerate() {
            let (lines, size) = self.name(*staff, first);
            let above = lines.len().saturating_sub(1) as f64 / 2.0;
            // A keyboard's name stands between its staves.
            let middle = match self.staves[*staff].hand {
                Some(_) => (tops.get(place + 1).unwrap_or(top) - top) / 2.0,
                None => 0.0,
            };
            for (order, line) in lines.into_iter().enumerate().filter(|(_, line)| !line.is_empty()) {
                let y = top + 2.0 + middle + size * (0.36 + 1.1 * (order as f64 - above));
                let x = indent - if self.staves[*staff].hand.is_some() { 1.6 } else { 0.8 };
                ink.words(Kind::Words, line, (x, y), size, Side::Right);
            }
        }
        if let ([highest, .., lowest], [above, .., below]) = (shown, tops) {
            let from = above + heights(self.staves[*highest]).0;
            let to = below + heights(self.staves[*lowest]).1;
            ink.line((indent, from), (indent, to), thick::BAR);
        }
    }
}

/// A brace whose right edge is at a place, from height to height.
fn brace(ink: &mut Ink, right: f64, (top, bottom): (f64, f64)) {
    const WIDE: f64 = 0.9;
    let middle = (top + bottom) / 2.0;
    let tip = right - WIDE;
    let half = (bottom - top) / 2.0;
    // Each half is an S; the way back is thicker than the way there.
    let data = format!(
        "M{r} {t}C{a} {t1} {b} {m1} {l} {m}C{b} {m2} {a} {b1} {r} {z}C{c} {b1} {d} {m2} {l} {m}C{d} {m1} {c} {t1} {r} {t}Z",
        r = short(right),
        l = short(tip),
        t = short(top),
        m = short(middle),
        z = short(bottom),
        a = short(right - 1.15),
        b = short(right + 0.1),
        c = short(right - 0.75),
        d = short(right + 0.5),
        t1 = short(top + half * 0.3),
        m1 = short(middle - half * 0.25),
        m2 = short(middle + half * 0.25),
        b1 = short(bottom - half * 0.3),
    );
    let reach = Reach {
        left: tip,
        top,
        right,
        bottom,
    };
    ink.shape(&data, reach);
}

/// True where something is played on a staff in some bars.
pub(super) fn plays(staff: &Staff, bars: Range<usize>) -> bool {
    let events = staff.measures[bars]
        .iter()
        .flat_map(|measure| &measure.voices)
        .flatten();
    events.into_iter().any(|event| !event.notes.is_empty())
}

/// A name in two lines where one would be long, cut behind the space or hyphen that is nearest to its middle.
fn name_lines(name: &str) -> Vec<&str> {
    if width(name, NAME) <= LONG_NAME {
        return vec![name];
    }
    let cuts = name.match_indices([' ', '-']).map(|(at, _)| at + 1);
    match cuts.min_by_key(|at| at.abs_diff(name.len() / 2)) {
        Some(at) => vec![name[..at].trim_end(), &name[at..]],
        None => vec![name],
    }
}
