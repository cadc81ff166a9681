//! A drawing as PNG.

use std::fmt::Display;
use std::io::Write;
use std::ops::Range;

use tiny_skia::{Color, FillRule, Paint, Path, PathBuilder, Pixmap, Stroke, Transform};

use super::drawing::{Drawing, Ink, Mark, PAPER, Side};
use super::lettering;
use crate::export::mark::MADE_BY;
use crate::text::Problem;

/// Pixels a unit: sharp on fine screens and on paper.
const FINE: f32 = 2.0;
/// The highest that a picture may be in pixels: programs that show pictures count them in 15 bits and a sign.
const HIGHEST: f32 = 32_767.0;
/// So many lines of pixels are drawn at a time.
const BAND: u32 = 8192;

/// A drawing as the bytes of a PNG. A high one has fewer pixels a unit.
///
/// # Errors
/// A drawing of no size, or too large for memory.
pub(super) fn png(drawing: &Drawing) -> Result<Vec<u8>, Problem> {
    let fine = FINE.min(HIGHEST / drawing.height);
    let size = |units: f32| (units * fine).ceil() as u32;
    let (width, height) = (size(drawing.width), size(drawing.height));
    let unstored = |error: &dyn Display| Problem::new(format!("the picture can't be stored as PNG: {error}"));
    let mut bytes = Vec::new();
    let mut writer = header(&mut bytes, width, height).map_err(|error| unstored(&error))?;
    let mut out = writer.stream_writer().map_err(|error| unstored(&error))?;
    for top in (0..height).step_by(BAND as usize) {
        let rows = top..height.min(top.saturating_add(BAND));
        let band = band(drawing, fine, width, rows);
        let band = band.ok_or_else(|| Problem::new("the picture is too large to be drawn"))?;
        out.write_all(band.data()).map_err(|error| unstored(&error))?;
    }
    out.finish().map_err(|error| unstored(&error))?;
    writer.finish().map_err(|error| unstored(&error))?;
    Ok(bytes)
}

/// The paper hides what is under it, so its pixels are the same before and after multiplication by how much they hide.
fn header(bytes: &mut Vec<u8>, width: u32, height: u32) -> Result<png::Writer<&mut Vec<u8>>, png::EncodingError> {
    let mut encoder = png::Encoder::new(bytes, width, height);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.add_text_chunk("Software".to_string(), MADE_BY.to_string())?;
    encoder.write_header()
}

/// Some rows of pixels of a drawing, of so many pixels a unit; none where there is no memory for them.
fn band(drawing: &Drawing, fine: f32, width: u32, rows: Range<u32>) -> Option<Pixmap> {
    let mut paper = Pixmap::new(width, rows.end - rows.start)?;
    let (red, green, blue) = PAPER;
    paper.fill(Color::from_rgba8(red, green, blue, 255));
    let place = Transform::from_scale(fine, fine).post_translate(0.0, -(rows.start as f32));
    let seen = rows.start as f32 / fine..rows.end as f32 / fine;
    for mark in drawing.marks.iter().filter(|mark| reaches(mark, &seen)) {
        draw(&mut paper, mark, place);
    }
    Some(paper)
}

/// True where a mark may be seen between two heights.
fn reaches(mark: &Mark, seen: &Range<f32>) -> bool {
    let (top, foot) = match mark {
        Mark::Line { from, to, width, .. } => (from.1.min(to.1) - width, from.1.max(to.1) + width),
        Mark::Area { corners, .. } => corners
            .iter()
            .fold((f32::MAX, f32::MIN), |(top, foot), (_, y)| (top.min(*y), foot.max(*y))),
        Mark::Dot { at, radius, .. } => (at.1 - radius, at.1 + radius),
        // No letter is higher than twice its size, above its line or below it.
        Mark::Words { at, size, .. } => (at.1 - 2.0 * size, at.1 + 2.0 * size),
    };
    // What is drawn smoothly may reach a pixel further.
    foot + 1.0 >= seen.start && top - 1.0 <= seen.end
}

fn draw(paper: &mut Pixmap, mark: &Mark, place: Transform) {
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
                paper.stroke_path(&path, &paint(*ink), &stroke, place, None);
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
            fill(paper, path.finish(), *ink, place);
        }
        Mark::Dot { at, radius, ink } => fill(paper, PathBuilder::from_circle(at.0, at.1, *radius), *ink, place),
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
            fill(paper, lettering::outline(text, (x, at.1), *size), *ink, place);
        }
    }
}

fn fill(paper: &mut Pixmap, path: Option<Path>, ink: Ink, place: Transform) {
    if let Some(path) = path {
        paper.fill_path(&path, &paint(ink), FillRule::Winding, place, None);
    }
}

fn paint(ink: Ink) -> Paint<'static> {
    let (red, green, blue) = ink.colour();
    let mut paint = Paint::default();
    paint.set_color_rgba8(red, green, blue, 255);
    paint
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// What is left out of a band would not have been seen in it.
        #[test]
        fn bands_show_what_the_whole_shows(at in 0.0f32..300.0, size in 4.0f32..30.0, cut in 1u32..600) {
            let mut drawing = Drawing::new(60.0, String::new());
            drawing.height = 300.0;
            drawing.words((5.0, at), size, Ink::Black, "Quay");
            drawing.level(at, 0.0, 60.0, 0.6, Ink::Accent);
            drawing.marks.push(Mark::Dot { at: (30.0, at), radius: size / 3.0, ink: Ink::Soft });
            let whole = band(&drawing, FINE, 120, 0..600).unwrap();
            let (upper, lower) = (band(&drawing, FINE, 120, 0..cut), band(&drawing, FINE, 120, cut..600));
            let lower = lower.map_or(Vec::new(), |lower| lower.data().to_vec());
            let parts = [upper.unwrap().data(), &lower].concat();
            // Edges are drawn in four steps a pixel, one of which may fall on the other side; a mark that is missing differs by more.
            let differ = |(a, b): &(&u8, &u8)| a.abs_diff(**b) > 130;
            prop_assert_eq!(whole.data().iter().zip(&parts).filter(differ).count(), 0);
        }
    }
}
