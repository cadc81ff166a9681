//! Notes and MIDI numbers in names.

use crate::harmony::Note;

/// The MIDI number of a word that is a note with its octave, such as `f#1`. Some makers count octaves so that it may lie beyond
/// MIDI's keys.
pub(super) fn key_of(word: &str) -> Option<i32> {
    let first = word.chars().next().filter(char::is_ascii)?;
    let digits = word.find(|c: char| c.is_ascii_digit() || c == '-')?;
    let octave: i32 = word[digits..]
        .parse()
        .ok()
        .filter(|octave| (-2..=10).contains(octave))?;
    let name = format!("{}{}4", first.to_ascii_uppercase(), word.get(1..digits)?);
    Some(Note::parse(&name).ok()?.midi() + 12 * (octave - 4))
}

pub(super) fn midi_number(word: &str) -> Option<i32> {
    let number = word.parse().ok().filter(|_| word.len() == 3)?;
    (21..=108).contains(&number).then_some(number)
}
