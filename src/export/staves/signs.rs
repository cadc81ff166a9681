//! The signs of written music: outlines of an open font that follows SMuFL, built in.
//!
//! `signs.py` takes them out of the font and says what a line of `signs.txt` holds; `signs-licence.txt` is its licence.

use std::collections::BTreeMap;
use std::sync::LazyLock;

const LINES: &str = include_str!("signs.txt");
/// Units of the outlines in a staff space.
pub(super) const UNITS: f64 = 250.0;

/// A sign. Lengths in staff spaces, heights downwards from its baseline.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sign {
    /// How far it reaches: left, top, right, bottom.
    pub reach: [f64; 4],
    /// Where a stem that goes up leaves it.
    pub stem_up: (f64, f64),
    /// Where a stem that goes down leaves it.
    pub stem_down: (f64, f64),
    /// Its outline as data of an SVG path, in [`UNITS`].
    pub path: &'static str,
}

impl Sign {
    /// How far it reaches from its left edge to its right one.
    pub(super) fn width(&self) -> f64 {
        self.reach[2] - self.reach[0]
    }
}

static SIGNS: LazyLock<BTreeMap<&'static str, Sign>> = LazyLock::new(|| LINES.lines().filter_map(read).collect());

fn read(line: &'static str) -> Option<(&'static str, Sign)> {
    let mut words = line.splitn(11, ' ');
    let name = words.next()?;
    let mut number = || words.next()?.parse::<f64>().ok().map(|units| units / UNITS);
    let _advance = number()?;
    let reach = [number()?, number()?, number()?, number()?];
    let stem_up = (number()?, number()?);
    let stem_down = (number()?, number()?);
    let path = words.next()?;
    let sign = Sign {
        reach,
        stem_up,
        stem_down,
        path,
    };
    Some((name, sign))
}

/// A sign by its SMuFL name, one of those in `signs.txt`.
pub(super) fn sign(name: &str) -> Sign {
    *SIGNS.get(name).expect("every sign that is drawn is built in")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_is_a_sign_within_its_box() {
        assert_eq!(SIGNS.len(), LINES.lines().count());
        for (name, sign) in SIGNS.iter() {
            let [left, top, right, bottom] = sign.reach;
            assert!(left < right && top < bottom, "{name}");
            assert!(sign.path.starts_with('M') && sign.path.ends_with('Z'), "{name}");
        }
        // SMuFL 1.4: a staff space is a quarter of an em, and a black head fills one.
        let head = sign("noteheadBlack");
        assert!((head.reach[3] - head.reach[1] - 1.0).abs() < 0.15, "{head:?}");
    }
}
