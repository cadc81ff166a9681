//! Bars become strokes: each mark is given what it plays, each bar put in its place.

use super::MOST_STROKES;
use super::grid::{Cell, Grid};
use super::line::Line;
use super::marks::{Meaning, On, Vocabulary};
use super::reading::{Bar, Marked};
use crate::loopfile::marks::PLAIN_MARK;
use crate::loopfile::{Exact, HitPart, Stroke, Words};
use crate::text::{Problem, count_of};

/// The pieces and strokes of every part. Parts past the first that brings too many strokes are silent.
pub(crate) fn assemble(
    parts: &[HitPart],
    vocabularies: &[Vocabulary],
    lines: &[Vec<Line>],
    grid: &Grid,
    problems: &mut Vec<Problem>,
) -> Vec<(Vec<Words>, Vec<Stroke>)> {
    let mut strokes = 0;
    let mut read = Vec::with_capacity(parts.len());
    for (number, part) in parts.iter().enumerate() {
        let cells = grid.part(number);
        let before = strokes;
        strokes += cells
            .iter()
            .filter_map(|cell| played(*cell, lines))
            .map(|(bar, _)| bar.len())
            .sum::<usize>();
        let mut player = StrokeWriter {
            vocabulary: &vocabularies[number],
            unknown: Vec::new(),
            pieces: vec![part.piece.clone()],
            strokes: Vec::new(),
        };
        if strokes <= MOST_STROKES {
            player.strokes.reserve_exact(strokes - before);
            for (cell, bar) in cells.iter().zip(0i128..) {
                if let Some((marks, from)) = played(*cell, lines) {
                    for marked in marks {
                        let scale = grid.swell(number, bar as usize, marked.at);
                        player.play(marked, bar, scale, &vocabularies[from]);
                    }
                }
            }
        } else if before <= MOST_STROKES {
            let brings = count_of(strokes - before, "stroke");
            let what = format!(
                "with the {brings} of `{}` the loop has {strokes}; {MOST_STROKES} are the most",
                part.name.text
            );
            problems.push(Problem::at(&part.name.whole(), what).help("shorten the loop, or write fewer marks"));
        }
        problems.append(&mut player.unknown);
        read.push((player.pieces, player.strokes));
    }
    read
}

/// The marks that a bar plays, and the part that wrote them.
fn played(cell: Cell, lines: &[Vec<Line>]) -> Option<(&Bar, usize)> {
    let Cell::Line { part, line, nth } = cell else {
        return None;
    };
    match &lines[part as usize][line as usize] {
        Line::Bars(bars) if !bars.is_empty() => Some((&bars[nth as usize % bars.len()], part as usize)),
        _ => None,
    }
}

struct StrokeWriter<'a> {
    vocabulary: &'a Vocabulary<'a>,
    /// Marks that mean something in other bars only than those in which they stand.
    unknown: Vec<Problem>,
    pieces: Vec<Words>,
    strokes: Vec<Stroke>,
}

impl StrokeWriter<'_> {
    /// Plays a mark that stands in a part of the vocabulary `written`, which is another part's where it is borrowed.
    fn play(&mut self, marked: &Marked, bar: i128, scale: f64, written: &Vocabulary) {
        let here = u32::try_from(bar).unwrap_or(u32::MAX);
        let own = self.vocabulary.meaning_in(here, marked.mark);
        let mark = if own.is_some() { marked.mark } else { PLAIN_MARK };
        let Some(Meaning {
            velocity,
            plain,
            manner,
            on,
        }) = own.or_else(|| {
            let meaning = written.meaning_in(here, marked.mark)?;
            Some(Meaning { on: On::Own, ..meaning })
        })
        else {
            let what = format!("`{}` is no mark in bar {}, only in other bars", marked.mark, bar + 1);
            if !self
                .unknown
                .iter()
                .any(|other| other.place.as_ref() == Some(&marked.place))
            {
                let problem = Problem::at(&marked.place, what);
                self.unknown
                    .push(problem.help("tell it in the part's own `marks`, and what is different in `[part.change]`"));
            }
            return;
        };
        let piece = self.piece(on, marked);
        let (within, parts) = (*marked.at.numer(), *marked.at.denom());
        // In lowest terms already: whole bars share no divisor with the denominator that the place within the bar has not.
        let at = Exact::new_raw(bar * parts + within, parts);
        self.strokes.push(Stroke {
            at,
            step: marked.step,
            piece,
            velocity,
            plain,
            shift: marked.shift,
            pitch: None,
            sounds: None,
            word: None,
            expression: None,
            mark,
            manner,
            scale,
        });
    }

    /// The number of a piece among the part's, a new one where it did not play before.
    fn piece(&mut self, on: On, marked: &Marked) -> usize {
        let name = match on {
            On::Own => return 0,
            On::Named(piece) => &piece.text,
            On::Hat(name) => name,
        };
        if let Some(known) = self.pieces.iter().position(|piece| piece.text == name) {
            return known;
        }
        self.pieces.push(match on {
            On::Named(piece) => piece.clone(),
            // Nobody wrote the name: it is asked for where the mark stands.
            _ => Words::unwritten(name, &marked.place),
        });
        self.pieces.len() - 1
    }
}
