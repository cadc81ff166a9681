//! Shares with their intervals, one under another over a scale from 0 to 100 %.

use super::Picture;
use super::drawing::{Drawing, Ink, Mark, fitting};
use super::frame::{EDGE, WIDTH, heading};

/// The width of names at the left.
const NAMES: f32 = 330.0;
/// The width of words at the right.
const WORDS: f32 = 250.0;
/// A row's height.
const ROW: f32 = 30.0;

/// One share.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    /// What it is of.
    pub name: String,
    /// The share and the ends of its interval, from 0 to 1.
    pub share: [f64; 3],
    /// What there is to say of it.
    pub words: String,
}

/// Groups of shares.
#[derive(Debug, Clone)]
pub(crate) struct Shares {
    /// The title of what was listened to.
    pub title: String,
    /// What there is to say of it in a few words each.
    pub about: Vec<String>,
    /// Each group's heading and its rows.
    pub groups: Vec<(String, Vec<Row>)>,
}

impl Shares {
    /// Draws a dot for each share and a line for its interval; chance, one in two, is the accent's line.
    pub(crate) fn picture(&self) -> Picture {
        let tells = format!("{}: shares of answers with their intervals", self.title);
        let mut drawing = Drawing::new(WIDTH, tells);
        let (left, right) = (EDGE + NAMES, WIDTH - EDGE - WORDS);
        let x = |share: f64| left + (right - left) * share.clamp(0.0, 1.0) as f32;
        let mut y = heading(&mut drawing, &self.title, &self.about);
        for (name, rows) in &self.groups {
            y += 34.0;
            let room = WIDTH - 2.0 * EDGE;
            drawing.words((EDGE, y), 15.0, Ink::Black, fitting(name, 15.0, room));
            y += 10.0;
            let foot = y + ROW * rows.len() as f32 + 6.0;
            for percent in [0, 25, 50, 75, 100] {
                let at = x(f64::from(percent) / 100.0);
                let ink = if percent == 50 { Ink::Accent } else { Ink::Hair };
                drawing.upright(at, y, foot, 0.8, ink);
                drawing.words((at - 8.0, foot + 13.0), 11.0, Ink::Soft, format!("{percent} %"));
            }
            for row in rows {
                y += ROW;
                let middle = y - ROW / 2.0 + 4.0;
                drawing.words(
                    (EDGE, middle + 4.0),
                    13.0,
                    Ink::Black,
                    fitting(&row.name, 13.0, NAMES - 12.0),
                );
                drawing.level(middle, x(row.share[1]), x(row.share[2]), 1.6, Ink::Black);
                for end in &row.share[1..] {
                    drawing.upright(x(*end), middle - 5.0, middle + 5.0, 1.6, Ink::Black);
                }
                drawing.marks.push(Mark::Dot {
                    at: (x(row.share[0]), middle),
                    radius: 4.5,
                    ink: Ink::Black,
                });
                let words = fitting(&row.words, 12.0, WORDS - 14.0);
                drawing.words((right + 14.0, middle + 4.0), 12.0, Ink::Soft, words);
            }
            y = foot + 18.0;
        }
        drawing.height = y + EDGE;
        Picture(drawing)
    }
}
