//! Versions one under another, each with its difference from the first.

use rayon::prelude::*;

use super::Picture;
use super::drawing::{Drawing, Ink, fitting};
use super::frame::{COLUMNS, EDGE, Frame, WIDTH, barlines, counts, heading, ruler};
use crate::base::audio::{Audio, db_of_gain};
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

/// The most versions of which a picture is drawn: more can't be taken in at a look.
const MOST: usize = 16;

impl Versions<'_> {
    /// Their picture for a listening page; none where there are more of them than can be taken in at a look.
    pub fn for_page(&self) -> Option<String> {
        let allowed = (2..=MOST).contains(&self.versions.len());
        allowed.then(|| self.picture().for_page())
    }

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
        let outlines: Vec<_> = (0..self.versions.len())
            .into_par_iter()
            .map(|number| self.outline(number, frames))
            .collect();
        let reach = outlines.iter().flat_map(|(columns, _)| columns);
        let loudest = reach.fold(0.0_f32, |most, (low, high)| most.max(-low).max(*high));
        let mut y = heading(&mut drawing, &self.title, &self.about);
        let top = ruler(&mut drawing, &frame, &self.bars, "", y);
        y = top + 6.0;
        for (number, version) in self.versions.iter().enumerate() {
            y += HALF;
            let name = format!("{} {}", number + 1, version.name);
            drawing.words((EDGE, y), 14.0, Ink::Black, fitting(&name, 14.0, NAMES - 12.0));
            let mut wave = |columns: &[(f32, f32)], y: f32, ink: Ink| {
                drawing.wave(columns, (frame.left, y), (frame.width, HALF), loudest, ink);
            };
            wave(&outlines[number].0, y, Ink::Black);
            if let Some(change) = &outlines[number].1 {
                y += 2.0 * HALF;
                wave(&change.columns, y, Ink::Accent);
                drawing.words((EDGE, y), 12.0, Ink::Accent, "difference from 1");
                let size = fitting(&change.told, 11.0, NAMES - 12.0);
                drawing.words((EDGE, y + 15.0), 11.0, Ink::Soft, size);
            }
            y += HALF + 4.0;
        }
        barlines(&mut drawing, &frame, &self.bars, (top, y));
        drawing.upright(frame.x(self.bars.end as f64), top, y, 0.8, Ink::Soft);
        drawing.height = counts(&mut drawing, &frame, &self.bars, y) + EDGE;
        Picture(drawing)
    }

    /// How far a version reaches, column by column; behind the first also what it has that the first has not.
    fn outline(&self, number: usize, frames: usize) -> (Vec<(f32, f32)>, Option<Change>) {
        let version = &self.versions[number].audio;
        let change = (number > 0).then(|| Change::of(self.versions[0].audio, version, frames));
        (outline::columns(version, frames, COLUMNS), change)
    }
}

/// What a version has that the first has not.
struct Change {
    columns: Vec<(f32, f32)>,
    told: String,
}

impl Change {
    /// Goes through both sample by sample, column by column; where one is shorter, it is silent.
    fn of(first: &Audio, other: &Audio, frames: usize) -> Change {
        let sides: Vec<[&[f32]; 2]> = (0..first.channels.len().max(other.channels.len()))
            .map(|side| [first, other].map(|audio| side_of(audio, side)))
            .collect();
        let edge = |column: usize| (column as u128 * frames as u128 / COLUMNS as u128) as usize;
        let (mut change, mut whole) = (0.0, 0.0);
        let columns = (0..COLUMNS).map(|column| {
            let (mut low, mut high) = (0.0_f32, 0.0_f32);
            for [first, other] in &sides {
                for frame in edge(column)..edge(column + 1).max(edge(column) + 1) {
                    let at = |side: &[f32]| side.get(frame).copied().unwrap_or(0.0);
                    let less = at(other) - at(first);
                    (low, high) = (low.min(less), high.max(less));
                    change += f64::from(less) * f64::from(less);
                    whole += f64::from(at(first)) * f64::from(at(first));
                }
            }
            (low, high)
        });
        Change {
            columns: columns.collect(),
            told: told(change, whole),
        }
    }
}

/// A side of audio; mono has one for both.
fn side_of(audio: &Audio, side: usize) -> &[f32] {
    let side = audio.channels.get(side).or(audio.channels.first());
    side.map_or(&[], Vec::as_slice)
}

/// How strong a difference is relative to the first version, by the power of both: the figure that a comparison gives.
fn told(change: f64, whole: f64) -> String {
    match (change, whole) {
        (0.0, _) => "none".into(),
        (_, 0.0) => "version 1 is silent".into(),
        _ => {
            let db = db_of_gain((change / whole).sqrt());
            format!("{db:.1} dB relative to version 1").replace('-', "\u{2212}")
        }
    }
}
