//! A loop or a form on one sheet: waveform, chords, what each part plays, and how it ends.

use super::Picture;
use super::drawing::{Drawing, Ink, Mark, fitting};
use super::lettering;
use crate::base::audio::{Audio, peak};
use crate::export::bars::Bars;
use crate::export::outline;

/// The sheet's width.
pub(super) const WIDTH: f32 = 1200.0;
/// The space round it.
pub(super) const EDGE: f32 = 28.0;
/// Columns of a waveform.
pub(super) const COLUMNS: usize = 1600;
/// Half a waveform's height.
const HALF: f32 = 52.0;
/// A part's height.
const ROW: f32 = 26.0;
/// How high a hit of velocity 127 stands.
const TALL: f32 = 19.0;
/// The widest that names at the left may be.
const NAMES: f32 = 220.0;

/// How a sheet ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Finish {
    /// With a repeat sign.
    Repeat,
    /// It rings out behind the last bar.
    Ring,
    /// With a final barline.
    Damp,
}

/// A hit on a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Struck {
    /// The frame at which it sounds.
    pub frame: f64,
    /// How hard, from 1 to 127.
    pub velocity: f64,
}

/// What one part plays.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row {
    /// The part.
    pub name: String,
    /// True where it is not to be heard.
    pub silenced: bool,
    /// Its hits.
    pub hits: Vec<Struck>,
}

/// What a sheet shows.
#[derive(Debug, Clone)]
pub(crate) struct Sheet<'a> {
    /// Its title.
    pub title: String,
    /// What there is to say of it in a few words each: tempo, metre, key.
    pub about: Vec<String>,
    /// The finished audio.
    pub audio: &'a Audio,
    /// Its bars.
    pub bars: Bars,
    /// The parts from the top down.
    pub rows: Vec<Row>,
    /// The frames at which chords change, and to which symbol; an empty one where there is none.
    pub chords: Vec<(f64, String)>,
    /// How it ends.
    pub finish: Finish,
}

impl Sheet<'_> {
    /// Draws it.
    pub(crate) fn picture(&self) -> Picture {
        let tells = format!("{}: waveform and parts over {} bars", self.title, self.bars.bars.len());
        let mut drawing = Drawing::new(WIDTH, tells);
        let names = self.rows.iter().map(|row| lettering::width(&row.name, 13.0));
        let left = EDGE + names.fold(60.0, f32::max).min(NAMES) + 14.0;
        let frame = Frame::new(left, self.audio.frames());
        let mut y = heading(&mut drawing, &self.title, &self.about);
        let top = ruler(&mut drawing, &frame, &self.bars, y);
        y = top + HALF + 6.0;
        let columns = outline::columns(self.audio, self.audio.frames(), COLUMNS);
        let loudest = peak(&self.audio.channels);
        drawing.wave(&columns, (left, y), (frame.width, HALF), loudest, Ink::Black);
        y += HALF + 6.0;
        if !self.chords.is_empty() {
            y += 20.0;
            self.chord_line(&mut drawing, &frame, y);
            y += 4.0;
        }
        for row in &self.rows {
            y += ROW;
            draw_row(&mut drawing, &frame, row, y);
        }
        let foot = y + 6.0;
        barlines(&mut drawing, &frame, &self.bars, (top, foot));
        self.finish_sign(&mut drawing, &frame, (top, foot));
        drawing.height = counts(&mut drawing, &frame, &self.bars, foot) + EDGE;
        Picture(drawing)
    }

    fn chord_line(&self, drawing: &mut Drawing, frame: &Frame, y: f32) {
        let ends = self
            .chords
            .iter()
            .skip(1)
            .map(|(at, _)| *at)
            .chain([self.bars.end as f64]);
        for ((at, symbol), end) in self.chords.iter().zip(ends) {
            let room = frame.x(end) - frame.x(*at) - 4.0;
            let size = (14.0 * room / lettering::width(symbol, 14.0).max(1.0)).clamp(9.0, 14.0);
            drawing.words((frame.x(*at) + 3.0, y), size, Ink::Accent, fitting(symbol, size, room));
        }
    }

    /// The last barline: thin and thick behind the last bar, with the repeat's two dots before it; a plain one where it
    /// rings on.
    fn finish_sign(&self, drawing: &mut Drawing, frame: &Frame, (top, foot): (f32, f32)) {
        let x = frame.x(self.bars.end as f64);
        match self.finish {
            Finish::Repeat | Finish::Damp => {
                drawing.upright(x + 12.0, top, foot, 1.0, Ink::Black);
                drawing.upright(x + 17.0, top, foot, 3.5, Ink::Black);
            }
            Finish::Ring => {
                drawing.upright(x, top, foot, 1.5, Ink::Black);
                drawing.words(
                    (x + 4.0, foot + 14.0),
                    12.0,
                    Ink::Soft,
                    fitting("rings", 12.0, WIDTH - x - 4.0),
                );
            }
        }
        if self.finish == Finish::Repeat {
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

/// Where time lies on a sheet.
pub(super) struct Frame {
    pub left: f32,
    pub width: f32,
    frames: f64,
}

impl Frame {
    pub(super) fn new(left: f32, frames: usize) -> Frame {
        Frame {
            left,
            width: WIDTH - EDGE - left,
            frames: frames.max(1) as f64,
        }
    }

    /// The place of a frame of audio.
    pub(super) fn x(&self, frame: f64) -> f32 {
        self.left + self.width * (frame / self.frames).clamp(0.0, 1.0) as f32
    }
}

/// Title and what there is to say; gives where it ends.
pub(super) fn heading(drawing: &mut Drawing, title: &str, about: &[String]) -> f32 {
    let room = WIDTH - 2.0 * EDGE;
    drawing.words((EDGE, EDGE + 22.0), 26.0, Ink::Black, fitting(title, 26.0, room));
    drawing.words(
        (EDGE, EDGE + 44.0),
        13.0,
        Ink::Soft,
        fitting(&about.join(" · "), 13.0, room),
    );
    EDGE + 62.0
}

/// Numbers of bars, with sections over them; gives where it ends.
pub(super) fn ruler(drawing: &mut Drawing, frame: &Frame, bars: &Bars, top: f32) -> f32 {
    let sections = bars.bars.iter().any(|bar| bar.section.is_some());
    let y = top + if sections { 34.0 } else { 14.0 };
    let every = step(bars, frame);
    let ends = bars.bars.iter().enumerate().filter(|(_, bar)| bar.section.is_some());
    let begins: Vec<(usize, f32)> = ends.map(|(place, bar)| (place, frame.x(bar.start as f64))).collect();
    for (n, (place, x)) in begins.iter().enumerate() {
        let room = begins.get(n + 1).map_or(WIDTH - EDGE, |(_, next)| *next) - x - 6.0;
        let name = bars.bars[*place].section.as_deref().unwrap_or_default();
        drawing.words((x + 3.0, y - 18.0), 13.0, Ink::Accent, fitting(name, 13.0, room));
    }
    for bar in bars.bars.iter().step_by(every) {
        let x = frame.x(bar.start as f64);
        drawing.words((x + 3.0, y), 12.0, Ink::Black, bar.number.to_string());
    }
    y + 6.0
}

/// Every how many bars a number has room.
fn step(bars: &Bars, frame: &Frame) -> usize {
    let a_bar = frame.x(bars.end as f64) - frame.x(bars.bars.first().map_or(0.0, |bar| bar.start as f64));
    let a_bar = a_bar / bars.bars.len().max(1) as f32;
    (0..16)
        .map(|power| 1 << power)
        .find(|step| a_bar * *step as f32 >= 28.0)
        .unwrap_or(1 << 16)
}

/// A line at every bar, from one height to another; a stronger one where a section begins.
pub(super) fn barlines(drawing: &mut Drawing, frame: &Frame, bars: &Bars, (top, foot): (f32, f32)) {
    for bar in &bars.bars {
        let ink = if bar.section.is_some() { Ink::Accent } else { Ink::Soft };
        drawing.upright(frame.x(bar.start as f64), top, foot, 0.8, ink);
    }
}

/// Counts under the bars where they have room; gives where they end.
pub(super) fn counts(drawing: &mut Drawing, frame: &Frame, bars: &Bars, foot: f32) -> f32 {
    let ends = bars.bars.iter().skip(1).map(|bar| bar.start).chain([bars.end]);
    for (bar, end) in bars.bars.iter().zip(ends) {
        let (begins, length) = (bar.start as f64, end.saturating_sub(bar.start) as f64);
        let count = |n: u32| frame.x(begins + length * f64::from(n) / f64::from(bar.counts));
        if count(1) - count(0) < 14.0 {
            continue;
        }
        for n in 0..bar.counts {
            drawing.upright(count(n), foot, foot + 3.0, 0.8, Ink::Soft);
            drawing.words((count(n) + 3.0, foot + 14.0), 10.0, Ink::Soft, (n + 1).to_string());
        }
    }
    foot + 16.0
}

/// A part's name and its hits: a stroke for each, as high as it is hard.
fn draw_row(drawing: &mut Drawing, frame: &Frame, row: &Row, y: f32) {
    let (name_ink, ink) = match row.silenced {
        true => (Ink::Soft, Ink::Hair),
        false => (Ink::Black, Ink::Black),
    };
    let right = frame.left - 10.0;
    drawing.words_before((right, y - 1.0), 13.0, name_ink, fitting(&row.name, 13.0, right - EDGE));
    drawing.level(y, frame.left, frame.left + frame.width, 0.6, Ink::Hair);
    for hit in &row.hits {
        let height = TALL * (hit.velocity / 127.0).clamp(0.05, 1.0) as f32;
        drawing.upright(frame.x(hit.frame), y - height, y, 1.8, ink);
    }
}
