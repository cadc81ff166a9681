//! The figures of tuplets, and their brackets where no beam says which notes belong to them.

use super::bar::beam_groups;
use super::curves::Placed;
use super::ink::{Ink, thick};
use super::signs::sign;

const DIGITS: [&str; 10] = [
    "tuplet0", "tuplet1", "tuplet2", "tuplet3", "tuplet4", "tuplet5", "tuplet6", "tuplet7", "tuplet8", "tuplet9",
];

/// Draws the tuplets of one voice in one bar.
pub(super) fn draw(ink: &mut Ink, placed: &[Placed]) {
    let events: Vec<_> = placed.iter().map(|placed| placed.shape.event).collect();
    let groups = beam_groups(&events);
    let mut begins = None;
    for (place, event) in events.iter().enumerate() {
        let Some(tuplet) = event.tuplet else { continue };
        if tuplet.begins {
            begins = Some(place);
        }
        if let Some(first) = begins.filter(|_| tuplet.ends) {
            let beamed = groups.iter().any(|group| *group == (first..place + 1));
            one(ink, &placed[first..=place], tuplet.notes, beamed);
            begins = None;
        }
    }
}

fn one(ink: &mut Ink, placed: &[Placed], notes: u32, beamed: bool) {
    let sounding = placed.iter().filter(|placed| !placed.shape.rests());
    let (up, down): (Vec<&Placed>, Vec<&Placed>) = sounding.partition(|placed| placed.shape.up);
    let lower_voice = placed[0].shape.shared && placed[0].shape.voice > 0;
    let above = !lower_voice && up.len() >= down.len();
    let (left, right) = (placed[0].x + placed[0].shape.shift, {
        let last = &placed[placed.len() - 1];
        last.x + last.shape.shift + 1.2
    });
    let digits: Vec<&'static str> = notes
        .to_string()
        .bytes()
        .map(|digit| DIGITS[usize::from(digit - b'0')])
        .collect();
    let width: f64 = digits.iter().map(|digit| sign(digit).width()).sum();
    let heights = placed.iter().filter(|placed| !placed.shape.rests()).map(|placed| {
        let (top, bottom) = placed.shape.heights();
        match (above, placed.shape.up == above && placed.shape.stem) {
            (_, true) => placed.tip,
            (true, false) => top - 0.6,
            (false, false) => bottom + 0.6,
        }
    });
    let y = match above {
        true => heights.fold(0.0, f64::min) - 0.45,
        false => heights.fold(4.0, f64::max) + 0.45,
    };
    let middle = (left + right) / 2.0;
    let digit_height = 1.5;
    let y = if beamed { y } else { y + if above { -0.4 } else { 0.4 } };
    let baseline = if above { y } else { y + digit_height };
    let mut x = middle - width / 2.0;
    for digit in digits {
        ink.sign(digit, x - sign(digit).reach[0], baseline);
        x += sign(digit).width();
    }
    if beamed {
        return;
    }
    let line = baseline - digit_height / 2.0;
    let hook = if above { line + 0.7 } else { line - 0.7 };
    let gap = width / 2.0 + 0.3;
    for (edge, inner) in [(left, middle - gap), (right, middle + gap)] {
        ink.line((edge, hook), (edge, line), thick::STEM);
        if (inner - middle) * (edge - inner) > 0.0 {
            ink.line((edge, line), (inner, line), thick::STEM);
        }
    }
}
