//! The shape of one event: its heads, accidentals and rests, and how far they reach from its column.
//!
//! Heights are in staff spaces down from the staff's top line.

use super::ink::{thick, width};
use super::pitch::Pitch;
use super::signs::sign;
use crate::notation::{Approach, Event, Head, Leave, Sign, WrittenNote};

/// Size of grace notes ("Behind Bars": about two thirds) [memory].
pub(super) const SMALL: f64 = 0.65;
/// From one grace note to the next.
const GRACE: f64 = 1.15;
/// Size of the letters of degrees.
pub(super) const DEGREE: f64 = 1.55;
/// Space between an accidental and what stands right of it.
const NEXT: f64 = 0.2;
/// Two accidentals of a column lie so far apart at least.
const APART: f64 = 2.6;
/// How far ledger lines reach beyond their heads.
pub(super) const LEDGER: f64 = 0.35;

/// A head at its place.
#[derive(Debug, Clone)]
pub(super) struct HeadShape<'a> {
    pub note: &'a WrittenNote,
    pub sign: &'static str,
    /// Left edge, from the column.
    pub x: f64,
    pub y: f64,
    /// Its accidental, and that one's left edge.
    pub accidental: Option<(&'static str, f64)>,
}

/// A grace note: a chord of small heads.
#[derive(Debug, Clone)]
pub(super) struct GraceShape {
    /// Left edge, from the column.
    pub x: f64,
    /// Each head's sign, height and accidental.
    pub heads: Vec<(&'static str, f64, Option<&'static str>)>,
}

/// An event that is ready to be drawn at a column.
#[derive(Debug, Clone)]
pub(super) struct Shape<'a> {
    pub event: &'a Event,
    /// 0 for the upper voice.
    pub voice: usize,
    /// True where other voices share the staff in this bar.
    pub shared: bool,
    /// True where its stem goes up.
    pub up: bool,
    /// False for slashes that only count beats.
    pub stem: bool,
    /// From the lowest to the highest.
    pub heads: Vec<HeadShape<'a>>,
    pub graces: Vec<GraceShape>,
    /// How far all of it stands right of its column.
    pub shift: f64,
    pub left: f64,
    pub right: f64,
    /// True for a rest of a whole bar, which stands in the bar's middle.
    pub centred: bool,
}

/// Heads of one event before they have their places: pitch and accidental.
pub(super) struct Heads<'a> {
    pub notes: Vec<(&'a WrittenNote, Pitch, Option<&'static str>)>,
    pub graces: Vec<Vec<(Head, Pitch, Option<&'static str>)>>,
}

/// The sign of a head.
pub(super) fn head_sign(head: Head, part: u32) -> &'static str {
    match (head, part) {
        (Head::Round, 0) => "noteheadDoubleWhole",
        (Head::Round, 1) => "noteheadWhole",
        (Head::Round, 2) => "noteheadHalf",
        (Head::Round, _) => "noteheadBlack",
        (Head::Cross, 0 | 1) => "noteheadXWhole",
        (Head::Cross, 2) => "noteheadXHalf",
        (Head::Cross, _) => "noteheadXBlack",
        (Head::CircledCross, _) => "noteheadCircleX",
        (Head::Diamond, 0 | 1) => "noteheadDiamondWhole",
        (Head::Diamond, 2) => "noteheadDiamondHalf",
        (Head::Diamond, _) => "noteheadDiamondBlack",
        (Head::Triangle, 0..=2) => "noteheadTriangleUpHalf",
        (Head::Triangle, _) => "noteheadTriangleUpBlack",
        (Head::Slash, 0 | 1) => "noteheadSlashWhiteWhole",
        (Head::Slash, 2) => "noteheadSlashWhiteHalf",
        (Head::Slash, _) => "noteheadSlashHorizontalEnds",
    }
}

/// Flags, or beams, of a note value.
pub(super) fn flags(part: u32) -> u8 {
    match part {
        0..=4 => 0,
        _ => (part.ilog2() - 2) as u8,
    }
}

/// The sign of a rest.
pub(super) fn rest_sign(part: u32) -> &'static str {
    match part {
        0 => "restDoubleWhole",
        1 => "restWhole",
        2 => "restHalf",
        4 => "restQuarter",
        8 => "rest8th",
        16 => "rest16th",
        32 => "rest32nd",
        64 => "rest64th",
        _ => "rest128th",
    }
}

impl<'a> Shape<'a> {
    /// Gives heads their places. `up` is where its stem goes.
    pub(super) fn new(event: &'a Event, voice: usize, shared: bool, up: bool, heads: Heads<'a>, degrees: bool) -> Self {
        let mut shape = Shape {
            event,
            voice,
            shared,
            up,
            stem: event.value.part >= 2,
            heads: Vec::new(),
            graces: Vec::new(),
            shift: 0.0,
            left: 0.0,
            right: 0.0,
            centred: false,
        };
        match heads.notes.is_empty() {
            true => shape.right = sign(rest_sign(event.value.part)).width() + f64::from(event.value.dots) * 0.6,
            false => {
                shape.place_heads(heads.notes);
                shape.place_accidentals();
                shape.reach_right();
                shape.reach_left();
            }
        }
        shape.place_graces(heads.graces);
        if degrees {
            let half = width(&shape.degrees(), DEGREE) / 2.0;
            shape.left = shape.left.max(half - 0.6);
            shape.right = shape.right.max(half + 0.6);
        }
        shape
    }

    /// The degrees of its notes, from the lowest up.
    pub(super) fn degrees(&self) -> String {
        let degrees: Vec<&str> = self
            .heads
            .iter()
            .filter_map(|head| head.note.degree.as_deref())
            .collect();
        degrees.join("+").replace('b', "♭").replace('#', "♯")
    }

    /// True for a rest.
    pub(super) fn rests(&self) -> bool {
        self.heads.is_empty()
    }

    /// Heights of its highest and its lowest head.
    pub(super) fn heights(&self) -> (f64, f64) {
        let heights = self.heads.iter().map(|head| head.y);
        heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(top, bottom), y| {
            (top.min(y), bottom.max(y))
        })
    }

    /// The head at which its stem begins, and the one nearest the stem's tip.
    pub(super) fn ends(&self) -> (&HeadShape<'a>, &HeadShape<'a>) {
        let (low, high) = (&self.heads[0], &self.heads[self.heads.len() - 1]);
        match self.up {
            true => (low, high),
            false => (high, low),
        }
    }

    /// Where its stem stands, from the column.
    pub(super) fn stem_x(&self) -> f64 {
        let (start, _) = self.ends();
        let sign = sign(start.sign);
        let half = thick::STEM / 2.0;
        self.shift
            + match self.up {
                true => sign.stem_up.0 - half,
                false => sign.stem_down.0 + half,
            }
    }

    /// Heads a step apart stand on both sides of the stem ("Behind Bars", chords).
    fn place_heads(&mut self, mut notes: Vec<(&'a WrittenNote, Pitch, Option<&'static str>)>) {
        notes.sort_by(|one, other| other.1.y.total_cmp(&one.1.y));
        self.heads = notes
            .into_iter()
            .map(|(note, pitch, accidental)| HeadShape {
                note,
                sign: head_sign(note.head, self.event.value.part),
                x: 0.0,
                y: pitch.y,
                accidental: accidental.map(|sign| (sign, 0.0)),
            })
            .collect();
        let count = self.heads.len();
        let mut before: Option<(f64, bool)> = None;
        for step in 0..count {
            let place = if self.up { step } else { count - 1 - step };
            let head = &mut self.heads[place];
            let other = before.is_some_and(|(y, other)| (y - head.y).abs() < 0.75 && !other);
            let over = sign(head.sign).width() - thick::STEM;
            head.x = match (other, self.up) {
                (false, _) => 0.0,
                (true, true) => over,
                (true, false) => -over,
            };
            before = Some((head.y, other));
        }
    }

    /// Accidentals stand left of the heads, in as few columns as keep them apart: the highest nearest, then the lowest, and
    /// so on inwards ("Behind Bars", accidentals with chords).
    fn place_accidentals(&mut self) {
        let edge = self.heads.iter().fold(0.0, |left: f64, head| left.min(head.x));
        let edge = edge - self.ghost_room() - self.ledger_room();
        let mut order: Vec<usize> = (0..self.heads.len())
            .filter(|place| self.heads[*place].accidental.is_some())
            .collect();
        let mut inwards = Vec::new();
        while let Some(top) = order.pop() {
            inwards.push(top);
            if !order.is_empty() {
                inwards.push(order.remove(0));
            }
        }
        let mut columns: Vec<Vec<f64>> = Vec::new();
        let wide = 1.1;
        for place in inwards {
            let y = self.heads[place].y;
            let free = |column: &Vec<f64>| column.iter().all(|other| (other - y).abs() >= APART);
            let column = columns.iter().position(free).unwrap_or_else(|| {
                columns.push(Vec::new());
                columns.len() - 1
            });
            columns[column].push(y);
            if let Some((name, x)) = &mut self.heads[place].accidental {
                let width = sign(name).width();
                *x = edge - NEXT - column as f64 * wide - width;
            }
        }
    }

    fn ghost_room(&self) -> f64 {
        let any = self.heads.iter().any(|head| head.note.ghost);
        let maybe = self.event.signs.contains(&Sign::Maybe);
        f64::from(u8::from(any)) * 0.5 + f64::from(u8::from(maybe)) * 0.5
    }

    fn ledger_room(&self) -> f64 {
        let (top, bottom) = self.heights();
        match top <= -1.0 || bottom >= 5.0 {
            true => LEDGER - NEXT,
            false => 0.0,
        }
    }

    fn reach_right(&mut self) {
        let heads = self.heads.iter().map(|head| head.x + sign(head.sign).width());
        let mut right = heads.fold(0.0, f64::max) + self.ghost_room();
        let lonely = self.event.beams == 0 && self.up && self.stem && flags(self.event.value.part) > 0;
        if lonely {
            // Where it is the end of a beam, this is more than it needs, by less than a space.
            right = right.max(self.stem_x() + 1.0);
        }
        if self.event.value.dots > 0 {
            right += 0.3 + 0.6 * f64::from(self.event.value.dots);
        }
        let leaves = |leave: fn(&Leave) -> bool| {
            self.heads
                .iter()
                .any(|head| head.note.leave.as_ref().is_some_and(leave))
        };
        if leaves(|leave| *leave == Leave::Fall) {
            right += 1.2;
        }
        if leaves(|leave| matches!(leave, Leave::Bend(_))) {
            right += 1.5;
        }
        self.right = right + self.ledger_room().max(0.0);
    }

    fn reach_left(&mut self) {
        let heads = self.heads.iter().fold(0.0, |left: f64, head| left.min(head.x));
        let bare = heads - self.ghost_room() - self.ledger_room().max(0.0);
        let accidentals = self.heads.iter().filter_map(|head| head.accidental);
        let mut left = accidentals.fold(bare, |left, (_, x)| left.min(x));
        let comes = |approach| self.heads.iter().any(|head| head.note.approach == Some(approach));
        if comes(Approach::Scoop) || comes(Approach::Slide) {
            left -= 1.1;
        }
        self.left = -left;
    }

    fn place_graces(&mut self, graces: Vec<Vec<(Head, Pitch, Option<&'static str>)>>) {
        let mut x = -self.left - 0.35;
        for grace in graces.into_iter().rev() {
            let heads: Vec<_> = grace
                .into_iter()
                .map(|(head, pitch, accidental)| (head_sign(head, 8), pitch.y, accidental))
                .collect();
            let width = heads
                .iter()
                .map(|head| sign(head.0).width() * SMALL)
                .fold(0.0, f64::max);
            x -= width.max(GRACE);
            self.graces.insert(0, GraceShape { x, heads });
            if self.graces[0].heads.iter().any(|head| head.2.is_some()) {
                x -= 0.8;
            }
        }
        if !self.graces.is_empty() {
            self.left = -x;
        }
    }

    /// Moves it right of its column.
    pub(super) fn shift(&mut self, by: f64) {
        self.shift += by;
        self.left -= by;
        self.right += by;
    }
}
