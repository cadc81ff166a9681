//! A drawing as PNG.

use tiny_skia::{Color, FillRule, Paint, Path, PathBuilder, Pixmap, Stroke, Transform};

use super::drawing::{Drawing, Ink, Mark, PAPER, Side};
use super::lettering;
use crate::export::mark::MADE_BY;
use crate::text::Problem;

/// Pixels a unit: sharp on fine screens and on paper.
const FINE: f32 = 2.0;

/// A drawing as the bytes of a PNG.
///
/// # Errors
/// A drawing of no size, or too large for memory.
pub(super) fn png(drawing: &Drawing) -> Result<Vec<u8>, Problem> {
    let size = |units: f32| (units * FINE).ceil() as u32;
    let mut paper = Pixmap::new(size(drawing.width), size(drawing.height))
        .ok_or_else(|| Problem::new("the picture is too large to be drawn"))?;
    let (red, green, blue) = PAPER;
    paper.fill(Color::from_rgba8(red, green, blue, 255));
    for mark in &drawing.marks {
        draw(&mut paper, mark);
    }
    stored(&paper).map_err(|error| Problem::new(format!("the picture can't be stored as PNG: {error}")))
}

/// The paper hides what is under it, so its pixels are the same before and after multiplication by how much they hide.
fn stored(paper: &Pixmap) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, paper.width(), paper.height());
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.add_text_chunk("Software".to_string(), MADE_BY.to_string())?;
    let mut writer = encoder.write_header()?;
    writer.write_image_data(paper.data())?;
    writer.finish()?;
    Ok(bytes)
}

fn draw(paper: &mut Pixmap, mark: &Mark) {
    match mark {
        Mark::Line { from, to, width, ink } => {
            let mut path = PathBuilder::new();
            path.move_to(from.0, from.1);
            path.line_to(to.0, to.1);
            let stroke = Stroke {
                width: *width,
                ..Stroke::default()
            };
            if let Some(path) = path.finish() {
                paper.stroke_path(&path, &paint(*ink), &stroke, fine(), None);
            }
        }
        Mark::Area { corners, ink } => {
            let mut path = PathBuilder::new();
            for (n, (x, y)) in corners.iter().enumerate() {
                match n {
                    0 => path.move_to(*x, *y),
                    _ => path.line_to(*x, *y),
                }
            }
            path.close();
            fill(paper, path.finish(), *ink);
        }
        Mark::Dot { at, radius, ink } => fill(paper, PathBuilder::from_circle(at.0, at.1, *radius), *ink),
        Mark::Words {
            at,
            side,
            size,
            ink,
            text,
        } => {
            let x = match side {
                Side::Begin => at.0,
                Side::End => at.0 - lettering::width(text, *size),
            };
            fill(paper, lettering::outline(text, (x, at.1), *size), *ink);
        }
    }
}

fn fill(paper: &mut Pixmap, path: Option<Path>, ink: Ink) {
    if let Some(path) = path {
        paper.fill_path(&path, &paint(ink), FillRule::Winding, fine(), None);
    }
}

fn fine() -> Transform {
    Transform::from_scale(FINE, FINE)
}

fn paint(ink: Ink) -> Paint<'static> {
    let (red, green, blue) = ink.colour();
    let mut paint = Paint::default();
    paint.set_color_rgba8(red, green, blue, 255);
    paint
}
