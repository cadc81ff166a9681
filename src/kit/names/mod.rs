//! Names of files: which piece a one-shot is, which take of it, how hard it was struck.
//!
//! [`lexicon`] looks words up in the tables of [`words`]; [`classify`] decides between their meanings, with a confidence;
//! [`variants`] distinguishes open from closed and high from low; [`takes`] groups what differs in a number or a dynamic only;
//! [`sides`] finds the left and the right of a stereo recording.
//!
//! In: paths. Out: readings with their confidence. It knows nothing of kit.toml and of loops.

pub(crate) mod classify;
pub(crate) mod letters;
pub(crate) mod lexicon;
mod notes;
mod order;
pub(crate) mod sides;
pub(crate) mod takes;
pub(crate) mod variants;
pub(crate) mod words;

use std::path::Path;

use unicode_normalization::UnicodeNormalization;

use classify::{Classified, Decided, Folders, classify, for_reading};
use letters::is_number;
use notes::{key_of, midi_number};
pub(super) use order::in_order;
use words::{DYNAMICS, LAYER_WORDS, PLAIN, TURN_WORDS, UNITS};

/// What the name of a file tells.
#[derive(Debug, Clone, Default)]
pub(super) struct NameClues {
    /// The name without what tells takes apart, in lower case with hyphens: `snare-deep` of `Snare deep_02`.
    pub base: String,
    /// How hard it is struck, in ranks of the table of dynamics; numbered layers are ranks above those, from [`NUMBERED`] on.
    pub rank: f64,
    /// What it is where the doubtful word of its telling is a turn or a dynamic after all: its base and its rank.
    pub otherwise: Option<(String, f64)>,
    /// The letter behind it, which may count turns.
    pub letter: Option<char>,
    /// Which piece it is.
    pub classified: Classified,
    /// The note that its name names, as a MIDI number with C4 at 60; never of a percussion piece, whose `a1` is but a label.
    pub note: Option<i32>,
    /// What may be a MIDI number, written with three digits as in `keys_060`: from 21 to 108, the keys of a piano.
    pub number: Option<i32>,
    /// Numbers and letters behind it that may count takes or sounds, from the last; no number that a word for a turn explains.
    pub counts: Vec<String>,
    /// What it is as the name of a note, whatever its words mean: its base and the note.
    pub melodic: Option<(String, i32)>,
}

/// The rank of a layer that is numbered 0.
pub(super) const NUMBERED: f64 = 10.0;

/// Reads the name of a file, without its extension, that lies in some folders.
pub(super) fn told(stem: &str, folders: &Folders) -> NameClues {
    let all = words(&for_reading(stem));
    let classified = classify(&all, folders);
    // A capital behind small letters names a note: `AltoF` is not loud.
    let note_behind = stem.ends_with('F') && stem[..stem.len() - 1].ends_with(char::is_lowercase);
    let begun = |pitched: bool, used: &[usize]| {
        let mut name = Name {
            pitched,
            words: all.iter().cloned().enumerate().collect(),
            used: used.to_vec(),
            rank: PLAIN,
            note: None,
            number: None,
            counts: Vec::new(),
        };
        if !(pitched && note_behind) {
            name.take_from_the_end();
        }
        name.take_from_anywhere();
        name.take_from_the_beginning();
        name
    };
    let taken = |used: &[usize]| {
        let mut name = begun(classified.reading.piece.is_none(), used);
        if let (Decided::Folder, Some(piece)) = (classified.reading.decided, classified.reading.piece) {
            name.leave_to_the_folder(piece);
        }
        name
    };
    let name = taken(&classified.used);
    let otherwise = classified.doubtful.map(|at| {
        let without: Vec<usize> = classified.used.iter().copied().filter(|used| *used != at).collect();
        let name = taken(&without);
        (name.base(), name.rank)
    });
    let letter = all
        .last()
        .and_then(|last| last.chars().next().filter(|letter| last.len() == letter.len_utf8()));
    NameClues {
        base: name.base(),
        rank: name.rank,
        note: name.note,
        number: name.number,
        counts: name.counts,
        melodic: {
            let name = begun(true, &[]);
            name.note.map(|note| (name.base(), note))
        },
        otherwise,
        letter,
        classified,
    }
}

/// A name as turns, dynamics and notes are taken from it, its words with their places.
struct Name {
    words: Vec<(usize, String)>,
    /// Places of words that tell the piece.
    used: Vec<usize>,
    pitched: bool,
    rank: f64,
    note: Option<i32>,
    number: Option<i32>,
    counts: Vec<String>,
}

impl Name {
    /// Turns, dynamics and notes stand behind; a name that is nothing but one has to keep it.
    fn take_from_the_end(&mut self) {
        while self.words.len() > 1 {
            let (at, last) = &self.words[self.words.len() - 1];
            if self.used.contains(at) {
                break;
            }
            let before = self.words[self.words.len() - 2].1.as_str();
            let before_is_free = !self.used.contains(&self.words[self.words.len() - 2].0) && self.words.len() > 2;
            let counts = is_number(last) && before_is_free;
            let by_letter = self.pitched && matches!(before, "l" | "r");
            if counts && LAYER_WORDS.contains(&before) && !by_letter {
                self.rank = layer(last).unwrap_or(self.rank);
                self.words.pop();
            } else if let Some(told) = dynamic(last) {
                self.rank = told;
            } else if last == "hz" && before == "k" {
                // `48kHz`, whose capital parts it.
            } else if counts && TURN_WORDS.contains(&before) && !by_letter
                || is_number(before) && UNITS.contains(&last.as_str())
            {
                self.words.pop();
            } else if self.pitched && self.note.is_none() && key_of(last).is_some() {
                self.note = key_of(last);
            } else if let Some(key) =
                key_of(&format!("{before}{last}")).filter(|_| self.takes_notes() && is_number(last))
            {
                // `F# 3`, whose space parts it.
                self.note = Some(key);
                self.words.pop();
            } else if self.note.is_some() && is_number(last) && !last.starts_with('0') {
                // A number before a note belongs to the instrument: `CP12 A4`.
                break;
            } else if is_turn(last) {
                self.number = midi_number(last).filter(|_| self.pitched).or(self.number);
                self.counts.extend(is_number(last).then(|| last.clone()));
            } else if !is_turn_letter(last) || self.pitched && !is_number(before) {
                break;
            } else if !matches!(last.as_str(), "l" | "r") {
                self.counts.push(last.clone());
            }
            self.words.pop();
        }
    }

    /// True where a note is looked for and there is more in the name than one.
    fn takes_notes(&self) -> bool {
        self.pitched && self.note.is_none() && self.words.len() > 2
    }

    /// A list's number may stand in front, of two digits or with a zero before them: `12 Snare`. It counts where nothing else does.
    fn take_from_the_beginning(&mut self) {
        if let [(at, first), (_, next), ..] = self.words.as_slice()
            && !self.used.contains(at)
            && is_number(first)
            && (first.starts_with('0') || first.len() < 3)
            && !is_number(next)
            && !UNITS.contains(&next.as_str())
        {
            if self.counts.is_empty() && self.rank == PLAIN {
                self.counts.push(first.clone());
            }
            self.words.remove(0);
        }
    }

    /// Words, unlike letters, tell a dynamic wherever they stand: `soft snare`. So do notes: `C3 keys`.
    fn take_from_anywhere(&mut self) {
        while self.words.len() > 1
            && let Some(at) = self
                .words
                .iter()
                .position(|(at, word)| word.len() > 3 && dynamic(word).is_some() && !self.used.contains(at))
        {
            self.rank = dynamic(&self.words.remove(at).1).unwrap_or(self.rank);
        }
        if self.pitched
            && self.note.is_none()
            && self.words.len() > 1
            && let Some(at) = self.words.iter().rposition(|(_, word)| key_of(word).is_some())
        {
            self.note = key_of(&self.words.remove(at).1);
        }
    }

    /// A name that is nothing but a turn or a dynamic is alike to others of a folder that says what they are: `Snares/01`.
    fn leave_to_the_folder(&mut self, piece: &str) {
        if let [(at, only)] = self.words.as_mut_slice()
            && !self.used.contains(at)
            && (is_turn(only) || is_turn_letter(only) || dynamic(only).is_some())
        {
            self.rank = dynamic(only).unwrap_or(self.rank);
            self.counts.extend(is_number(only).then(|| only.clone()));
            *only = piece.to_string();
        }
    }

    fn base(&self) -> String {
        let words: Vec<&str> = self.words.iter().map(|(_, word)| word.as_str()).collect();
        words.join("-")
    }
}

/// The rank of a layer's number; `vel 100` is above `vel 64`.
fn layer(number: &str) -> Option<f64> {
    let layer: f64 = number.parse().ok()?;
    (0.0..=127.0).contains(&layer).then_some(NUMBERED + layer)
}

/// A letter that counts turns, or a hand.
fn is_turn_letter(word: &str) -> bool {
    matches!(word, "a" | "b" | "c" | "d" | "e" | "l" | "r" | "g" | "h")
}

/// A file's name without its extension.
pub(crate) fn stem(file: &Path) -> String {
    file.file_stem()
        .map_or(String::new(), |stem| stem.to_string_lossy().into_owned())
}

/// A name as it is written in a loop file: its words in lower case, with hyphens.
pub(super) fn hyphened(stem: &str) -> String {
    words(stem).join("-")
}

/// The words of a name in lower case. They end at whatever is no letter or digit, before a capital that a small letter stands before or
/// (`HHOpen`) behind, and between letters and digits, but for `v1`, `rr1` and the names of notes, such as `F#3`.
pub(super) fn words(stem: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut word = String::new();
    let mut before = ' ';
    // Some disks write accents as letters of their own.
    let mut letters = stem.nfc().peekable();
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
    is_number(word.strip_prefix("rr").unwrap_or(word))
}

/// The rank of a word for how hard a take is struck.
fn dynamic(word: &str) -> Option<f64> {
    match word.strip_prefix('v').filter(|digits| is_number(digits)) {
        Some(digits) => layer(digits).filter(|rank| *rank > NUMBERED),
        None => DYNAMICS.iter().find(|(known, _)| *known == word).map(|(_, rank)| *rank),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reads(stem: &str) -> Option<&'static str> {
        told(stem, &Folders::default()).classified.reading.piece
    }

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
            assert_eq!(reads(stem), Some(piece), "{stem}");
        }
        for stem in ["bass G1", "foghorn", "chat", "kicker", "01"] {
            assert_eq!(reads(stem), None, "{stem}");
        }
    }

    #[test]
    fn turns_and_dynamics_are_no_part_of_the_base() {
        for (stem, base, rank) in [
            ("snare_01", "snare", PLAIN),
            ("Snare soft", "snare", 2.0),
            ("soft snare 3", "snare", 2.0),
            ("snare_v2_rr3", "snare", NUMBERED + 2.0),
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
            let told = told(stem, &Folders::default());
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
            let told = told(stem, &Folders::default());
            assert_eq!((told.note, told.number), (note, number), "{stem}");
        }
    }
}
