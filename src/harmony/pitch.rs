//! Pitches that need not be notes: a note's name and cents beside it, such as `A4 +17c`.

use super::misread::Misread;
use super::note::Note;

/// A pitch lies at most so many cents from the note that it is named by: a semitone.
const FARTHEST: f64 = 100.0;

/// Reads a note's name with or without cents behind it, or a MIDI number with or without a fraction.
///
/// # Errors
/// What can't be read of it, with the nearest that can. So are pitches beyond MIDI's keys.
pub(crate) fn parse_pitch(text: &str) -> Result<f64, Misread> {
    let text = text.trim_end();
    let number: Option<f64> = text.trim_start().parse().ok();
    if let Some(key) = number.filter(|key| (0.0..=127.0).contains(key)) {
        return Ok(key);
    }
    let Some(at) = behind_note(text) else {
        return Note::parse(text).map(|note| f64::from(note.midi()));
    };
    let note = Note::parse(text[..at].trim_end())?;
    let cents = cents(note, text, at)?;
    // Divided once, so that every way to write a pitch in whole cents gives the same number.
    let key = (f64::from(note.midi()) * 100.0 + cents) / 100.0;
    match (0.0..=127.0).contains(&key) {
        true => Ok(key),
        false => Err(Misread::new(
            "this lies beyond the keys of MIDI, which go from C-1 to G9",
            at..text.len(),
        )),
    }
}

/// Where cents begin: behind the first space, or at a sign behind which nothing but cents can be meant.
fn behind_note(text: &str) -> Option<usize> {
    let space = text.find(char::is_whitespace);
    space.or_else(|| text.find('+')).or_else(|| {
        let sign = text.rfind('-')?;
        text.ends_with(['c', 't']).then_some(sign)
    })
}

/// The cents that are written from a byte on.
fn cents(note: Note, text: &str, at: usize) -> Result<f64, Misread> {
    let at = text.len() - text[at..].trim_start().len();
    let written = &text[at..];
    let digits = |sign: char| sign.is_ascii_digit() || sign == '.';
    let figures = written.trim_start_matches(['+', '-']);
    let end = figures.find(|sign| !digits(sign)).unwrap_or(figures.len());
    let number: Option<f64> = figures[..end].parse().ok();
    let signed = number.map(|number| if written.starts_with('-') { -number } else { number });
    let meant = signed.map(|cents| pitch_name(f64::from(note.midi()) + cents / 100.0));
    let one_sign = written.len() == figures.len() + 1;
    match signed.filter(|_| one_sign && &figures[end..] == "c") {
        Some(cents) if cents.abs() <= FARTHEST => Ok(cents),
        Some(_) => {
            let what = format!("`{written}` leads more than a semitone away from {note}");
            Err(Misread::new(what, at..text.len()).offer(meant))
        }
        None => {
            let what = format!("`{written}` is no number of cents with its sign, such as `+17c`");
            Err(Misread::new(what, at..text.len()).offer(meant))
        }
    }
}

/// The name of a pitch, by the nearest note spelled with sharps and whole cents where it is not that note: `A4 +17c` for 69.17.
pub(crate) fn pitch_name(key: f64) -> String {
    const NAMES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
    let cents = libm::round(key * 100.0) as i32;
    let note = (cents + 50).div_euclid(100);
    let name = format!("{}{}", NAMES[note.rem_euclid(12) as usize], note.div_euclid(12) - 1);
    match cents - 100 * note {
        0 => name,
        beside => format!("{name} {beside:+}c"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_whole_cent_has_a_name_that_is_read_as_it() {
        for cents in 0..=12_700 {
            let key = f64::from(cents) / 100.0;
            assert_eq!(parse_pitch(&pitch_name(key)), Ok(key), "{}", pitch_name(key));
            assert_eq!(parse_pitch(&key.to_string()), Ok(key));
        }
        assert_eq!(pitch_name(69.17), "A4 +17c");
        assert_eq!(pitch_name(68.83), "A4 -17c");
        assert_eq!(pitch_name(60.0), "C4");
    }

    #[test]
    fn cents_are_read_with_and_without_a_space() {
        for (text, key) in [
            ("A4 +17c", 69.17),
            ("A4+17c", 69.17),
            ("A4 -17c", 68.83),
            ("A4-17c", 68.83),
            ("Bb-1 -50c", 9.5),
            ("C-1", 0.0),
            ("Bb3 +100c", 59.0),
            ("F#2 +0.5c", 42.005),
            ("60", 60.0),
        ] {
            assert_eq!(parse_pitch(text), Ok(key), "{text}");
        }
    }

    #[test]
    fn what_is_misspelled_is_pointed_at_with_what_was_meant() {
        for (text, span, nearest) in [
            ("A4 17c", 3..6, Some("A4 +17c")),
            ("A4 +17", 3..6, Some("A4 +17c")),
            ("A4 -17 cents", 3..12, Some("A4 -17c")),
            ("A4-17ct", 2..7, Some("A4 -17c")),
            ("A4 +170c", 3..8, Some("B4 -30c")),
            ("A4 +c", 3..5, None),
            ("A4 ++3c", 3..7, Some("A4 +3c")),
            ("H4 +3c", 0..1, Some("B4")),
            ("A +3c", 0..1, Some("A4")),
            ("G9 +1c", 2..6, None),
            ("200", 0..1, None),
        ] {
            let wrong = parse_pitch(text).expect_err(text);
            assert_eq!(
                (wrong.span.clone(), wrong.nearest.as_deref()),
                (span, nearest),
                "{text}: {wrong}"
            );
        }
    }
}
