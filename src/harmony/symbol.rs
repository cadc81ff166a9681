//! Reads the words behind a chord symbol's root.

use std::ops::Range;

use super::degree::Degree;
use super::note::accidentals;
use super::quality::{ADDED, ALTERED, FAMILIES, FIGURES, Family, Figure, MAJOR, TRIANGLES};

/// What stands behind a chord's root, word by word.
#[derive(Debug, Clone)]
pub(super) struct Quality {
    family: Family,
    figure: Option<Figure>,
    major_seventh: bool,
    suspended: Vec<u8>,
    altered: Vec<Degree>,
    added: Vec<Degree>,
    omitted: Vec<u8>,
    all_altered: bool,
}

/// What could not be read, and where: a sentence's beginning and bytes.
pub(super) type Wrong = (&'static str, Range<usize>);

const UNKNOWN: &str = "is no part of a chord symbol";

struct Cursor<'a> {
    text: &'a str,
    at: usize,
    opened: Vec<usize>,
}

impl<'a> Cursor<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn take(&mut self, word: &str) -> bool {
        let begins = self.rest().starts_with(word);
        if begins {
            self.at += word.len();
        }
        begins
    }

    fn take_any<T: Copy>(&mut self, table: &[(&str, T)]) -> Option<T> {
        table.iter().find(|(word, _)| self.take(word)).map(|(_, value)| *value)
    }

    fn take_number(&mut self, known: &[u8]) -> Option<u8> {
        known.iter().copied().find(|number| self.take(&number.to_string()))
    }

    /// Brackets and commas only part the words.
    fn pass_separators(&mut self) -> Result<(), Wrong> {
        while let Some(next) = self.rest().chars().next() {
            match next {
                '(' | '[' => self.opened.push(self.at),
                ')' | ']' if self.opened.pop().is_none() => {
                    return Err(("closes a bracket that none opened", self.at..self.at + 1));
                }
                ')' | ']' | ',' => {}
                _ => break,
            }
            self.at += 1;
        }
        Ok(())
    }

    fn unknown(&self, from: usize) -> Wrong {
        (UNKNOWN, from..self.text.len())
    }
}

impl Quality {
    /// Reads all of a text; the empty one is a major triad.
    pub(super) fn read(text: &str) -> Result<Quality, Wrong> {
        let mut cursor = Cursor {
            text,
            at: 0,
            opened: Vec::new(),
        };
        let mut quality = Quality::begin(&mut cursor)?;
        loop {
            cursor.pass_separators()?;
            if cursor.rest().is_empty() {
                break;
            }
            let from = cursor.at;
            if !quality.word(&mut cursor) {
                return Err(cursor.unknown(from));
            }
        }
        match cursor.opened.pop() {
            Some(open) => Err(("opens a bracket that none closes", open..open + 1)),
            None => Ok(quality),
        }
    }

    fn begin(cursor: &mut Cursor) -> Result<Quality, Wrong> {
        let triangle = TRIANGLES.iter().any(|sign| cursor.rest().starts_with(sign));
        let family = family(cursor);
        let mut quality = Quality {
            family,
            figure: None,
            major_seventh: triangle,
            suspended: Vec::new(),
            altered: Vec::new(),
            added: Vec::new(),
            omitted: Vec::new(),
            all_altered: false,
        };
        cursor.pass_separators()?;
        let from = cursor.at;
        if !matches!(family, Family::Plain | Family::Major) {
            let at = cursor.at;
            // `Cm/maj7` is another way to write `Cm(maj7)`.
            let slashed = cursor.take("/");
            quality.major_seventh = take_major(cursor);
            if slashed && !quality.major_seventh {
                cursor.at = at;
            }
        }
        quality.figure = cursor.take_any(&FIGURES);
        // `C2` is another way to write `Csus2`.
        if family == Family::Plain && cursor.rest() == "2" {
            cursor.at += 1;
            quality.suspended.push(2);
        }
        let stands = match quality.figure {
            Some(Figure::Power) => family == Family::Plain,
            Some(Figure::Six | Figure::SixNine) => {
                !quality.major_seventh && family != Family::HalfDiminished && family != Family::Diminished
            }
            Some(Figure::Stack(_)) => true,
            None => true,
        };
        if stands { Ok(quality) } else { Err(cursor.unknown(from)) }
    }

    /// One word behind family and figure; false where there is none that is known.
    fn word(&mut self, cursor: &mut Cursor) -> bool {
        if cursor.take("sus") {
            return self.suspend(cursor);
        }
        if cursor.take("add") {
            return self.add(cursor);
        }
        if cursor.take("no") || cursor.take("omit") {
            let omitted = cursor.take_number(&[3, 5]);
            self.omitted.extend(omitted);
            return omitted.is_some();
        }
        if cursor.rest().starts_with("alt") {
            return self.alter_all(cursor);
        }
        if take_major(cursor) {
            self.major_seventh = true;
            return cursor.take("7");
        }
        // Some sheets add a tension with a slash: `C7/13`.
        let slashed = cursor.take("/");
        if (slashed || !cursor.opened.is_empty())
            && let Some(number) = cursor.take_number(&[11, 13, 9])
        {
            self.added.push(Degree::new(number, 0));
            return true;
        }
        if slashed {
            return false;
        }
        self.alter(cursor)
    }

    fn suspend(&mut self, cursor: &mut Cursor) -> bool {
        let both = cursor.take("24") || cursor.take("2/4");
        match cursor.take_number(&[2, 4]) {
            _ if both => self.suspended.extend([2, 4]),
            Some(number) => self.suspended.push(number),
            None => self.suspended.push(4),
        }
        true
    }

    fn add(&mut self, cursor: &mut Cursor) -> bool {
        let (alter, length) = accidentals(cursor.rest());
        cursor.at += length;
        match cursor.take_number(&ADDED) {
            Some(number) if alter == 0 || ALTERED.contains(&(number, alter)) => {
                self.added.push(Degree::new(number, alter));
                true
            }
            _ => false,
        }
    }

    /// `7alt`: fifth and ninth altered both ways; players take one of each, here the raised ones (common practice).
    fn alter_all(&mut self, cursor: &mut Cursor) -> bool {
        if self.family != Family::Plain || !matches!(self.figure, None | Some(Figure::Stack(7))) {
            return false;
        }
        self.figure = Some(Figure::Stack(7));
        self.all_altered = true;
        for (number, alter) in [(5, -1), (5, 1), (9, -1), (9, 1)] {
            self.altered.push(Degree::new(number, alter));
        }
        cursor.take("alt")
    }

    fn alter(&mut self, cursor: &mut Cursor) -> bool {
        let (mut alter, mut length) = accidentals(cursor.rest());
        if length == 0 && self.figure.is_some() {
            // Older sheets write plus and minus for sharp and flat behind a figure.
            (alter, length) = match cursor.rest().chars().next() {
                Some('+') => (1, 1),
                Some('-') => (-1, 1),
                _ => (0, 0),
            };
        }
        let plus = cursor.rest().starts_with('+');
        cursor.at += length;
        let known = ALTERED.iter().filter(|(_, by)| *by == alter).copied();
        for (number, by) in known {
            if cursor.take(&number.to_string()) {
                self.altered.push(Degree::new(number, by));
                return true;
            }
        }
        if plus && length == 1 {
            self.altered.push(Degree::new(5, 1));
        }
        plus && length == 1
    }

    /// The degrees, from the root up, each with whether the chord needs it.
    pub(super) fn degrees(&self) -> Vec<(Degree, bool)> {
        let mut tones = vec![(Degree::new(1, 0), true)];
        self.lower(&mut tones);
        self.upper(&mut tones);
        for degree in &self.added {
            tones.push((*degree, true));
        }
        tones.retain(|(degree, _)| degree.alter != 0 || !self.omitted.contains(&degree.number));
        if !self.suspended.is_empty() || self.omitted.contains(&3) {
            tones.retain(|(degree, _)| degree.number != 3);
        }
        for number in &self.suspended {
            tones.retain(|(degree, _)| *degree != Degree::new(number + 7, 0));
        }
        if self.all_altered {
            for (degree, essential) in &mut tones {
                *essential &= degree.alter >= 0 || degree.number == 7;
            }
        }
        tones.sort_by_key(|(degree, essential)| (*degree, !essential));
        tones.dedup_by_key(|(degree, _)| *degree);
        tones
    }

    /// Third or suspension, fifth, sixth, seventh.
    fn lower(&self, tones: &mut Vec<(Degree, bool)>) {
        for number in &self.suspended {
            tones.push((Degree::new(*number, 0), true));
        }
        if self.figure != Some(Figure::Power) {
            // An eleventh rubs against a major third, so that players leave the third out [practice].
            let rubs = self.figure == Some(Figure::Stack(11)) && !self.family.keeps_eleventh();
            tones.push((self.family.third(), !rubs));
        }
        let fifths: Vec<Degree> = self
            .altered
            .iter()
            .copied()
            .filter(|degree| degree.number == 5)
            .collect();
        if fifths.is_empty() {
            let fifth = self.family.fifth();
            // Under a sixth it tells the chord from the minor triad a third lower.
            tones.push((fifth, !self.has_seventh() || fifth.alter != 0));
        }
        tones.extend(fifths.into_iter().map(|degree| (degree, true)));
        if matches!(self.figure, Some(Figure::Six | Figure::SixNine)) {
            tones.push((Degree::new(6, 0), true));
        }
        if self.has_seventh() {
            let seventh = if self.major_seventh {
                Degree::new(7, 0)
            } else {
                self.family.seventh()
            };
            tones.push((seventh, true));
        }
    }

    /// Ninth, eleventh, thirteenth: stacked, or altered.
    fn upper(&self, tones: &mut Vec<(Degree, bool)>) {
        let top = match self.figure {
            Some(Figure::Stack(top)) => top,
            Some(Figure::SixNine) => 9,
            _ => 0,
        };
        for number in [9, 11, 13] {
            let altered = self.altered.iter().any(|degree| degree.number == number);
            let left_out = number == 11 && top == 13 && !self.family.keeps_eleventh();
            if number <= top && !altered && !left_out {
                tones.push((Degree::new(number, 0), number == top));
            }
        }
        tones.extend(
            self.altered
                .iter()
                .filter(|degree| degree.number != 5)
                .map(|degree| (*degree, true)),
        );
    }

    fn has_seventh(&self) -> bool {
        self.major_seventh || self.family == Family::HalfDiminished || matches!(self.figure, Some(Figure::Stack(_)))
    }
}

fn family(cursor: &mut Cursor) -> Family {
    // `ma7` is a major seventh, `madd9` a minor chord with a ninth.
    for word in ["ma", "MA"] {
        if let Some(behind) = cursor.rest().strip_prefix(word)
            && behind.starts_with(|next: char| next.is_ascii_digit())
        {
            cursor.at += word.len();
            return Family::Major;
        }
    }
    cursor.take_any(&FAMILIES).unwrap_or(Family::Plain)
}

/// A word for the major seventh; but for the triangles it needs its figure behind it.
fn take_major(cursor: &mut Cursor) -> bool {
    for word in MAJOR {
        if let Some(behind) = cursor.rest().strip_prefix(word) {
            let stands = TRIANGLES.contains(&word) || ["7", "9", "11", "13"].iter().any(|f| behind.starts_with(f));
            if stands {
                cursor.at += word.len();
            }
            return stands;
        }
    }
    false
}
