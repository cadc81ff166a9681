//! Degrees above a root.

use std::fmt;

use super::note::{Letter, Spelling};

/// A degree above a root, counted in the root's major scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Degree {
    /// 1 for the root, 8 for its octave, 9 for the ninth.
    pub number: u8,
    /// Semitones above (sharp) or below (flat) the major scale's note.
    pub alter: i8,
}

impl Degree {
    /// A degree of at least 1 with its alteration.
    pub const fn new(number: u8, alter: i8) -> Degree {
        Degree {
            number: if number == 0 { 1 } else { number },
            alter,
        }
    }

    /// Semitones above the root.
    pub fn semitones(self) -> i32 {
        let steps = i32::from(self.number) - 1;
        Letter::ALL[(steps % 7) as usize].semitones() + 12 * (steps / 7) + i32::from(self.alter)
    }

    /// Its place among the seven steps of a scale, 0 for the root and its octaves.
    pub fn step(self) -> usize {
        usize::from(self.number - 1) % 7
    }

    /// The name that it has above a root: as many letters up as its number says.
    pub fn above(self, root: Spelling) -> Spelling {
        let letters = root.letter as i32 + i32::from(self.number) - 1;
        let letter = root.letter.step(i32::from(self.number) - 1);
        let natural = letter.semitones() + 12 * (letters / 7);
        let meant = root.letter.semitones() + i32::from(root.alter) + self.semitones();
        Spelling::new(letter, (meant - natural) as i8)
    }

    /// The degree, from 1 to 7, that one name is above another.
    pub fn between(root: Spelling, name: Spelling) -> Degree {
        let number = (name.letter as i32 - root.letter as i32).rem_euclid(7) as u8 + 1;
        let plain = Degree::new(number, 0).above(root);
        Degree::new(number, name.alter - plain.alter)
    }
}

/// As lead sheets write it: `b9`, `#11`, `5`.
impl fmt::Display for Degree {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mark = if self.alter < 0 { "b" } else { "#" };
        write!(f, "{}{}", mark.repeat(self.alter.unsigned_abs().into()), self.number)
    }
}
