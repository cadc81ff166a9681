//! A line of a sheet: some bars with all that stands above, in and below them.

use super::drawing::{Drawing, Ink, Mark, fitting};
use super::frame::{COLUMNS, EDGE, Frame, WIDTH, barlines, counts, ruler};
use super::lettering;
use super::rows::{Row, Struck, SweptRow};
use crate::base::audio::Audio;
use crate::export::bars::Bars;
use crate::export::outline;

/// The lettering's size of chord symbols.
const SYMBOL: f32 = 14.0;
/// How far lines of chord symbols are apart.
pub(super) const SYMBOL_LINE: f32 = 18.0;

/// How a sheet ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Finish {
    /// With a repeat sign.
    Repeat,
    /// It has a tail after the last bar.
    Ring,
    /// With a final barline.
    Damp,
}

/// Where a line lies, and what is in it.
#[derive(Debug, Clone)]
pub(super) struct Line {
    /// Its bars.
    pub bars: Bars,
    /// The section that its first bar goes on with; empty where there is none or one begins.
    pub begun: String,
    /// The frames of audio from which to which it reaches.
    pub frames: (usize, usize),
    /// How many frames before each of the two something may begin and yet belong behind it: what is played a little early.
    pub early: (f64, f64),
    /// Where it begins.
    pub left: f32,
    /// How wide it is.
    pub width: f32,
    /// True for the last one.
    pub last: bool,
    /// True where there is no other.
    pub alone: bool,
    /// In how many lines its chord symbols stand.
    pub symbol_lines: usize,
}

/// A chord symbol of a line.
pub(super) struct Symbol<'a> {
    x: f32,
    text: &'a str,
    /// Which of the lines of symbols it stands in, from the lowest up.
    pub line: usize,
}

impl Line {
    fn frame(&self) -> Frame {
        Frame::of(self.left, self.width, (self.frames.0 as f64, self.frames.1 as f64))
    }

    /// True where what begins at a frame stands in it. What drifts before the first frame stands in the first line.
    pub(super) fn begins(&self, frame: f64) -> bool {
        let (from, to) = (self.frames.0 as f64 - self.early.0, self.frames.1 as f64 - self.early.1);
        (frame >= from || self.frames.0 == 0) && (frame < to || self.last)
    }

    /// True where something sounds in it from one frame to another.
    pub(super) fn holds(&self, from: f64, to: f64) -> bool {
        from < self.frames.1 as f64 - self.early.1 && to > self.frames.0 as f64 + self.early.0
    }

    /// True where a part has a row: where it plays, or where there is no other line.
    pub(super) fn shows(&self, row: &Row) -> bool {
        let begins = |frame: f64| self.holds(frame, frame + 1.0);
        self.alone
            || row
                .hits
                .iter()
                .any(|hit| begins(hit.frame) || self.holds(hit.frame, hit.ends()))
    }

    /// True where something is swept.
    pub(super) fn sweeps(&self, row: &SweptRow) -> bool {
        row.pieces.iter().any(|piece| self.holds(piece.from.0, piece.to.0))
    }

    /// Its chords, none cut: one that has no room beside the one before it stands above it.
    pub(super) fn symbols<'a>(&self, chords: &'a [(f64, String)]) -> Vec<Symbol<'a>> {
        let frame = self.frame();
        let (from, to) = (self.frames.0 as f64, self.frames.1 as f64);
        // What began before the line is said again at its beginning.
        let begun = chords.iter().rev().find(|(at, _)| *at <= from + 1.0);
        let later = chords.iter().filter(|(at, _)| *at > from + 1.0 && *at < to - 1.0);
        let mut ends: Vec<f32> = Vec::new();
        let mut symbols = Vec::new();
        for (at, text) in begun.into_iter().chain(later).filter(|(_, text)| !text.is_empty()) {
            let width = lettering::width(text, SYMBOL);
            let x = (frame.x(*at) + 3.0).min(WIDTH - 6.0 - width);
            let free = ends.iter().position(|end| end + 6.0 <= x).unwrap_or(ends.len());
            ends.resize(ends.len().max(free + 1), 0.0);
            ends[free] = x + width;
            symbols.push(Symbol { x, text, line: free });
        }
        symbols
    }
}

/// A line, ready to be drawn.
pub(super) struct Drawn<'a> {
    pub line: &'a Line,
    pub rows: &'a [Row],
    pub sweeps: &'a [SweptRow],
    /// Every change of chord: the frame and the symbol.
    pub chords: &'a [(f64, String)],
    pub finish: Finish,
    pub audio: &'a Audio,
    /// The peak of all audio.
    pub loudest: f32,
    /// Half a waveform's height.
    pub half: f32,
}

impl Drawn<'_> {
    /// Draws it from a height on; gives where it ends.
    pub(super) fn draw(&self, drawing: &mut Drawing, y: f32) -> f32 {
        let Drawn { line, half, .. } = *self;
        let frame = line.frame();
        let top = ruler(drawing, &frame, &line.bars, &line.begun, y);
        let mut y = top + half + 6.0;
        let columns = ((COLUMNS as f32 * frame.width / (WIDTH - EDGE - frame.left)) as usize).max(1);
        let columns = outline::columns_of(self.audio, line.frames.0..line.frames.1, columns);
        drawing.wave(&columns, (frame.left, y), (frame.width, half), self.loudest, Ink::Black);
        y += half + 6.0;
        let height = line.symbol_lines as f32 * SYMBOL_LINE;
        for symbol in line.symbols(self.chords) {
            let y = y + height - symbol.line as f32 * SYMBOL_LINE;
            drawing.words((symbol.x, y), SYMBOL, Ink::Accent, symbol.text);
        }
        y += height + 6.0;
        let (from, to) = (line.frames.0 as f64, line.frames.1 as f64);
        let seen = |hit: &Struck| (line.begins(hit.frame), line.holds(hit.frame, hit.ends()));
        for row in self.rows.iter().filter(|row| line.shows(row)) {
            row.draw(drawing, &frame, &seen, (from, to), y);
            y += row.height();
        }
        for row in self.sweeps.iter().filter(|row| line.sweeps(row)) {
            row.draw(drawing, &frame, (from, to), y);
            y += SweptRow::HEIGHT;
        }
        let foot = y + 6.0;
        barlines(drawing, &frame, &line.bars, (top, foot));
        match line.last {
            true => self.finish_sign(drawing, &frame, (top, foot)),
            false => drawing.upright(frame.x(line.bars.end as f64), top, foot, 0.8, Ink::Soft),
        }
        counts(drawing, &frame, &line.bars, foot)
    }

    /// The last barline: thin and thick after the last bar, with the repeat's two dots before it; a plain one where it
    /// rings on.
    fn finish_sign(&self, drawing: &mut Drawing, frame: &Frame, (top, foot): (f32, f32)) {
        let x = frame.x(self.line.bars.end as f64);
        let finish = self.finish;
        match finish {
            Finish::Repeat | Finish::Damp => {
                drawing.upright(x + 12.0, top, foot, 1.0, Ink::Black);
                drawing.upright(x + 17.0, top, foot, 3.5, Ink::Black);
            }
            Finish::Ring => {
                drawing.upright(x, top, foot, 1.5, Ink::Black);
                let rings = self.audio.frames().saturating_sub(self.line.bars.end);
                let rings = format!("rings {:.1} s", rings as f64 / f64::from(self.audio.rate));
                let width = lettering::width(&rings, 12.0);
                let words = fitting(&rings, 12.0, WIDTH - EDGE);
                drawing.words(
                    ((x + 4.0).min(WIDTH - 6.0 - width), foot + 14.0),
                    12.0,
                    Ink::Soft,
                    words,
                );
            }
        }
        if finish == Finish::Repeat {
            let middle = (top + foot) / 2.0;
            for y in [middle - 6.0, middle + 6.0] {
                drawing.marks.push(Mark::Dot {
                    at: (x + 6.0, y),
                    radius: 2.5,
                    ink: Ink::Black,
                });
            }
        }
    }
}
