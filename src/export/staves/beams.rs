//! Stems, flags and beams of one voice in one bar.
//!
//! Lengths and slopes after E. Gould, "Behind Bars" (stems, beams) [memory]: a stem is three and a half spaces long and
//! reaches the middle line; a beam leans by half of its outer notes' interval, a space at most, and lies flat where a note
//! between them is nearer to it.

use super::bar::beam_groups;
use super::ink::{Ink, thick};
use super::shape::{Shape, flags};
use crate::notation::{Clef, Event};

/// A stem's length in staff spaces.
const STEM: f64 = 3.5;
/// A stem's length outside of the staff, where another voice has the other side.
const SHORT_STEM: f64 = 3.0;
/// From one beam to the next.
const STEP: f64 = thick::BEAM + 0.25;
/// The longest broken beam.
const STUB: f64 = 1.1;

/// Draws stems, flags and beams; gives the height of each stem's tip, and of the head's edge where there is no stem.
/// `columns` are where the shapes stand.
pub(super) fn draw(ink: &mut Ink, shapes: &[Shape], columns: &[f64], clef: Clef) -> Vec<f64> {
    let events: Vec<&Event> = shapes.iter().map(|shape| shape.event).collect();
    let mut tips: Vec<f64> = shapes.iter().map(lone_tip).collect();
    let mut beamed = vec![false; shapes.len()];
    for group in beam_groups(&events) {
        let members: Vec<usize> = group
            .clone()
            .filter(|place| shapes[*place].stem && !shapes[*place].rests() && flags(events[*place].value.part) > 0)
            .collect();
        if members.len() > 1 {
            let beam = Beam::over(shapes, columns, &members, clef);
            for place in &members {
                tips[*place] = beam.at(columns[*place] + shapes[*place].stem_x());
                beamed[*place] = true;
            }
            beam.draw(ink, shapes, columns, &members);
        }
    }
    for (place, shape) in shapes
        .iter()
        .enumerate()
        .filter(|(_, shape)| shape.stem && !shape.rests())
    {
        let x = columns[place] + shape.stem_x();
        ink.line((x, stem_start(shape)), (x, tips[place]), thick::STEM);
        if !beamed[place] {
            flag(ink, shape, x, tips[place]);
        }
    }
    tips
}

/// Where a stem leaves its head.
fn stem_start(shape: &Shape) -> f64 {
    let (start, _) = shape.ends();
    let sign = super::signs::sign(start.sign);
    start.y + if shape.up { sign.stem_up.1 } else { sign.stem_down.1 }
}

/// The tip of a stem that no beam joins.
fn lone_tip(shape: &Shape) -> f64 {
    if shape.rests() {
        return 2.0;
    }
    let (_, end) = shape.ends();
    let outside = shape.shared && (shape.up && end.y < 0.5 || !shape.up && end.y > 3.5);
    let length = if outside { SHORT_STEM } else { STEM };
    match (shape.stem, shape.up) {
        (true, true) => (end.y - length).min(2.0),
        (true, false) => (end.y + length).max(2.0),
        (false, true) => end.y - 0.6,
        (false, false) => end.y + 0.6,
    }
}

fn flag(ink: &mut Ink, shape: &Shape, x: f64, tip: f64) {
    let sign = match (flags(shape.event.value.part), shape.up) {
        (0, _) => return,
        (1, true) => "flag8thUp",
        (1, false) => "flag8thDown",
        (2, true) => "flag16thUp",
        (2, false) => "flag16thDown",
        (3, true) => "flag32ndUp",
        (3, false) => "flag32ndDown",
        (4, true) => "flag64thUp",
        (4, false) => "flag64thDown",
        (_, true) => "flag128thUp",
        (_, false) => "flag128thDown",
    };
    ink.sign(sign, x - thick::STEM / 2.0, tip);
}

/// The outer edge of a group's first beam: a straight line.
struct Beam {
    x: f64,
    y: f64,
    slope: f64,
    up: bool,
}

impl Beam {
    fn over(shapes: &[Shape], columns: &[f64], members: &[usize], clef: Clef) -> Beam {
        let up = shapes[members[0]].up;
        let x = |place: usize| columns[place] + shapes[place].stem_x();
        let near = |place: usize| shapes[place].ends().1.y;
        let (first, last) = (members[0], members[members.len() - 1]);
        let across = (x(last) - x(first)).max(0.1);
        let slope = match clef {
            Clef::Percussion => 0.0,
            _ => {
                lean(
                    &members.iter().map(|place| near(*place)).collect::<Vec<_>>(),
                    up,
                    across,
                ) / across
            }
        };
        let beams = members.iter().map(|place| flags(shapes[*place].event.value.part)).max();
        let shared_short = f64::from(u8::from(shapes[first].shared)) * 0.25;
        let length = match beams.unwrap_or(1) {
            0 | 1 => 3.0,
            2 => 3.25,
            more => 3.25 + STEP * f64::from(more - 2),
        } - shared_short;
        let towards = if up { -1.0 } else { 1.0 };
        // The line that is as near as every note's shortest stem lets it be, and reaches the middle line.
        let limit = members.iter().map(|place| {
            let least = near(*place) + towards * length;
            let least = if up { least.min(2.0) } else { least.max(2.0) };
            least - slope * (x(*place) - x(first))
        });
        let y = match up {
            true => limit.fold(f64::INFINITY, f64::min),
            false => limit.fold(f64::NEG_INFINITY, f64::max),
        };
        let quarter = match up {
            true => (y * 4.0).floor() / 4.0,
            false => (y * 4.0).ceil() / 4.0,
        };
        Beam {
            x: x(first),
            y: quarter,
            slope,
            up,
        }
    }

    fn at(&self, x: f64) -> f64 {
        self.y + self.slope * (x - self.x)
    }

    fn draw(&self, ink: &mut Ink, shapes: &[Shape], columns: &[f64], members: &[usize]) {
        let x = |place: usize| columns[place] + shapes[place].stem_x();
        let most = members.iter().map(|place| flags(shapes[*place].event.value.part)).max();
        // How many beams join a member to the next one: the fewest on the way, where rests lie between them.
        let joined: Vec<u8> = members
            .windows(2)
            .map(|pair| {
                (pair[0]..pair[1])
                    .map(|place| shapes[place].event.beams)
                    .min()
                    .unwrap_or(0)
            })
            .collect();
        for level in 1..=most.unwrap_or(1) {
            for (pair, joined) in members.windows(2).zip(&joined) {
                if *joined >= level {
                    self.piece(ink, level, x(pair[0]), x(pair[1]));
                }
            }
            for (order, place) in members.iter().enumerate() {
                let before = order.checked_sub(1).map(|before| joined[before]);
                let behind = joined.get(order).copied();
                let own = flags(shapes[*place].event.value.part);
                if own < level || before.unwrap_or(0).max(behind.unwrap_or(0)) >= level {
                    continue;
                }
                // A broken beam points to what the note belongs to: inwards, and backwards in between.
                match before {
                    Some(_) => {
                        let room = (x(*place) - x(members[order - 1])) / 2.0;
                        self.piece(ink, level, x(*place) - STUB.min(room), x(*place));
                    }
                    None => {
                        let room = (x(members[order + 1]) - x(*place)) / 2.0;
                        self.piece(ink, level, x(*place), x(*place) + STUB.min(room));
                    }
                }
            }
        }
    }

    fn piece(&self, ink: &mut Ink, level: u8, left: f64, right: f64) {
        let inwards = if self.up { 1.0 } else { -1.0 };
        let half = thick::STEM / 2.0;
        let (left, right) = (left - half, right + half);
        let outer = inwards * STEP * f64::from(level - 1);
        let inner = outer + inwards * thick::BEAM;
        let (from, to) = (self.at(left), self.at(right));
        ink.area(&[
            (left, from + outer),
            (right, to + outer),
            (right, to + inner),
            (left, from + inner),
        ]);
    }
}

/// How far a beam leans from its first to its last note, downwards where positive.
fn lean(heights: &[f64], up: bool, across: f64) -> f64 {
    let [first, inner @ .., last] = heights else { return 0.0 };
    let nearer = |y: &f64| match up {
        true => *y <= first.min(*last),
        false => *y >= first.max(*last),
    };
    if inner.iter().any(nearer) {
        return 0.0;
    }
    let most = if across < 5.0 { 0.5 } else { 1.0 };
    let interval = last - first;
    (interval.abs() / 2.0).min(most).copysign(interval)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beams_lean_little_and_lie_flat_where_notes_turn() {
        assert_eq!(lean(&[3.0, 2.5, 2.0], true, 9.0), -0.5);
        assert_eq!(lean(&[3.0, 0.0], true, 9.0), -1.0);
        assert_eq!(lean(&[3.0, 0.0], true, 3.0), -0.5);
        assert_eq!(lean(&[2.0, 2.0], false, 9.0), 0.0);
        // The note in the middle is nearer to the beam than both ends.
        assert_eq!(lean(&[3.0, 1.0, 2.0], true, 9.0), 0.0);
        assert_eq!(lean(&[0.0, 3.0, 1.0], false, 9.0), 0.0);
    }
}
