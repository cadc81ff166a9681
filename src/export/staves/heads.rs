//! Heads and what stands at them: ledger lines, accidentals, dots, parentheses, rests, grace notes, signs.

use super::curves::Placed;
use super::ink::{Ink, Kind, Reach, short, thick};
use super::pitch::one_line;
use super::shape::{GraceShape, HeadShape, LEDGER, SMALL, Shape, rest_sign};
use super::signs::sign;
use crate::notation::{Clef, Sign, Staff};

/// Draws an event at its place; `bar` are the edges between which a rest of a whole bar stands in the middle.
pub(super) fn draw(ink: &mut Ink, placed: &Placed, staff: &Staff, bar: (f64, f64)) {
    let shape = &placed.shape;
    let x = placed.x + shape.shift;
    if shape.rests() {
        rest(
            ink,
            shape,
            if shape.centred { None } else { Some(x) },
            bar,
            hangs_at(staff),
        );
    }
    ledgers(ink, shape.heads.iter().map(|head| (head.x + x, head)), 1.0);
    for head in &shape.heads {
        ink.sign_of(Kind::Head, head.sign, x + head.x, head.y, 1.0);
        if let Some((accidental, left)) = head.accidental {
            ink.sign_of(Kind::Accidental, accidental, x + left, head.y, 1.0);
        }
        dots(ink, shape, head, x);
        around(ink, shape, head, x);
    }
    graces(ink, shape, x);
    signs(ink, placed, staff.clef);
}

/// The line from which whole rests hang.
fn hangs_at(staff: &Staff) -> f64 {
    if one_line(staff.clef, &staff.drums) { 2.0 } else { 1.0 }
}

/// A rest of a whole bar, in its middle.
pub(super) fn whole_rest(ink: &mut Ink, staff: &Staff, (left, right): (f64, f64)) {
    let half = sign("restWhole").width() / 2.0;
    ink.sign("restWhole", (left + right) / 2.0 - half, hangs_at(staff));
}

fn rest(ink: &mut Ink, shape: &Shape, x: Option<f64>, bar: (f64, f64), hangs_at: f64) {
    // A bar of rest is a whole rest whatever its metre ("Behind Bars", bars' rests).
    let part = if shape.centred { 1 } else { shape.event.value.part };
    let name = rest_sign(part);
    let line = if part == 1 { hangs_at } else { 2.0 };
    let y = match (shape.shared, shape.voice) {
        (false, _) => line,
        (true, 0) => line - 2.0,
        (true, _) => line + 2.0,
    };
    let x = x.unwrap_or((bar.0 + bar.1) / 2.0 - sign(name).width() / 2.0);
    ink.sign(name, x, y);
    if !shape.centred {
        for dot in 0..shape.event.value.dots {
            ink.sign(
                "augmentationDot",
                x + sign(name).width() + 0.25 + 0.6 * f64::from(dot),
                y - 0.5,
            );
        }
    }
}

/// Ledger lines, as wide as all heads on their side of the staff. Heads come with their left edges.
fn ledgers<'a>(ink: &mut Ink, heads: impl Iterator<Item = (f64, &'a HeadShape<'a>)>, size: f64) {
    let heads = heads.map(|(x, head)| (x, x + sign(head.sign).width() * size, head.y));
    ledger_lines(ink, &heads.collect::<Vec<_>>(), size);
}

fn ledger_lines(ink: &mut Ink, heads: &[(f64, f64, f64)], size: f64) {
    for above in [true, false] {
        let beyond = |y: f64| if above { -y } else { y - 4.0 };
        let out = heads.iter().filter(|(_, _, y)| beyond(*y) >= 1.0);
        let (left, right, far) = out.fold(
            (f64::INFINITY, f64::NEG_INFINITY, 0.0),
            |(left, right, far): (f64, f64, f64), head| (left.min(head.0), right.max(head.1), far.max(beyond(head.2))),
        );
        for line in 1..=far.floor() as i32 {
            let y = if above { -f64::from(line) } else { 4.0 + f64::from(line) };
            ink.line((left - LEDGER * size, y), (right + LEDGER * size, y), thick::LEDGER);
        }
    }
}

fn dots(ink: &mut Ink, shape: &Shape, head: &HeadShape, x: f64) {
    let heads = shape.heads.iter().map(|head| head.x + sign(head.sign).width());
    let right = heads.fold(0.0, f64::max) + if head.note.ghost { 0.45 } else { 0.0 };
    // On a line the dot moves to the space above; that of a lower voice to the one below.
    let on_line = (head.y - head.y.round()).abs() < 0.25;
    let y = match (on_line, shape.shared && shape.voice > 0) {
        (false, _) => head.y,
        (true, false) => head.y - 0.5,
        (true, true) => head.y + 0.5,
    };
    for dot in 0..shape.event.value.dots {
        ink.sign("augmentationDot", x + right + 0.3 + 0.6 * f64::from(dot), y);
    }
}

/// Parentheses for a ghost note; brackets for one that may be left out.
fn around(ink: &mut Ink, shape: &Shape, head: &HeadShape, x: f64) {
    let (mut left, mut right) = (x + head.x - 0.1, x + head.x + sign(head.sign).width() + 0.1);
    if head.note.ghost {
        let [_, _, reach, _] = sign("noteheadParenthesisLeft").reach;
        ink.sign("noteheadParenthesisLeft", left - reach, head.y);
        let [begin, ..] = sign("noteheadParenthesisRight").reach;
        ink.sign("noteheadParenthesisRight", right - begin, head.y);
        left -= reach;
        right += reach;
    }
    if shape.event.signs.contains(&Sign::Maybe) {
        for (x, inwards) in [(left - 0.1, 0.3), (right + 0.1, -0.3)] {
            let (top, bottom) = (head.y - 0.75, head.y + 0.75);
            let data = format!(
                "M{0} {1}L{2} {1}L{2} {3}L{0} {3}",
                short(x + inwards),
                short(top),
                short(x),
                short(bottom)
            );
            let reach = Reach {
                left: x.min(x + inwards),
                top,
                right: x.max(x + inwards),
                bottom,
            };
            ink.lines(&data, thick::STEM, reach);
        }
    }
}

/// Grace notes: small, stems up (down in a lower voice), a lone one with a flag and a stroke, more under two beams.
fn graces(ink: &mut Ink, shape: &Shape, x: f64) {
    let up = !(shape.shared && shape.voice > 0);
    let mut stems = Vec::new();
    for grace in &shape.graces {
        stems.push(grace_heads(ink, grace, x, up));
    }
    let towards = if up { -1.0 } else { 1.0 };
    let tips = stems.iter().map(|(_, y)| y + towards * 3.5 * SMALL);
    let tip = match up {
        true => tips.fold(f64::INFINITY, f64::min),
        false => tips.fold(f64::NEG_INFINITY, f64::max),
    };
    for (stem, y) in &stems {
        ink.line((*stem, *y), (*stem, tip), thick::STEM * 0.8);
    }
    match stems.as_slice() {
        [] => {}
        [(stem, _)] => {
            let flag = if up { "flag8thUp" } else { "flag8thDown" };
            ink.sign_of(Kind::Other, flag, *stem - thick::STEM * 0.4, tip, SMALL);
            let (inner, outer) = (tip - towards * 1.35, tip - towards * 0.35);
            ink.line((stem - 0.55, inner), (stem + 0.75, outer), thick::STEM * 0.8);
        }
        [(first, _), .., (last, _)] => {
            let (first, last) = (first - 0.05, last + 0.05);
            for beam in 0..2 {
                let outer = tip - towards * 0.5 * f64::from(beam);
                let inner = outer - towards * 0.32;
                ink.area(&[(first, outer), (last, outer), (last, inner), (first, inner)]);
            }
        }
    }
}

/// Draws a grace note's heads; gives where its stem stands and begins.
fn grace_heads(ink: &mut Ink, grace: &GraceShape, x: f64, up: bool) -> (f64, f64) {
    let left = x + grace.x;
    let mut lines = Vec::new();
    for (name, y, accidental) in &grace.heads {
        ink.sign_of(Kind::Head, name, left, *y, SMALL);
        lines.push((left, left + sign(name).width() * SMALL, *y));
        if let Some(accidental) = accidental {
            let width = sign(accidental).width() * SMALL;
            ink.sign_of(Kind::Accidental, accidental, left - width - 0.12, *y, SMALL);
        }
    }
    ledger_lines(ink, &lines, SMALL);
    let heights = grace.heads.iter().map(|head| head.1);
    let near = match up {
        true => heights.fold(f64::INFINITY, f64::min),
        false => heights.fold(f64::NEG_INFINITY, f64::max),
    };
    let head = grace.heads.first().map_or(sign("noteheadBlack"), |head| sign(head.0));
    let stem = match up {
        true => head.stem_up.0 * SMALL - thick::STEM / 2.0,
        false => head.stem_down.0 * SMALL + thick::STEM / 2.0,
    };
    (left + stem, near)
}

/// Signs above and below an event ("Behind Bars", articulation): at the heads' side, for drums above; accents outside of the
/// staff.
fn signs(ink: &mut Ink, placed: &Placed, clef: Clef) {
    let shape = &placed.shape;
    if shape.rests() {
        return;
    }
    let (top, bottom) = shape.heights();
    let (start, _) = shape.ends();
    let middle = placed.x + shape.shift + sign(start.sign).width() / 2.0;
    let over = if shape.stem && shape.up { placed.tip } else { top - 0.5 };
    let under = if shape.stem && !shape.up {
        placed.tip
    } else {
        bottom + 0.5
    };
    let above = match (shape.shared, clef) {
        (true, _) => shape.voice == 0,
        (false, Clef::Percussion) => true,
        (false, _) => !(shape.stem && shape.up),
    };
    let mut stack = Stack { middle, over, under };
    let mut order = shape.event.signs.clone();
    order.sort_by_key(|sign| match sign {
        Sign::Staccato => 0,
        Sign::Accent => 1,
        _ => 3,
    });
    for name in order {
        match name {
            Sign::Staccato => stack.staccato(ink, above),
            Sign::Accent if above => stack.above(ink, "articAccentAbove"),
            Sign::Accent => stack.below(ink, "articAccentBelow"),
            Sign::DownStroke => stack.above(ink, "stringsDownBow"),
            Sign::UpStroke => stack.above(ink, "stringsUpBow"),
            Sign::Vibrato => stack.vibrato(ink),
            Sign::Tremolo(strokes) => tremolo(ink, placed, middle, strokes),
            Sign::Buzz => {
                let (x, y) = on_stem(placed, middle);
                ink.sign("buzzRoll", x, y);
            }
            Sign::Maybe | Sign::Legato => {}
        }
    }
}

/// What stands over one another above and below an event.
struct Stack {
    middle: f64,
    over: f64,
    under: f64,
}

impl Stack {
    fn above(&mut self, ink: &mut Ink, name: &'static str) {
        let [left, top, right, bottom] = sign(name).reach;
        let y = (self.over - 0.35 - bottom).min(-0.4);
        ink.sign(name, self.middle - (left + right) / 2.0, y);
        self.over = y + top;
    }

    fn below(&mut self, ink: &mut Ink, name: &'static str) {
        let [left, top, right, bottom] = sign(name).reach;
        let y = (self.under + 0.35 - top).max(4.4);
        ink.sign(name, self.middle - (left + right) / 2.0, y);
        self.under = y + bottom;
    }

    /// A dot in the next space, or outside of the staff.
    fn staccato(&mut self, ink: &mut Ink, above: bool) {
        let next = |y: f64| (y - 0.5).round() + 0.5;
        match above {
            true => {
                let y = next(self.over - 0.5);
                ink.dot(self.middle, y, 0.2);
                self.over = y - 0.2;
            }
            false => {
                let y = next(self.under + 0.5);
                ink.dot(self.middle, y, 0.2);
                self.under = y + 0.2;
            }
        }
    }

    fn vibrato(&mut self, ink: &mut Ink) {
        let y = (self.over - 0.7).min(-0.7);
        let left = self.middle - 0.6;
        let data = format!("M{} {}q.25 -.7 .5 0t.5 0t.5 0t.5 0", short(left), short(y));
        let reach = Reach {
            left,
            top: y - 0.4,
            right: left + 2.0,
            bottom: y + 0.4,
        };
        ink.lines(&data, 0.2, reach);
        self.over = y - 0.4;
    }
}

/// The middle of a stem's free part; outside of the head where there is no stem.
fn on_stem(placed: &Placed, middle: f64) -> (f64, f64) {
    let shape = &placed.shape;
    let (_, end) = shape.ends();
    let towards = if shape.up { -1.0 } else { 1.0 };
    match shape.stem {
        true => (placed.x + shape.stem_x(), (end.y + placed.tip) / 2.0 + towards * 0.1),
        false => (middle, end.y + towards * 1.6),
    }
}

fn tremolo(ink: &mut Ink, placed: &Placed, middle: f64, strokes: u8) {
    let (x, y) = on_stem(placed, middle);
    let strokes = strokes.min(5);
    for stroke in 0..strokes {
        let y = y + (f64::from(stroke) - f64::from(strokes - 1) / 2.0) * 0.7;
        ink.area(&[
            (x - 0.6, y + 0.35),
            (x + 0.6, y - 0.05),
            (x + 0.6, y - 0.4),
            (x - 0.6, y),
        ]);
    }
}
