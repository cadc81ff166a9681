//! What file names tell: which piece, which take of it, how hard.

use std::cmp::Ordering;

use crate::harmony::Note;

use super::words::{DYNAMICS, PLAIN, TELLING};

/// What the name of a file tells.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Told {
    /// The name without what tells takes apart, in lower case with hyphens: `snare-deep` of `Snare deep_02`.
    pub base: String,
    /// How hard it is struck, in ranks of the table of dynamics; `v1` to `v9` are ranks above those.
    pub rank: f64,
    /// The General MIDI percussion piece, where its words tell one.
    pub piece: Option<&'static str>,
    /// The note that its name names, as a MIDI number with C4 at 60; never of a percussion piece, whose `a1` is but a label.
    pub note: Option<i32>,
    /// What may be a MIDI number, written with three digits as in `keys_060`: from 21 to 108, the keys of a piano.
    pub number: Option<i32>,
}

/// Reads the name of a file, without its extension.
pub(super) fn told(stem: &str) -> Told {
    let mut words = words(stem);
    let mut rank = PLAIN;
    let mut note = None;
    let mut number = None;
    let pitched = piece(&words).is_none();
    // A name that is nothing but a turn or a dynamic has to keep it.
    while words.len() > 1 {
        let last = &words[words.len() - 1];
        if let Some(told) = dynamic(last) {
            rank = told;
        } else if pitched && note.is_none() && key_of(last).is_some() {
            note = key_of(last);
        } else if is_turn(last) {
            number = midi_number(last).filter(|_| pitched).or(number);
        } else {
            break;
        }
        words.pop();
        if words.len() > 1 && matches!(words[words.len() - 1].as_str(), "take" | "rr") {
            words.pop();
        }
    }
    // Words, unlike letters, tell a dynamic wherever they stand: `soft snare`.
    while words.len() > 1
        && let Some(at) = words.iter().position(|word| word.len() > 3 && dynamic(word).is_some())
    {
        rank = dynamic(&words.remove(at)).unwrap_or(rank);
    }
    // So do notes: `C3 keys`.
    if pitched
        && note.is_none()
        && words.len() > 1
        && let Some(at) = words.iter().rposition(|word| key_of(word).is_some())
    {
        note = key_of(&words.remove(at));
    }
    Told {
        base: words.join("-"),
        rank,
        piece: piece(&words),
        note,
        number,
    }
}

/// The MIDI number of a word that is a note with its octave, such as `f#1`.
fn key_of(word: &str) -> Option<i32> {
    let first = word.chars().next().filter(char::is_ascii)?;
    let name = format!("{}{}", first.to_ascii_uppercase(), &word[1..]);
    Note::parse(&name).ok().map(Note::midi)
}

fn midi_number(word: &str) -> Option<i32> {
    let number = word.parse().ok().filter(|_| word.len() == 3)?;
    (21..=108).contains(&number).then_some(number)
}

/// A name as it is written in a loop file: its words in lower case, with hyphens.
pub(super) fn hyphened(stem: &str) -> String {
    words(stem).join("-")
}

/// The words of a name in lower case. They end at whatever is no letter or digit, before a capital that a small letter stands before or
/// (`HHOpen`) behind, and between letters and digits, but for `v1`, `rr1` and the names of notes, such as `F#3`.
fn words(stem: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut word = String::new();
    let mut before = ' ';
    let mut letters = stem.chars().peekable();
    while let Some(letter) = letters.next() {
        let small_next = letters.peek().is_some_and(|next| next.is_lowercase());
        let capital = letter.is_uppercase() && (before.is_lowercase() || (before.is_uppercase() && small_next));
        let digits = letter.is_ascii_digit() != before.is_ascii_digit() && !keeps_digit(&word, letter);
        let sharp = letter == '#' && is_note_letter(&word);
        if (capital || digits || !letter.is_alphanumeric()) && !sharp && !word.is_empty() {
            words.push(std::mem::take(&mut word));
        }
        if letter.is_alphanumeric() || sharp {
            word.extend(letter.to_lowercase());
        }
        before = letter;
    }
    if !word.is_empty() {
        words.push(word);
    }
    words
}

/// True where a digit behind a word belongs to it.
fn keeps_digit(word: &str, letter: char) -> bool {
    let note = word.strip_suffix(['#', 'b']).unwrap_or(word);
    letter.is_ascii_digit() && (word == "v" || word == "rr" || is_note_letter(word) || is_note_letter(note))
}

fn is_note_letter(word: &str) -> bool {
    matches!(word.as_bytes(), [b'a'..=b'g'])
}

/// A turn: a number, or `rr` (round robin) and a number.
fn is_turn(word: &str) -> bool {
    let digits = word.strip_prefix("rr").unwrap_or(word);
    !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit())
}

/// The rank of a word for how hard a take is struck.
fn dynamic(word: &str) -> Option<f64> {
    let layer = word.strip_prefix('v').and_then(|digits| digits.parse().ok());
    match layer {
        Some(layer @ 1..=9) => Some(10.0 + f64::from(layer as u8)),
        _ => DYNAMICS.iter().find(|(known, _)| *known == word).map(|(_, rank)| *rank),
    }
}

/// The first piece of the table whose words all stand in a name.
fn piece(words: &[String]) -> Option<&'static str> {
    let stands = |known: &&str| {
        words
            .iter()
            .any(|word| word == known || word.strip_suffix('s') == Some(known))
    };
    let fits = |groups: &[&[&str]]| groups.iter().all(|group| group.iter().any(stands));
    TELLING
        .iter()
        .find(|telling| fits(telling.words))
        .map(|telling| telling.piece)
}

/// Names in the order in which a person would put them: numbers by their value, capitals no matter.
pub(super) fn in_order(a: &str, b: &str) -> Ordering {
    let (mut left, mut right) = (pieces_of(a), pieces_of(b));
    loop {
        let order = match (left.next(), right.next()) {
            (None, None) => return a.cmp(b),
            (None, Some(_)) => Ordering::Less,
            (Some(_), None) => Ordering::Greater,
            (Some(l), Some(r)) if is_number(l) && is_number(r) => {
                let (l, r) = (l.trim_start_matches('0'), r.trim_start_matches('0'));
                l.len().cmp(&r.len()).then_with(|| l.cmp(r))
            }
            (Some(l), Some(r)) => l.to_lowercase().cmp(&r.to_lowercase()),
        };
        if order != Ordering::Equal {
            return order;
        }
    }
}

fn is_number(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
}

/// Runs of digits and single characters.
fn pieces_of(mut text: &str) -> impl Iterator<Item = &str> {
    std::iter::from_fn(move || {
        let first = text.chars().next()?;
        let end = match first.is_ascii_digit() {
            true => text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len()),
            false => first.len_utf8(),
        };
        let (run, rest) = text.split_at(end);
        text = rest;
        Some(run)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_a_name_tell_its_piece() {
        for (stem, piece) in [
            ("kick", "kick"),
            ("Kick_Deep 03", "kick"),
            ("BD-01", "kick"),
            ("bass drum soft", "kick"),
            ("SnareTight", "snare"),
            ("sd_ff_02", "snare"),
            ("snr", "snare"),
            ("side stick", "side-stick"),
            ("Rim 2", "side-stick"),
            ("cross-stick", "side-stick"),
            ("Claps", "clap"),
            ("hat", "hat-closed"),
            ("HH", "hat-closed"),
            ("chh1", "hat-closed"),
            ("HHClosed", "hat-closed"),
            ("closed hat", "hat-closed"),
            ("hi-hat", "hat-closed"),
            ("hihat open", "hat-open"),
            ("OHH_02", "hat-open"),
            ("hat pedal", "hat-pedal"),
            ("tom floor", "tom-floor"),
            ("Hi Tom", "tom-high"),
            ("LowTom", "tom-low"),
            ("toms mid 1", "tom-mid"),
            ("ride bell", "ride-bell"),
            ("ride", "ride"),
            ("cow bell", "cowbell"),
            ("bongo hi", "bongo-high"),
            ("conga slap", "conga-slap"),
            ("Congas", "conga-open"),
            ("maracas", "maracas"),
            ("Claves", "claves"),
            ("wood block low", "woodblock-low"),
            ("triangle muted", "triangle-mute"),
        ] {
            assert_eq!(told(stem).piece, Some(piece), "{stem}");
        }
        for stem in ["bass G1", "foghorn", "tom", "chat", "kicker", "01"] {
            assert_eq!(told(stem).piece, None, "{stem}");
        }
    }

    #[test]
    fn turns_and_dynamics_are_no_part_of_the_base() {
        for (stem, base, rank) in [
            ("snare_01", "snare", PLAIN),
            ("Snare soft", "snare", 2.0),
            ("soft snare 3", "snare", 2.0),
            ("snare_v2_rr3", "snare", 12.0),
            ("snare deep ff 12", "snare-deep", 6.0),
            ("snare take 2", "snare", PLAIN),
            ("piano f", "piano", 5.0),
            ("piano_F3", "piano", PLAIN),
            ("Bass F#1 soft", "bass", 2.0),
            ("bass_Bb1_02", "bass", PLAIN),
            ("A3", "a3", PLAIN),
            ("snare_a1", "snare-a1", PLAIN),
            ("f", "f", PLAIN),
            ("01", "01", PLAIN),
            ("soft", "soft", PLAIN),
        ] {
            let told = told(stem);
            assert_eq!((told.base.as_str(), told.rank), (base, rank), "{stem}");
        }
    }

    #[test]
    fn notes_and_midi_numbers_tell_roots() {
        for (stem, note, number) in [
            ("Bass_F#1", Some(30), None),
            ("keys-c3", Some(48), None),
            ("bass_Bb1_02", Some(34), None),
            ("C3 keys soft", Some(48), None),
            ("organ Eb4 v2", Some(63), None),
            ("keys_060", None, Some(60)),
            ("keys_060_2", None, Some(60)),
            ("keys_12", None, None),
            ("keys_001", None, None),
            ("snare_A1", None, None),
            ("C3", None, None),
            ("pad H3", None, None),
            ("pad c12", None, None),
        ] {
            let told = told(stem);
            assert_eq!((told.note, told.number), (note, number), "{stem}");
        }
    }

    #[test]
    fn numbers_stand_in_the_order_of_their_values() {
        let mut names = ["snare_10", "Snare_2", "kick", "snare_1", "snare"];
        names.sort_by(|a, b| in_order(a, b));
        assert_eq!(names, ["kick", "snare", "snare_1", "Snare_2", "snare_10"]);
    }
}
