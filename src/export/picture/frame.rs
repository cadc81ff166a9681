//! Where time lies on a sheet, and what stands above and below it: the heading, bars with their sections, counts.

use super::drawing::{Drawing, Ink, fitting};
use crate::export::bars::Bars;

/// The sheet's width.
pub(super) const WIDTH: f32 = 1200.0;
/// The space round it.
pub(super) const EDGE: f32 = 28.0;
/// Columns of a waveform.
pub(super) const COLUMNS: usize = 1600;
/// How high counts are.
pub(super) const COUNTS: f32 = 16.0;
/// How high a heading is, with the space above it.
pub(super) const HEADING: f32 = EDGE + 62.0;

/// Where time lies on a sheet.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub left: f32,
    pub width: f32,
    from: f64,
    frames: f64,
}

impl Frame {
    /// So many frames of audio from the beginning, over the width of the sheet.
    pub(super) fn new(left: f32, frames: usize) -> Frame {
        Frame::of(left, WIDTH - EDGE - left, (0.0, frames as f64))
    }

    /// Frames of audio from one to another, over a width.
    pub(super) fn of(left: f32, width: f32, (from, to): (f64, f64)) -> Frame {
        Frame {
            left,
            width,
            from,
            frames: (to - from).max(1.0),
        }
    }

    /// The place of a frame of audio.
    pub(super) fn x(&self, frame: f64) -> f32 {
        self.left + self.width * ((frame - self.from) / self.frames).clamp(0.0, 1.0) as f32
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
    HEADING
}

/// Numbers of bars, with sections over them, that which has begun before among them; gives where it ends.
pub(super) fn ruler(drawing: &mut Drawing, frame: &Frame, bars: &Bars, begun: &str, top: f32) -> f32 {
    let y = top + ruler_height(bars, begun) - 6.0;
    let every = step(bars, frame);
    let ends = bars.bars.iter().enumerate().filter(|(_, bar)| bar.section.is_some());
    let begins: Vec<(usize, f32)> = ends.map(|(place, bar)| (place, frame.x(bar.start as f64))).collect();
    let first = begins.first().map_or(WIDTH - EDGE, |(_, x)| *x);
    let before = fitting(begun, 13.0, first - frame.left - 9.0);
    if !before.is_empty() {
        drawing.words((frame.left + 3.0, y - 18.0), 13.0, Ink::Soft, before);
    }
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

/// How high a ruler is.
pub(super) fn ruler_height(bars: &Bars, begun: &str) -> f32 {
    let sections = !begun.is_empty() || bars.bars.iter().any(|bar| bar.section.is_some());
    if sections { 40.0 } else { 20.0 }
}

/// Every how many bars a number has room.
fn step(bars: &Bars, frame: &Frame) -> usize {
    let first = bars.bars.first().map_or(0.0, |bar| bar.start as f64);
    let a_bar = frame.x(bars.end as f64) - frame.x(first);
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
    foot + COUNTS
}
