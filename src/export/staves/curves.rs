//! What leads from one note to another: ties, slurs, slides, falls, scoops, bends.

use super::bar::is_tied_to;
use super::ink::{Ink, Reach, short, thick};
use super::shape::{HeadShape, Shape};
use super::signs::sign;
use crate::notation::{Approach, Event, Leave, Sign};

/// A shape that has its place in a system.
#[derive(Debug, Clone)]
pub(super) struct Placed<'a> {
    pub shape: Shape<'a>,
    /// Its column, from the system's left.
    pub x: f64,
    /// Height of its stem's tip.
    pub tip: f64,
}

impl Placed<'_> {
    fn left(&self, head: &HeadShape) -> f64 {
        self.x + self.shape.shift + head.x
    }

    fn right(&self, head: &HeadShape) -> f64 {
        self.left(head) + sign(head.sign).width()
    }
}

/// One voice through a system.
pub(super) struct Line<'a> {
    pub placed: Vec<Placed<'a>>,
    /// The event before its first one, in the system before.
    pub before: Option<&'a Event>,
    /// Where the system's notes begin, and where it ends.
    pub edges: (f64, f64),
}

impl Line<'_> {
    /// Draws all that leads from note to note.
    pub(super) fn draw(&self, ink: &mut Ink) {
        for (order, placed) in self.placed.iter().enumerate() {
            let before = order.checked_sub(1).map(|before| &self.placed[before]);
            let next = self.placed.get(order + 1);
            for (place, head) in placed.shape.heads.iter().enumerate() {
                if head.note.tied {
                    self.tie(ink, placed, place, next);
                }
                if order == 0 && self.before.is_some_and(|event| is_tied_to(event, head.note)) {
                    let to = placed.left(head) - 0.1;
                    let from = (to - 2.5).max(self.edges.0);
                    bow(ink, (from, head.y), (to, head.y), bulges_up(&placed.shape, place));
                }
                approach(ink, placed, head, before);
                leave(ink, placed, head);
            }
            if placed.shape.event.signs.contains(&Sign::Legato) {
                self.slur(ink, placed, before);
            }
        }
    }

    fn tie(&self, ink: &mut Ink, placed: &Placed, place: usize, next: Option<&Placed>) {
        let head = &placed.shape.heads[place];
        let dots = f64::from(placed.shape.event.value.dots) * 0.6;
        let from = placed.right(head) + 0.1 + dots;
        let to = match next {
            Some(next) => {
                let same = next
                    .shape
                    .heads
                    .iter()
                    .find(|other| other.note.pitch == head.note.pitch);
                let Some(same) = same else { return };
                next.left(same) - 0.1
            }
            None => self.edges.1,
        };
        bow(
            ink,
            (from.min(to - 0.6), head.y),
            (to, head.y),
            bulges_up(&placed.shape, place),
        );
    }

    /// A slur from the event before, on the heads' side where both stems go one way, else above.
    fn slur(&self, ink: &mut Ink, placed: &Placed, before: Option<&Placed>) {
        let shape = &placed.shape;
        if shape.rests() {
            return;
        }
        let up = match before {
            Some(before) => !(shape.up && before.shape.up),
            None => !shape.up,
        };
        let up = if shape.shared { shape.voice == 0 } else { up };
        let end = |placed: &Placed| {
            let (top, bottom) = placed.shape.heights();
            let stem_side = placed.shape.stem && placed.shape.up == up;
            let y = match (up, stem_side) {
                (true, false) => top - 0.8,
                (true, true) => placed.tip - 0.3,
                (false, false) => bottom + 0.8,
                (false, true) => placed.tip + 0.3,
            };
            (placed.x + placed.shape.shift + 0.6, y)
        };
        let to = end(placed);
        let from = match before.filter(|before| !before.shape.rests()) {
            Some(before) => end(before),
            None => ((to.0 - 2.5).max(self.edges.0), to.1),
        };
        let height = 0.5 + ((to.0 - from.0) * 0.08).min(0.7);
        ink.bow(from, to, if up { -height } else { height });
    }
}

/// Ties bulge away from the stem; in chords, the upper half upwards ("Behind Bars", ties in chords).
fn bulges_up(shape: &Shape, place: usize) -> bool {
    let count = shape.heads.len();
    match () {
        () if shape.shared => shape.voice == 0,
        () if count == 1 => !shape.up,
        () => 2 * place >= count,
    }
}

fn bow(ink: &mut Ink, from: (f64, f64), to: (f64, f64), up: bool) {
    let side = if up { -1.0 } else { 1.0 };
    let height = 0.45 + ((to.0 - from.0) * 0.05).min(0.55);
    ink.bow(
        (from.0, from.1 + side * 0.45),
        (to.0, to.1 + side * 0.45),
        side * height,
    );
}

/// How a head is come to.
fn approach(ink: &mut Ink, placed: &Placed, head: &HeadShape, before: Option<&Placed>) {
    let accidental = head.accidental.map_or(0.0, |(_, x)| head.x - x);
    let to = placed.left(head) - accidental - 0.2 - if head.note.ghost { 0.4 } else { 0.0 };
    match head.note.approach {
        Some(Approach::Slide) => {
            let from = before.and_then(|before| {
                let order = placed.shape.heads.iter().position(|other| std::ptr::eq(other, head))?;
                let heads = &before.shape.heads;
                let other = heads.get(order).or(heads.last())?;
                Some((before.right(other) + 0.2, other.y))
            });
            let (x, y) = from.unwrap_or((to - 1.2, head.y + 0.6));
            let x = x.min(to - 0.7);
            // Between two heads of one height a slide would lie on a line of the staff.
            let slant = if (y - head.y).abs() < 0.25 { 0.35 } else { 0.0 };
            ink.line((x, y + slant), (to, head.y - slant), thick::LEDGER);
        }
        Some(Approach::Scoop) => curve(ink, [(to - 1.0, head.y + 1.0), (to - 0.9, head.y + 0.15), (to, head.y)]),
        None => {}
    }
}

/// How a head is left.
fn leave(ink: &mut Ink, placed: &Placed, head: &HeadShape) {
    let dots = f64::from(placed.shape.event.value.dots) * 0.6;
    let x = placed.right(head) + dots + if head.note.ghost { 0.5 } else { 0.2 };
    let y = head.y;
    match head.note.leave {
        Some(Leave::Fall) => curve(ink, [(x, y), (x + 0.9, y + 0.1), (x + 1.0, y + 1.5)]),
        Some(Leave::Bend(cents)) => {
            let peak = if cents < 0 { y + 2.4 } else { y - 2.4 };
            curve(ink, [(x, y), (x + 0.65, peak), (x + 1.3, y)]);
        }
        None => {}
    }
}

/// A stroke through three points, of which the middle one draws it aside.
fn curve(ink: &mut Ink, [from, aside, to]: [(f64, f64); 3]) {
    let data = format!(
        "M{} {}Q{} {} {} {}",
        short(from.0),
        short(from.1),
        short(aside.0),
        short(aside.1),
        short(to.0),
        short(to.1)
    );
    let middle = (from.1 + 2.0 * aside.1 + to.1) / 4.0;
    let reach = Reach {
        left: from.0,
        top: from.1.min(to.1).min(middle),
        right: to.0.max(aside.0),
        bottom: from.1.max(to.1).max(middle),
    };
    ink.lines(&data, thick::LEDGER, reach);
}
