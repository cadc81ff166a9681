//! The lettering of pictures: the outlines of a font that is built in, so that a PNG is the same wherever it is drawn.

use tiny_skia::{Path, PathBuilder};
use ttf_parser::{Face, GlyphId, OutlineBuilder};

/// DejaVu Serif, cut down; its licence is in `lettering.txt`.
const FONT: &[u8] = include_bytes!("lettering.ttf");

fn face() -> Face<'static> {
    Face::parse(FONT, 0).expect("the built-in font is a font")
}

/// The glyphs of a text; signs that the font lacks show its sign for that.
fn glyphs<'a>(face: &'a Face, text: &'a str) -> impl Iterator<Item = GlyphId> + 'a {
    text.chars().map(|letter| {
        face.glyph_index(letter)
            .unwrap_or(face.glyph_index('\u{fffd}').unwrap_or(GlyphId(0)))
    })
}

fn advance(face: &Face, glyph: GlyphId) -> f32 {
    f32::from(face.glyph_hor_advance(glyph).unwrap_or(0)) / f32::from(face.units_per_em())
}

/// How wide a text is at a size.
pub(crate) fn width(text: &str, size: f32) -> f32 {
    let face = face();
    let widths = glyphs(&face, text).map(|glyph| advance(&face, glyph) * size);
    widths.sum()
}

/// The outline of a text that begins at a point on its baseline; none where it has nothing to be seen.
pub(super) fn outline(text: &str, (mut x, y): (f32, f32), size: f32) -> Option<Path> {
    let face = face();
    let scale = size / f32::from(face.units_per_em());
    let mut path = PathBuilder::new();
    for glyph in glyphs(&face, text) {
        let mut pen = Pen {
            path: &mut path,
            at: (x, y),
            scale,
        };
        face.outline_glyph(glyph, &mut pen);
        x += advance(&face, glyph) * size;
    }
    path.finish()
}

/// A letter's outline as data of an SVG path: 1000 units an em, heights downwards from its baseline. None where the font
/// lacks the letter.
#[cfg(feature = "cli")]
pub(crate) fn letter(letter: char) -> Option<String> {
    let face = face();
    let glyph = face.glyph_index(letter)?;
    let mut data = Data {
        scale: 1000.0 / f32::from(face.units_per_em()),
        text: String::new(),
    };
    face.outline_glyph(glyph, &mut data);
    Some(data.text)
}

/// Writes a glyph as data of an SVG path, in whole units.
#[cfg(feature = "cli")]
struct Data {
    scale: f32,
    text: String,
}

#[cfg(feature = "cli")]
impl Data {
    fn add(&mut self, command: char, points: &[(f32, f32)]) {
        let units = |length: f32| (length * self.scale).round() as i32;
        let points: Vec<String> = points
            .iter()
            .map(|(x, y)| format!("{} {}", units(*x), -units(*y)))
            .collect();
        self.text.push(command);
        self.text.push_str(&points.join(" "));
    }
}

#[cfg(feature = "cli")]
impl OutlineBuilder for Data {
    fn move_to(&mut self, x: f32, y: f32) {
        self.add('M', &[(x, y)]);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.add('L', &[(x, y)]);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        self.add('Q', &[(x1, y1), (x, y)]);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.add('C', &[(x1, y1), (x2, y2), (x, y)]);
    }

    fn close(&mut self) {
        self.add('Z', &[]);
    }
}

/// Draws a glyph, whose heights count upwards, onto paper, where they count down.
struct Pen<'a> {
    path: &'a mut PathBuilder,
    at: (f32, f32),
    scale: f32,
}

impl Pen<'_> {
    fn place(&self, x: f32, y: f32) -> (f32, f32) {
        (self.at.0 + x * self.scale, self.at.1 - y * self.scale)
    }
}

impl OutlineBuilder for Pen<'_> {
    fn move_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.place(x, y);
        self.path.move_to(x, y);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.place(x, y);
        self.path.line_to(x, y);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let ((x1, y1), (x, y)) = (self.place(x1, y1), self.place(x, y));
        self.path.quad_to(x1, y1, x, y);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let ((x1, y1), (x2, y2), (x, y)) = (self.place(x1, y1), self.place(x2, y2), self.place(x, y));
        self.path.cubic_to(x1, y1, x2, y2, x, y);
    }

    fn close(&mut self) {
        self.path.close();
    }
}
