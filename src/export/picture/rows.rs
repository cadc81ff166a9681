//! The rows of a sheet: hits as strokes, notes in a band from the lowest to the highest, and what is swept as a line.

use super::drawing::{Drawing, Ink, Mark, fitting};
use super::frame::{EDGE, Frame};

/// A row's height where it has hits alone.
const ROW: f32 = 24.0;
/// How high a hit of velocity 127 stands.
const TALL: f32 = 19.0;
/// How high a semitone is in a band, if the band is not too high.
const SEMITONE: f32 = 3.4;
/// The least and the highest height of a band.
const BAND: (f32, f32) = (18.0, 64.0);
/// The space between a band and what is above it.
const ABOVE: f32 = 13.0;
/// The width of the names of a band's ends.
pub(super) const BESIDE: f32 = 46.0;

/// A hit or a note on a sheet.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Struck {
    /// The frame at which it sounds.
    pub frame: f64,
    /// How hard, from 1 to 127.
    pub velocity: f64,
    /// Its pitch as a MIDI note number; none for a hit.
    pub pitch: Option<i32>,
    /// The frames after which it is released; none where it rings as long as its recording.
    pub length: Option<f64>,
    /// How its pitch moves: frames behind its onset and semitones against its pitch, in the order of time; empty where it stands
    /// still.
    pub moves: Vec<(f64, f64)>,
}

impl Struck {
    /// The frame at which it is released, where it is a note that is.
    pub(super) fn ends(&self) -> f64 {
        let length = self.length.filter(|_| self.pitch.is_some());
        self.frame + length.unwrap_or(0.0)
    }
}

/// What one part plays.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row {
    /// The part.
    pub name: String,
    /// True where it is not to be heard.
    pub silenced: bool,
    /// Its hits, in the order of time.
    pub hits: Vec<Struck>,
    /// The lowest and the highest of its notes, as MIDI note numbers with their names; none where it has hits alone.
    pub range: Option<[(i32, String); 2]>,
}

impl Row {
    /// How high it is.
    pub(super) fn height(&self) -> f32 {
        match self.range {
            Some(_) => self.band() + ABOVE,
            None => ROW,
        }
    }

    fn band(&self) -> f32 {
        let semitones = self
            .range
            .as_ref()
            .map_or(0, |[(lowest, _), (highest, _)]| highest - lowest);
        (semitones as f32 * SEMITONE).clamp(BAND.0, BAND.1)
    }

    /// What it plays in words, of so many hits.
    pub(super) fn told(&self, count: usize) -> String {
        match &self.range {
            Some([(_, lowest), (_, highest)]) => format!("{} {count} notes between {lowest} and {highest}", self.name),
            None => format!("{} {count} hits", self.name),
        }
    }

    /// Draws its name and its hits between two frames: `seen` says of a hit whether it begins there, and whether it sounds there.
    pub(super) fn draw(
        &self,
        drawing: &mut Drawing,
        frame: &Frame,
        seen: &dyn Fn(&Struck) -> (bool, bool),
        (from, to): (f64, f64),
        top: f32,
    ) {
        let (name_ink, ink) = match self.silenced {
            true => (Ink::Soft, Ink::Hair),
            false => (Ink::Black, Ink::Black),
        };
        let foot = top + self.height();
        let Some([lowest, highest]) = &self.range else {
            named(drawing, frame, &self.name, name_ink, foot - 1.0, 0.0);
            drawing.level(foot, frame.left, frame.left + frame.width, 0.6, Ink::Hair);
            for hit in self.hits.iter().filter(|hit| seen(hit).0) {
                let height = TALL * (hit.velocity / 127.0).clamp(0.05, 1.0) as f32;
                drawing.upright(frame.x(hit.frame), foot - height, foot, 1.8, ink);
            }
            return;
        };
        let band = Band {
            top: top + ABOVE,
            foot,
            lowest: f64::from(lowest.0),
            highest: f64::from(highest.0),
        };
        band.draw(drawing, frame, (&self.name, name_ink), [&lowest.1, &highest.1]);
        for octave in (lowest.0 + 1..highest.0).filter(|pitch| pitch % 12 == 0) {
            drawing.level(
                band.y(f64::from(octave)),
                frame.left,
                frame.left + frame.width,
                0.4,
                Ink::Hair,
            );
        }
        for (place, hit) in self.hits.iter().enumerate() {
            let Some(pitch) = hit.pitch else { continue };
            let (begins, sounds) = seen(hit);
            if !begins && !sounds {
                continue;
            }
            let y = band.y(f64::from(pitch));
            let x = frame.x(hit.frame.max(from));
            let share = (hit.velocity / 127.0).clamp(0.05, 1.0) as f32;
            let wide = 1.2 + 2.4 * share;
            if !hit.moves.is_empty() {
                let within = |at: f64| (at <= to && (begins || at >= from)).then(|| frame.x(at));
                let points = band.trace(hit, f64::from(pitch), within);
                for pair in points.windows(2) {
                    drawing.marks.push(Mark::Line {
                        from: pair[0],
                        to: pair[1],
                        width: wide,
                        ink,
                    });
                }
            } else if hit.length.is_some() {
                // The end of a note keeps clear of what follows it.
                let ends = (frame.x(hit.ends().min(to)) - 1.0).max(x + 1.5);
                drawing.level(y, x, ends, wide, ink);
            } else {
                let later = self.hits[place..]
                    .iter()
                    .map(|other| other.frame)
                    .find(|other| *other > hit.frame + 1.0);
                drawing.level(y, x, frame.x(later.unwrap_or(to).min(to)), 0.8, Ink::Hair);
            }
            if begins {
                let y = hit
                    .moves
                    .first()
                    .map_or(y, |(_, semitones)| band.near(f64::from(pitch) + semitones));
                drawing.upright(x + 0.9, y - wide / 2.0 - 1.6, y + wide / 2.0 + 1.6, 1.8, ink);
            }
        }
    }
}

/// A stretch of time in which a swept setting moves evenly: frames of audio with its values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Piece {
    /// The frame at which it begins, and the value there.
    pub from: (f64, f64),
    /// The frame at which it ends, and the value there.
    pub to: (f64, f64),
}

/// What a sweep moves.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SweptRow {
    /// The setting, as `organ.gain`.
    pub name: String,
    /// Its values in the order of time.
    pub pieces: Vec<Piece>,
    /// The least and the greatest of them, in words.
    pub range: [String; 2],
    /// What each sweep does, in words: its value in the beginning and at its end.
    pub ends: Vec<String>,
}

impl SweptRow {
    /// How high it is.
    pub(super) const HEIGHT: f32 = 24.0 + ABOVE;

    /// It in words.
    pub(super) fn told(&self) -> String {
        format!("{} {}", self.name, self.ends.join(", then "))
    }

    /// Draws its name, its ends and its line.
    pub(super) fn draw(&self, drawing: &mut Drawing, frame: &Frame, (from, to): (f64, f64), top: f32) {
        let values = || self.pieces.iter().flat_map(|piece| [piece.from.1, piece.to.1]);
        let band = Band {
            top: top + ABOVE,
            foot: top + Self::HEIGHT,
            lowest: values().fold(f64::INFINITY, f64::min),
            highest: values().fold(f64::NEG_INFINITY, f64::max),
        };
        band.draw(
            drawing,
            frame,
            (&self.name, Ink::Soft),
            [&self.range[0], &self.range[1]],
        );
        let value = |piece: &Piece, at: f64| {
            let length = (piece.to.0 - piece.from.0).max(1e-9);
            piece.from.1 + (piece.to.1 - piece.from.1) * ((at - piece.from.0) / length).clamp(0.0, 1.0)
        };
        let mut last: Option<(f32, f32)> = None;
        for piece in self
            .pieces
            .iter()
            .filter(|piece| piece.from.0 < to && piece.to.0 > from)
        {
            let point = |at: f64| (frame.x(at), band.y(value(piece, at)));
            let (begins, ends) = (point(piece.from.0.max(from)), point(piece.to.0.min(to)));
            // Where it jumps, the line goes along.
            let jump = last.filter(|last| (last.0 - begins.0).abs() < 0.5 && last.1 != begins.1);
            for (from, to) in jump.map(|last| (last, begins)).into_iter().chain([(begins, ends)]) {
                drawing.marks.push(Mark::Line {
                    from,
                    to,
                    width: 1.4,
                    ink: Ink::Accent,
                });
            }
            last = Some(ends);
        }
    }
}

/// Where values lie between a lowest and a highest one.
struct Band {
    top: f32,
    foot: f32,
    lowest: f64,
    highest: f64,
}

impl Band {
    /// The height of a value; one value alone lies in the middle.
    fn y(&self, value: f64) -> f32 {
        let reach = self.highest - self.lowest;
        match reach > 0.0 {
            true => self.foot - (self.foot - self.top) * ((value - self.lowest) / reach) as f32,
            false => (self.top + self.foot) / 2.0,
        }
    }

    /// The height of a pitch that may lie a little outside.
    fn near(&self, value: f64) -> f32 {
        let outside = ABOVE / 2.0;
        self.y(value).clamp(self.top - outside, self.foot + outside)
    }

    /// The points of a note whose pitch moves, as far as a line of the sheet reaches.
    fn trace(&self, hit: &Struck, pitch: f64, x: impl Fn(f64) -> Option<f32>) -> Vec<(f32, f32)> {
        let points = hit.moves.iter();
        let point = |(frames, semitones): &(f64, f64)| Some((x(hit.frame + frames)?, self.near(pitch + semitones)));
        points.filter_map(point).collect()
    }

    /// Draws its lines, a name, and the names of its ends at their side.
    fn draw(&self, drawing: &mut Drawing, frame: &Frame, (name, ink): (&str, Ink), ends: [&str; 2]) {
        let right = frame.left - 8.0;
        let places: &[f64] = if self.highest > self.lowest {
            &[self.lowest, self.highest]
        } else {
            &[self.lowest]
        };
        for (value, end) in places.iter().zip(ends) {
            let y = self.y(*value);
            drawing.level(y, frame.left, frame.left + frame.width, 0.6, Ink::Hair);
            drawing.words_before((right, y + 3.5), 10.0, Ink::Soft, end);
        }
        named(drawing, frame, name, ink, (self.top + self.foot) / 2.0 + 4.5, BESIDE);
    }
}

/// Writes a row's name at its left.
fn named(drawing: &mut Drawing, frame: &Frame, name: &str, ink: Ink, y: f32, beside: f32) {
    let right = frame.left - 10.0 - beside;
    drawing.words_before((right, y), 13.0, ink, fitting(name, 13.0, right - EDGE));
}
