//! A drawing: lines, areas and words in five inks, which SVG and PNG both can show.

use super::lettering;
use crate::text::clean;

/// What a mark is drawn in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    /// What is to be read first.
    Black,
    /// What stands behind it: small words, counts.
    Soft,
    /// Hairlines.
    Hair,
    /// The one colour.
    Accent,
}

impl Ink {
    /// Red, green, blue.
    pub(super) const fn colour(self) -> (u8, u8, u8) {
        match self {
            Ink::Black => (0x23, 0x1d, 0x15),
            Ink::Soft => (0x5f, 0x56, 0x46),
            Ink::Hair => (0xb9, 0xad, 0x93),
            Ink::Accent => (0x8f, 0x2a, 0x1c),
        }
    }

    /// What the listening page calls it.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Ink::Black => "ink",
            Ink::Soft => "soft",
            Ink::Hair => "hair",
            Ink::Accent => "accent",
        }
    }
}

/// The paper's colour.
pub(super) const PAPER: (u8, u8, u8) = (0xfa, 0xf5, 0xe6);

/// Where words stand against their point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// They begin at it.
    Begin,
    /// They end at it.
    End,
}

/// One mark on the paper. Places are in units from the upper left corner.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Mark {
    /// A straight line of a width.
    Line {
        /// From where.
        from: (f32, f32),
        /// To where.
        to: (f32, f32),
        /// How wide.
        width: f32,
        /// In what.
        ink: Ink,
    },
    /// A filled area.
    Area {
        /// Its corners in order.
        corners: Vec<(f32, f32)>,
        /// In what.
        ink: Ink,
    },
    /// A dot.
    Dot {
        /// Its middle.
        at: (f32, f32),
        /// Its radius.
        radius: f32,
        /// In what.
        ink: Ink,
    },
    /// Words on a line.
    Words {
        /// Where they begin or end, on their baseline.
        at: (f32, f32),
        /// Which of the two.
        side: Side,
        /// The lettering's size.
        size: f32,
        /// In what.
        ink: Ink,
        /// What they say.
        text: String,
    },
}

/// A sheet with marks on it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawing {
    /// In units.
    pub width: f32,
    /// In units.
    pub height: f32,
    /// What it shows, in words, for those who can't see it.
    pub tells: String,
    /// More of it in words, where there is more to say.
    pub described: String,
    /// From the back to the front.
    pub marks: Vec<Mark>,
}

impl Drawing {
    /// An empty sheet.
    pub(super) fn new(width: f32, mut tells: String) -> Drawing {
        clean(&mut tells);
        Drawing {
            width,
            height: 0.0,
            tells,
            described: String::new(),
            marks: Vec::new(),
        }
    }

    /// Says more of what it shows.
    pub(super) fn describes(&mut self, mut text: String) {
        clean(&mut text);
        self.described = text;
    }

    /// Draws an upright line.
    pub(super) fn upright(&mut self, x: f32, from: f32, to: f32, width: f32, ink: Ink) {
        self.marks.push(Mark::Line {
            from: (x, from),
            to: (x, to),
            width,
            ink,
        });
    }

    /// Draws a level line.
    pub(super) fn level(&mut self, y: f32, from: f32, to: f32, width: f32, ink: Ink) {
        self.marks.push(Mark::Line {
            from: (from, y),
            to: (to, y),
            width,
            ink,
        });
    }

    /// Writes words that begin at a point.
    pub(super) fn words(&mut self, at: (f32, f32), size: f32, ink: Ink, text: impl Into<String>) {
        self.write(at, Side::Begin, size, ink, text.into());
    }

    /// Writes words that end at a point.
    pub(super) fn words_before(&mut self, at: (f32, f32), size: f32, ink: Ink, text: impl Into<String>) {
        self.write(at, Side::End, size, ink, text.into());
    }

    fn write(&mut self, at: (f32, f32), side: Side, size: f32, ink: Ink, mut text: String) {
        clean(&mut text);
        self.marks.push(Mark::Words {
            at,
            side,
            size,
            ink,
            text,
        });
    }

    /// Draws a waveform's outline in a frame: its left edge, its middle line, its width and half its height, full scale
    /// being `peak`.
    pub(super) fn wave(
        &mut self,
        columns: &[(f32, f32)],
        (left, middle): (f32, f32),
        (width, half): (f32, f32),
        peak: f32,
        ink: Ink,
    ) {
        let x = |column: usize| left + width * (column as f32 + 0.5) / columns.len() as f32;
        let y = |sample: f32| middle - half * sample / peak.max(f32::MIN_POSITIVE);
        // Half a unit more on either side: silence is a line, too.
        let upper = columns.iter().enumerate().map(|(n, (_, high))| (x(n), y(*high) - 0.4));
        let lower = columns
            .iter()
            .enumerate()
            .rev()
            .map(|(n, (low, _))| (x(n), y(*low) + 0.4));
        let corners = upper.chain(lower).collect();
        self.marks.push(Mark::Area { corners, ink });
    }
}

/// Words cut so that they are no wider than so many units, with an ellipsis where something is left out.
pub(super) fn fitting(text: &str, size: f32, width: f32) -> String {
    if lettering::width(text, size) <= width {
        return text.to_string();
    }
    let mut kept: String = text.to_string();
    while kept.pop().is_some() {
        let short = format!("{}…", kept.trim_end());
        if lettering::width(&short, size) <= width {
            return short;
        }
    }
    String::new()
}

/// The same with the ellipsis in the middle: names of files differ at their ends as often as not.
pub(super) fn fitting_ends(text: &str, size: f32, width: f32) -> String {
    if lettering::width(text, size) <= width {
        return text.to_string();
    }
    let letters: Vec<char> = text.chars().collect();
    let kept = |count: usize| {
        let tail = letters.len() - count / 2;
        let ends = letters[..count.div_ceil(2)]
            .iter()
            .chain(&['…'])
            .chain(&letters[tail..]);
        ends.collect::<String>()
    };
    let counts: Vec<usize> = (1..letters.len()).collect();
    match counts.partition_point(|count| lettering::width(&kept(*count), size) <= width) {
        0 => String::new(),
        count => kept(count),
    }
}
