//! The one-shots of a kit on one sheet, each with its waveform and its spectrum.

use super::Picture;
use super::drawing::{Drawing, Ink, Mark, fitting, fitting_ends};
use super::frame::{EDGE, WIDTH, heading};
use super::lettering;

/// So many lie with room around them; more lie close.
const ROOMY: usize = 200;

/// How one-shots lie on a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Layout {
    /// One-shots side by side.
    across: usize,
    /// The space between two of them.
    gap: f32,
    /// Half a waveform's height.
    half: f32,
    /// The height of one with its name and its scale.
    cell: f32,
    /// Columns of a waveform.
    columns: usize,
}

/// Every piece has rows of its own below its name.
const WIDE: Layout = Layout {
    across: 3,
    gap: 26.0,
    half: 26.0,
    cell: 100.0,
    columns: 440,
};

/// Pieces go on within a row; each one-shot that begins one has its name above it.
const CLOSE: Layout = Layout {
    across: 6,
    gap: 18.0,
    half: 14.0,
    cell: 66.0,
    columns: 110,
};

/// Columns of the waveforms of a sheet of so many one-shots.
pub(crate) fn columns(count: usize) -> usize {
    layout(count).columns
}

fn layout(count: usize) -> Layout {
    if count > ROOMY { CLOSE } else { WIDE }
}

/// The part of its width that the waveform takes.
const WAVE: f32 = 0.6;
/// How far down a spectrum is drawn, in dB.
const DEPTH: f64 = 60.0;
/// Frequencies with a line of their own, in Hz.
const LINES: [(f64, &str); 3] = [(100.0, "100"), (1000.0, "1k"), (10_000.0, "10k")];

/// One recording on the sheet.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct OneShot {
    /// Its file.
    pub name: String,
    /// What there is to say of it in a few words.
    pub about: String,
    /// What is odd about it; empty for nothing.
    pub odd: String,
    /// How far it reaches in each column of its length, from its lowest to its highest sample.
    pub wave: Vec<(f32, f32)>,
    /// Levels in bands evenly spaced in octaves, in dB below the loudest.
    pub spectrum: Vec<f64>,
}

/// The one-shots of a kit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct OneShots {
    /// What the kit is called.
    pub title: String,
    /// What there is to say of it in a few words each.
    pub about: Vec<String>,
    /// The lowest and the highest frequency of the spectra, in Hz.
    pub range: (f64, f64),
    /// Pieces with their recordings.
    pub pieces: Vec<(String, Vec<OneShot>)>,
}

impl OneShots {
    /// Draws piece after piece. Waveforms are as wide as their cells and as high as their peaks, spectra reach 60 dB down.
    pub(crate) fn picture(&self) -> Picture {
        let count: usize = self.pieces.iter().map(|(_, shots)| shots.len()).sum();
        let tells = format!("{}: the waveforms and spectra of {count} one-shots", self.title);
        let mut drawing = Drawing::new(WIDTH, tells);
        let y = heading(&mut drawing, &self.title, &self.about);
        let layout = layout(count);
        let foot = match layout == CLOSE {
            true => self.draw_close(&mut drawing, layout, y),
            false => self.draw_wide(&mut drawing, layout, y),
        };
        drawing.height = foot + EDGE;
        Picture(drawing)
    }

    /// Draws every piece below its name; gives where they end.
    fn draw_wide(&self, drawing: &mut Drawing, layout: Layout, mut y: f32) -> f32 {
        for (piece, shots) in &self.pieces {
            drawing.level(y, EDGE, WIDTH - EDGE, 0.8, Ink::Soft);
            let room = WIDTH - 2.0 * EDGE;
            drawing.words((EDGE, y + 19.0), 15.0, Ink::Accent, fitting_ends(piece, 15.0, room));
            y += 26.0;
            for row in shots.chunks(layout.across) {
                for (column, shot) in row.iter().enumerate() {
                    self.draw(drawing, shot, layout, (layout.left(column), y));
                }
                y += layout.cell;
            }
        }
        y
    }

    /// Draws row upon row; gives where they end.
    fn draw_close(&self, drawing: &mut Drawing, layout: Layout, top: f32) -> f32 {
        let mut count = 0;
        for (piece, shots) in &self.pieces {
            for (number, shot) in shots.iter().enumerate() {
                let left = layout.left(count % layout.across);
                let y = top + layout.cell * (count / layout.across) as f32;
                if number == 0 {
                    drawing.level(y, left, left + layout.width(), 0.8, Ink::Soft);
                    let name = fitting_ends(piece, 9.5, layout.width());
                    drawing.words((left, y + 10.0), 9.5, Ink::Accent, name);
                }
                self.draw_small(drawing, shot, layout, (left, y));
                count += 1;
            }
        }
        let rows = count.div_ceil(layout.across);
        top + layout.cell * rows as f32
    }

    fn draw(&self, drawing: &mut Drawing, shot: &OneShot, layout: Layout, (left, top): (f32, f32)) {
        let width = layout.width();
        let wave = WAVE * width;
        let (from, right) = (left + wave + 14.0, left + width);
        let name = fitting_ends(&shot.name, 12.0, wave);
        // A short name leaves its figures more room than stands over the spectrum.
        let room = right - (left + lettering::width(&name, 12.0) + 14.0);
        drawing.words((left, top + 11.0), 12.0, Ink::Black, name);
        let about = fitting(&shot.about, 10.0, room);
        drawing.words_before((right, top + 11.0), 10.0, Ink::Soft, about);
        let middle = top + 20.0 + layout.half;
        let foot = middle + layout.half;
        self.draw_sound(drawing, shot, (left, left + wave), (from, right), (middle, layout.half));
        for (hertz, name) in LINES {
            let x = self.place(hertz, (from, right));
            drawing.words((x + 2.0, foot + 11.0), 9.0, Ink::Soft, name);
        }
        let odd = fitting(&shot.odd, 11.0, wave);
        drawing.words((left, foot + 12.0), 11.0, Ink::Accent, odd);
    }

    /// The same in little: the name over the sound, figures below it.
    fn draw_small(&self, drawing: &mut Drawing, shot: &OneShot, layout: Layout, (left, top): (f32, f32)) {
        let width = layout.width();
        let right = left + width;
        drawing.words(
            (left, top + 20.0),
            8.0,
            Ink::Black,
            fitting_ends(&shot.name, 8.0, width),
        );
        let middle = top + 23.0 + layout.half;
        let wave = left + WAVE * width;
        self.draw_sound(drawing, shot, (left, wave), (wave + 6.0, right), (middle, layout.half));
        let y = middle + layout.half + 9.0;
        let about = fitting(&shot.about, 7.5, width);
        let room = width - lettering::width(&about, 7.5) - 6.0;
        drawing.words((left, y), 7.5, Ink::Soft, about);
        drawing.words_before((right, y), 7.5, Ink::Accent, fitting(&shot.odd, 7.5, room));
    }

    /// The waveform between two edges, and beside it the spectrum.
    fn draw_sound(
        &self,
        drawing: &mut Drawing,
        shot: &OneShot,
        wave: (f32, f32),
        beside: (f32, f32),
        (middle, half): (f32, f32),
    ) {
        let peak = shot
            .wave
            .iter()
            .fold(0.0f32, |most, (low, high)| most.max(-low).max(*high));
        drawing.wave(&shot.wave, (wave.0, middle), (wave.1 - wave.0, half), peak, Ink::Black);
        let foot = middle + half;
        drawing.level(foot, beside.0, beside.1, 0.6, Ink::Soft);
        for (hertz, _) in LINES {
            drawing.upright(self.place(hertz, beside), middle - half, foot + 3.0, 0.6, Ink::Hair);
        }
        if let Some(area) = spectrum(&shot.spectrum, beside, (middle - half, foot)) {
            drawing.marks.push(area);
        }
    }

    /// Where a frequency lies between the edges of a spectrum.
    fn place(&self, hertz: f64, (from, to): (f32, f32)) -> f32 {
        let (low, high) = self.range;
        let share = libm::log2(hertz / low) / libm::log2(high / low);
        from + (to - from) * share as f32
    }
}

impl Layout {
    /// The width of a one-shot.
    fn width(self) -> f32 {
        (WIDTH - 2.0 * EDGE - (self.across - 1) as f32 * self.gap) / self.across as f32
    }

    /// Where the one-shot of a column begins.
    fn left(self, column: usize) -> f32 {
        EDGE + column as f32 * (self.width() + self.gap)
    }
}

/// A spectrum as an area over its foot.
fn spectrum(levels: &[f64], (left, right): (f32, f32), (top, foot): (f32, f32)) -> Option<Mark> {
    let last = levels.len().checked_sub(1).filter(|last| *last > 0)?;
    let x = |band: usize| left + (right - left) * band as f32 / last as f32;
    let y = |level: f64| foot - (foot - top) * (1.0 + level / DEPTH).clamp(0.0, 1.0) as f32;
    let line = levels.iter().enumerate().map(|(band, level)| (x(band), y(*level)));
    Some(Mark::Area {
        corners: [(left, foot)].into_iter().chain(line).chain([(right, foot)]).collect(),
        ink: Ink::Soft,
    })
}
