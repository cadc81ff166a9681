//! The one-shots of a kit on one sheet, each with its waveform and its spectrum.

use super::Picture;
use super::drawing::{Drawing, Ink, Mark, fitting};
use super::lettering;
use super::sheet::{EDGE, WIDTH, heading};

/// Columns of a waveform.
pub(crate) const COLUMNS: usize = 440;
/// One-shots side by side.
const ACROSS: usize = 3;
/// The space between two of them.
const GAP: f32 = 26.0;
/// Half a waveform's height.
const HALF: f32 = 26.0;
/// The height of one with its name and its scale.
const CELL: f32 = 100.0;
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
        let mut y = heading(&mut drawing, &self.title, &self.about);
        let width = (WIDTH - 2.0 * EDGE - (ACROSS - 1) as f32 * GAP) / ACROSS as f32;
        for (piece, shots) in &self.pieces {
            drawing.level(y, EDGE, WIDTH - EDGE, 0.8, Ink::Soft);
            let room = WIDTH - 2.0 * EDGE;
            drawing.words((EDGE, y + 19.0), 15.0, Ink::Accent, fitting(piece, 15.0, room));
            y += 26.0;
            for row in shots.chunks(ACROSS) {
                for (column, shot) in row.iter().enumerate() {
                    let left = EDGE + column as f32 * (width + GAP);
                    self.draw(&mut drawing, shot, (left, y), width);
                }
                y += CELL;
            }
        }
        drawing.height = y + EDGE;
        Picture(drawing)
    }

    fn draw(&self, drawing: &mut Drawing, shot: &OneShot, (left, top): (f32, f32), width: f32) {
        let wave = WAVE * width;
        let (from, right) = (left + wave + 14.0, left + width);
        let name = fitting(&shot.name, 12.0, wave);
        // A short name leaves its figures more room than stands over the spectrum.
        let room = right - (left + lettering::width(&name, 12.0) + 14.0);
        drawing.words((left, top + 11.0), 12.0, Ink::Black, name);
        let about = fitting(&shot.about, 10.0, room);
        drawing.words_before((right, top + 11.0), 10.0, Ink::Soft, about);
        let middle = top + 20.0 + HALF;
        let peak = shot
            .wave
            .iter()
            .fold(0.0f32, |most, (low, high)| most.max(-low).max(*high));
        drawing.wave(&shot.wave, (left, middle), (wave, HALF), peak, Ink::Black);
        let foot = middle + HALF;
        drawing.level(foot, from, right, 0.6, Ink::Soft);
        let (low, high) = self.range;
        for (hertz, name) in LINES {
            let share = libm::log2(hertz / low) / libm::log2(high / low);
            let x = from + (right - from) * share as f32;
            drawing.upright(x, middle - HALF, foot + 3.0, 0.6, Ink::Hair);
            drawing.words((x + 2.0, foot + 11.0), 9.0, Ink::Soft, name);
        }
        if let Some(area) = spectrum(&shot.spectrum, (from, right), (middle - HALF, foot)) {
            drawing.marks.push(area);
        }
        let odd = fitting(&shot.odd, 11.0, wave);
        drawing.words((left, foot + 12.0), 11.0, Ink::Accent, odd);
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
