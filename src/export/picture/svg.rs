//! A drawing as SVG.

use std::fmt::Write;

use super::drawing::{Drawing, Ink, Mark, PAPER, Side};
use crate::export::mark::MADE_BY;

/// Where an SVG is to be seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    /// In a file of its own, on its own paper.
    File,
    /// In the listening page, in its colours, by day and by night.
    Page,
}

/// A drawing as the text of an SVG.
pub(super) fn svg(drawing: &Drawing, place: Place) -> String {
    let mut out = String::new();
    let Drawing { width, height, .. } = drawing;
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
         role=\"img\" font-family=\"'DejaVu Serif', Georgia, serif\">"
    );
    if place == Place::File {
        let _ = write!(out, "<!-- {MADE_BY} -->");
    }
    let _ = write!(out, "<title>{}</title>", escaped(&drawing.tells));
    if !drawing.described.is_empty() {
        let _ = write!(out, "<desc>{}</desc>", escaped(&drawing.described));
    }
    if place == Place::File {
        let (red, green, blue) = PAPER;
        let _ = write!(
            out,
            "<rect width=\"100%\" height=\"100%\" fill=\"#{red:02x}{green:02x}{blue:02x}\"/>"
        );
    }
    out.push('\n');
    for mark in &drawing.marks {
        write_mark(&mut out, mark, place);
        out.push('\n');
    }
    out.push_str("</svg>\n");
    out
}

fn write_mark(out: &mut String, mark: &Mark, place: Place) {
    let _ = match mark {
        Mark::Line { from, to, width, ink } => {
            let (x1, y1, x2, y2) = (unit(from.0), unit(from.1), unit(to.0), unit(to.1));
            let stroke = paint("stroke", *ink, place);
            write!(
                out,
                "<path d=\"M{x1} {y1}L{x2} {y2}\" {stroke} stroke-width=\"{}\"/>",
                unit(*width)
            )
        }
        Mark::Area { corners, ink } => {
            let _ = write!(out, "<path {} d=\"", paint("fill", *ink, place));
            for (n, (x, y)) in corners.iter().enumerate() {
                let _ = write!(out, "{}{} {}", if n == 0 { 'M' } else { 'L' }, unit(*x), unit(*y));
            }
            write!(out, "Z\"/>")
        }
        Mark::Dot { at, radius, ink } => {
            let fill = paint("fill", *ink, place);
            write!(
                out,
                "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" {fill}/>",
                unit(at.0),
                unit(at.1),
                unit(*radius)
            )
        }
        Mark::Words {
            at,
            side,
            size,
            ink,
            text,
        } => {
            let anchor = match side {
                Side::Begin => "",
                Side::End => " text-anchor=\"end\"",
            };
            let fill = paint("fill", *ink, place);
            let (x, y, size) = (unit(at.0), unit(at.1), unit(*size));
            write!(
                out,
                "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\"{anchor} {fill}>{}</text>",
                escaped(text)
            )
        }
    };
}

fn paint(what: &str, ink: Ink, place: Place) -> String {
    let (red, green, blue) = ink.colour();
    match place {
        Place::File => format!("{what}=\"#{red:02x}{green:02x}{blue:02x}\""),
        Place::Page => format!("style=\"{what}:var(--{})\"", ink.name()),
    }
}

/// A number with as many digits as the eye needs.
fn unit(value: f32) -> String {
    let text = format!("{value:.2}");
    match text.trim_end_matches('0').trim_end_matches('.') {
        "-0" => "0".into(),
        text => text.into(),
    }
}

/// Text as it stands in XML. A drawing's has no control characters, which XML can't hold.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            letter => out.push(letter),
        }
    }
    out
}
