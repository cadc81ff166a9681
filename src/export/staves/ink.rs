//! What is drawn: SVG in staff spaces, and how far it reaches.

use std::collections::BTreeSet;
use std::fmt::Write;

use super::signs::{UNITS, sign};
use crate::export::picture::lettering;

/// Units of the built-in lettering in an em.
pub(super) const EM: f64 = 1000.0;

/// Thickness of lines in staff spaces: the defaults that the font of the signs recommends for itself.
pub(super) mod thick {
    pub(in crate::export::staves) const STAFF: f64 = 0.13;
    pub(in crate::export::staves) const LEDGER: f64 = 0.16;
    pub(in crate::export::staves) const STEM: f64 = 0.125;
    pub(in crate::export::staves) const BAR: f64 = 0.16;
    pub(in crate::export::staves) const HEAVY_BAR: f64 = 0.5;
    pub(in crate::export::staves) const BEAM: f64 = 0.5;
    pub(in crate::export::staves) const FRAME: f64 = 0.16;
    pub(in crate::export::staves) const CURVE: f64 = 0.2;
}

/// Which side of a text is at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Left,
    Middle,
    Right,
}

/// A rectangle in staff spaces; heights go down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reach {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Reach {
    const NONE: Reach = Reach {
        left: f64::INFINITY,
        top: f64::INFINITY,
        right: f64::NEG_INFINITY,
        bottom: f64::NEG_INFINITY,
    };

    fn with(self, other: Reach) -> Reach {
        Reach {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// The same, further right and further down.
    pub(super) fn moved(self, x: f64, y: f64) -> Reach {
        Reach {
            left: self.left + x,
            top: self.top + y,
            right: self.right + x,
            bottom: self.bottom + y,
        }
    }

    /// True where two share some area.
    #[cfg(test)]
    pub(super) fn meets(&self, other: &Reach) -> bool {
        self.left < other.right && other.left < self.right && self.top < other.bottom && other.top < self.bottom
    }
}

/// What kind of thing a mark is: tests ask where all of a kind lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Head,
    Accidental,
    Chord,
    Words,
    Other,
}

/// The signs and letters that a page uses, so that each is defined once.
#[derive(Debug, Clone, Default)]
pub(super) struct Used {
    pub signs: BTreeSet<&'static str>,
    pub letters: BTreeSet<char>,
}

/// A drawing, and how far it reaches.
#[derive(Debug, Clone)]
pub(super) struct Ink {
    /// SVG elements.
    pub svg: String,
    pub reach: Reach,
    pub used: Used,
    /// Where things lie that tests ask for.
    pub kept: Vec<(Kind, Reach)>,
}

impl Ink {
    pub(super) fn new() -> Ink {
        Ink {
            svg: String::new(),
            reach: Reach::NONE,
            used: Used::default(),
            kept: Vec::new(),
        }
    }

    /// How far it reaches up and down; a point where nothing is drawn.
    pub(super) fn heights(&self) -> (f64, f64) {
        match self.reach.top <= self.reach.bottom {
            true => (self.reach.top, self.reach.bottom),
            false => (0.0, 0.0),
        }
    }

    fn keep(&mut self, kind: Kind, reach: Reach) {
        self.reach = self.reach.with(reach);
        if cfg!(test) {
            self.kept.push((kind, reach));
        }
    }

    /// Takes another drawing in, moved.
    pub(super) fn take(&mut self, other: Ink, x: f64, y: f64) {
        if other.svg.is_empty() {
            return;
        }
        match (x, y) {
            (0.0, 0.0) => self.svg.push_str(&other.svg),
            _ => {
                let _ = write!(
                    self.svg,
                    "<g transform=\"translate({} {})\">{}</g>",
                    short(x),
                    short(y),
                    other.svg
                );
            }
        }
        self.reach = self.reach.with(other.reach.moved(x, y));
        self.kept
            .extend(other.kept.into_iter().map(|(kind, reach)| (kind, reach.moved(x, y))));
        self.used.signs.extend(other.used.signs);
        self.used.letters.extend(other.used.letters);
    }

    /// Draws a sign with its origin at a place.
    pub(super) fn sign(&mut self, name: &'static str, x: f64, y: f64) {
        self.sign_of(Kind::Other, name, x, y, 1.0);
    }

    /// Draws a sign of a kind at a size.
    pub(super) fn sign_of(&mut self, kind: Kind, name: &'static str, x: f64, y: f64, size: f64) {
        let [left, top, right, bottom] = sign(name).reach.map(|length| length * size);
        let reach = Reach {
            left,
            top,
            right,
            bottom,
        };
        self.keep(kind, reach.moved(x, y));
        self.used.signs.insert(name);
        let (x, y) = (short(x), short(y));
        let _ = match size == 1.0 {
            true => write!(self.svg, "<use href=\"#s-{name}\" x=\"{x}\" y=\"{y}\"/>"),
            false => write!(
                self.svg,
                "<use href=\"#s-{name}\" transform=\"translate({x} {y}) scale({size})\"/>"
            ),
        };
    }

    /// Draws a straight line.
    pub(super) fn line(&mut self, from: (f64, f64), to: (f64, f64), width: f64) {
        let half = width / 2.0;
        let reach = Reach {
            left: from.0.min(to.0) - half,
            top: from.1.min(to.1) - half,
            right: from.0.max(to.0) + half,
            bottom: from.1.max(to.1) + half,
        };
        self.keep(Kind::Other, reach);
        let _ = write!(
            self.svg,
            "<path class=\"line\" d=\"M{} {}L{} {}\" stroke-width=\"{}\"/>",
            short(from.0),
            short(from.1),
            short(to.0),
            short(to.1),
            short(width)
        );
    }

    /// Draws some lines as one: `data` of an SVG path that stays within a reach.
    pub(super) fn lines(&mut self, data: &str, width: f64, reach: Reach) {
        self.keep(Kind::Other, reach);
        let _ = write!(
            self.svg,
            "<path class=\"line\" d=\"{data}\" stroke-width=\"{}\"/>",
            short(width)
        );
    }

    /// Fills a shape: `data` of an SVG path that stays within a reach.
    pub(super) fn shape(&mut self, data: &str, reach: Reach) {
        self.keep(Kind::Other, reach);
        let _ = write!(self.svg, "<path d=\"{data}\"/>");
    }

    /// Fills what lies between some corners.
    pub(super) fn area(&mut self, corners: &[(f64, f64)]) {
        let mut data = String::new();
        let mut reach = Reach::NONE;
        for (place, (x, y)) in corners.iter().enumerate() {
            let _ = write!(
                data,
                "{}{} {}",
                if place == 0 { 'M' } else { 'L' },
                short(*x),
                short(*y)
            );
            reach = reach.with(Reach {
                left: *x,
                top: *y,
                right: *x,
                bottom: *y,
            });
        }
        self.keep(Kind::Other, reach);
        let _ = write!(self.svg, "<path d=\"{data}Z\"/>");
    }

    /// Draws a dot of a radius.
    pub(super) fn dot(&mut self, x: f64, y: f64, radius: f64) {
        let reach = Reach {
            left: x - radius,
            top: y - radius,
            right: x + radius,
            bottom: y + radius,
        };
        self.keep(Kind::Other, reach);
        let _ = write!(
            self.svg,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            short(x),
            short(y),
            short(radius)
        );
    }

    /// Draws a tie or slur: thin at its ends, thicker in its middle, bulging by `height` (upwards where negative).
    pub(super) fn bow(&mut self, from: (f64, f64), to: (f64, f64), height: f64) {
        let across = to.0 - from.0;
        let (x1, x2) = (from.0 + across * 0.25, to.0 - across * 0.25);
        // A cubic reaches three quarters of the way to its handles.
        let (outer, inner) = (height / 0.75, (height - thick::CURVE * height.signum()) / 0.75);
        let data = format!(
            "M{} {}C{} {} {} {} {} {}C{} {} {} {} {} {}Z",
            short(from.0),
            short(from.1),
            short(x1),
            short(from.1 + outer),
            short(x2),
            short(to.1 + outer),
            short(to.0),
            short(to.1),
            short(x2),
            short(to.1 + inner),
            short(x1),
            short(from.1 + inner),
            short(from.0),
            short(from.1),
        );
        let reach = Reach {
            left: from.0,
            top: from.1.min(to.1) + height.min(0.0),
            right: to.0,
            bottom: from.1.max(to.1) + height.max(0.0),
        };
        self.keep(Kind::Other, reach);
        let _ = write!(self.svg, "<path d=\"{data}\"/>");
    }

    /// Writes words: their baseline at `y`, a side of them at `x`.
    pub(super) fn words(&mut self, kind: Kind, text: &str, (x, y): (f64, f64), size: f64, side: Side) {
        let width = width(text, size);
        let left = match side {
            Side::Left => x,
            Side::Middle => x - width / 2.0,
            Side::Right => x - width,
        };
        let reach = Reach {
            left,
            top: y - 0.76 * size,
            right: left + width,
            bottom: y + 0.24 * size,
        };
        self.keep(kind, reach);
        if text
            .chars()
            .any(|letter| letter != ' ' && lettering::letter(letter).is_none())
        {
            self.other_script(text, left, y, size, width);
            return;
        }
        let scale = short(size / EM);
        let _ = write!(
            self.svg,
            "<g transform=\"translate({} {}) scale({scale})\">",
            short(left),
            short(y)
        );
        let mut at = 0.0;
        for letter in text.chars() {
            if letter != ' ' {
                self.used.letters.insert(letter);
                let _ = write!(
                    self.svg,
                    "<use href=\"#l-{:x}\" x=\"{}\"/>",
                    u32::from(letter),
                    short(at)
                );
            }
            at += f64::from(lettering::width(letter.encode_utf8(&mut [0; 4]), 1.0)) * EM;
        }
        self.svg.push_str("</g>");
    }

    /// Words in signs that the built-in lettering lacks: the reader's fonts draw them, within the same width.
    fn other_script(&mut self, text: &str, left: f64, y: f64, size: f64, width: f64) {
        let mut escaped = String::new();
        for letter in text.chars() {
            match letter {
                '&' => escaped.push_str("&amp;"),
                '<' => escaped.push_str("&lt;"),
                '>' => escaped.push_str("&gt;"),
                _ => escaped.push(letter),
            }
        }
        let _ = write!(
            self.svg,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\">{escaped}</text>",
            short(left),
            short(y),
            short(size),
            short(width)
        );
    }
}

/// How wide words are at a size, in staff spaces.
pub(super) fn width(text: &str, size: f64) -> f64 {
    f64::from(lettering::width(text, 1.0)) * size
}

/// A length in as few digits as show it: hundredths of a staff space, or finer below a tenth.
pub(super) fn short(length: f64) -> String {
    let text = match length.abs() < 0.1 {
        true => format!("{length:.4}"),
        false => format!("{length:.2}"),
    };
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "-0" | "" | "-" => "0".to_string(),
        _ => text.to_string(),
    }
}

/// The signs and letters of a page, each defined once.
pub(super) fn definitions(used: &Used) -> String {
    let mut out = String::new();
    let scale = short(1.0 / UNITS);
    for name in &used.signs {
        let _ = write!(
            out,
            "<path id=\"s-{name}\" transform=\"scale({scale})\" d=\"{}\"/>",
            sign(name).path
        );
    }
    for letter in &used.letters {
        if let Some(path) = lettering::letter(*letter) {
            let _ = write!(out, "<path id=\"l-{:x}\" d=\"{path}\"/>", u32::from(*letter));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_short() {
        for (length, text) in [
            (1.0, "1"),
            (-0.001, "-0.001"),
            (0.0, "0"),
            (12.345, "12.35"),
            (-2.5, "-2.5"),
            (-0.00001, "0"),
        ] {
            assert_eq!(short(length), text);
        }
    }

    #[test]
    fn what_is_taken_in_reaches_as_far_as_it_did() {
        let mut head = Ink::new();
        head.sign_of(Kind::Head, "noteheadBlack", 1.0, 2.0, 1.0);
        let mut all = Ink::new();
        all.take(head.clone(), 3.0, -1.0);
        assert_eq!(all.reach, head.reach.moved(3.0, -1.0));
        assert!(all.svg.contains("href=\"#s-noteheadBlack\""));
    }

    #[test]
    fn words_in_any_script_are_told_and_escaped() {
        let mut ink = Ink::new();
        ink.words(Kind::Words, "海 <b>&", (0.0, 0.0), 2.0, Side::Left);
        assert!(ink.svg.contains("海 &lt;b&gt;&amp;</text>"), "{}", ink.svg);
        ink.words(Kind::Words, "B♭", (0.0, 0.0), 2.0, Side::Left);
        assert!(definitions(&ink.used).contains("id=\"l-266d\""));
    }
}
