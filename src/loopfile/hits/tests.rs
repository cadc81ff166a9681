//! The whole reading, from a part as written to its strokes.

use super::*;
use crate::loopfile::{Exact, WrittenBars, WrittenPlay};
use crate::text::Source;

/// A string of a loop file, between quotes.
pub fn words(text: &str) -> Words {
    Words {
        text: text.to_string(),
        source: Source::new("night-ferry.toml", format!("\"{text}\"")),
        start: 1,
        literal: 0..text.len() + 2,
        plain: true,
    }
}

/// A part of a piece of its own name, with lines of tablature.
pub fn part(name: &str, lines: &[(&str, &str)]) -> WrittenPart {
    let line = |(bars, play): &(&str, &str)| WrittenBars {
        bars: words(bars),
        play: WrittenPlay::Line(words(play)),
    };
    WrittenPart {
        name: words(name),
        piece: words(name),
        marks: Vec::new(),
        lines: lines.iter().map(line).collect(),
    }
}

/// The text that a problem points at.
pub fn pointed_at(problem: &Problem) -> &str {
    let place = problem.place.as_ref().expect("the problem has a place");
    &place.source.text[place.span.clone()]
}

fn metre(counts: u32, unit: u32) -> Time {
    Time {
        tempo: 92.0,
        beat: Exact::new(1, 4),
        counts,
        unit,
    }
}

fn heard(parts: &[WrittenPart], bars: u32) -> Vec<ReadPart> {
    let mut problems = Vec::new();
    let read = read(parts, &metre(4, 4), bars, &mut problems);
    assert_eq!(problems, []);
    read
}

/// Places as numerators over one denominator.
fn places(read: &ReadPart, over: i128) -> Vec<i128> {
    let scaled = read.strokes.iter().map(|stroke| stroke.at * over);
    scaled
        .inspect(|at| assert!(at.is_integer(), "{at} is off the grid"))
        .map(|at| at.to_integer())
        .collect()
}

/// One part of one line, in one bar.
fn line(marks: &str, over: i128) -> Vec<i128> {
    places(&heard(&[part("snare", &[("all", marks)])], 1)[0], over)
}

#[test]
fn marks_share_the_bar_however_many() {
    assert_eq!(line("xxxxxxxxxxxxxxxx", 16), (0..16).collect::<Vec<_>>());
    assert_eq!(line("xxxxxxxxxxxx", 12), (0..12).collect::<Vec<_>>());
    assert_eq!(line("xxxxx", 5), [0, 1, 2, 3, 4]);
    assert_eq!(line("x-xx-xx", 7), [0, 2, 3, 5, 6]);
    assert_eq!(line("x--- -x-- x--x ---x", 16), [0, 5, 8, 11, 15]);
}
