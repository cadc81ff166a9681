//! Versions one under another, each with its difference from the first.

use super::Picture;
use super::drawing::{Drawing, Ink, fitting};
use super::sheet::{COLUMNS, EDGE, Frame, WIDTH, barlines, counts, heading, ruler};
use crate::audio::{Audio, db_of_gain, peak};
use crate::export::bars::Bars;
use crate::export::outline;

/// Half a waveform's height.
const HALF: f32 = 34.0;
/// The width of names at the left.
const NAMES: f32 = 210.0;

/// One version of a picture of versions.
#[derive(Debug, Clone)]
pub struct Version<'a> {
    /// Its name.
    pub name: String,
    /// Its sound, at the level at which it is heard.
    pub audio: &'a Audio,
}

/// Versions of one piece, over the same bars.
#[derive(Debug, Clone)]
pub struct Versions<'a> {
    /// The title of what is compared.
    pub title: String,
    /// What there is to say of it in a few words each.
    pub about: Vec<String>,
    /// The bars of the first, which stand for all.
    pub bars: Bars,
    /// The versions; the first is what the others are held against.
    pub versions: Vec<Version<'a>>,
}

impl Versions<'_> {
    /// Draws every version in ink, and behind the first what each has that the first has not, in the accent's colour.
    pub fn picture(&self) -> Picture {
        let tells = format!(
            "{}: {} versions and how they differ from the first",
            self.title,
            self.versions.len()
        );
        let mut drawing = Drawing::new(WIDTH, tells);
        let frames = self
            .versions
            .iter()
            .map(|version| version.audio.frames())
            .max()
            .unwrap_or(0);
        let frame = Frame::new(EDGE + NAMES, frames);
        let loudest = self.versions.iter().map(|version| peak(&version.audio.channels));
        let loudest = loudest.fold(0.0, f32::max);
        let mut y = heading(&mut drawing, &self.title, &self.about);
        let top = ruler(&mut drawing, &frame, &self.bars, y);
        y = top + 6.0;
        for (number, version) in self.versions.iter().enumerate() {
            y += HALF;
            let name = format!("{} {}", number + 1, version.name);
            drawing.words((EDGE, y), 14.0, Ink::Black, fitting(&name, 14.0, NAMES - 12.0));
            let mut wave = |audio: &Audio, y: f32, ink: Ink| {
                let columns = outline::columns(audio, frames, COLUMNS);
                drawing.wave(&columns, (frame.left, y), (frame.width, HALF), loudest, ink);
            };
            wave(version.audio, y, Ink::Black);
            let change = self.versions.first().filter(|_| number > 0);
            if let Some(change) = change.map(|first| difference(first.audio, version.audio)) {
                y += 2.0 * HALF;
                wave(&change, y, Ink::Accent);
                drawing.words((EDGE, y), 12.0, Ink::Accent, "difference from 1");
                let size = told(&change, version.audio);
                drawing.words((EDGE, y + 15.0), 11.0, Ink::Soft, fitting(&size, 11.0, NAMES - 12.0));
            }
            y += HALF + 4.0;
        }
        barlines(&mut drawing, &frame, &self.bars, (top, y));
        drawing.upright(frame.x(self.bars.end as f64), top, y, 0.8, Ink::Soft);
        drawing.height = counts(&mut drawing, &frame, &self.bars, y) + EDGE;
        Picture(drawing)
    }
}

/// What one has that another has not, sample by sample; where one is shorter, it is silent.
fn difference(first: &Audio, other: &Audio) -> Audio {
    let frames = first.frames().max(other.frames());
    let sample = |audio: &Audio, side: usize, frame: usize| {
        let side = audio.channels.get(side).or(audio.channels.first());
        side.and_then(|side| side.get(frame)).copied().unwrap_or(0.0)
    };
    let sides = first.channels.len().max(other.channels.len());
    let channels = (0..sides).map(|side| {
        let less = |frame| sample(other, side, frame) - sample(first, side, frame);
        (0..frames).map(less).collect()
    });
    Audio {
        channels: channels.collect(),
        rate: first.rate,
    }
}

/// How strong a difference is against the version that it belongs to.
fn told(difference: &Audio, version: &Audio) -> String {
    let power = |audio: &Audio| {
        let squares = audio.channels.iter().flatten().map(|sample| f64::from(*sample).powi(2));
        squares.sum::<f64>()
    };
    match (power(difference), power(version)) {
        (0.0, _) => "none".into(),
        (_, 0.0) => "all of it".into(),
        (change, whole) => {
            let db = db_of_gain((change / whole).sqrt());
            format!("{db:+.1} dB against it").replace('-', "\u{2212}")
        }
    }
}
