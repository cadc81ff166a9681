//! The words of a name that mean something, looked up in the table.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use super::words::{Drum, SENSES, Sense, Way};

/// A word or phrase that means something.
#[derive(Debug, Clone)]
pub(crate) struct Meant {
    pub sense: Sense,
    pub text: String,
    /// Which of the words it is made of.
    pub from: usize,
    pub to: usize,
}

impl Meant {
    /// The instrument, and how surely it is meant.
    pub(crate) fn drum(&self) -> Option<(Drum, f64)> {
        match self.sense {
            Sense::Drum(drum, confidence) | Sense::Both(drum, _, confidence) => Some((drum, confidence)),
            _ => None,
        }
    }

    /// True where it means an instrument, surely or not.
    pub(crate) fn is(&self, drum: Drum) -> bool {
        self.drum().is_some_and(|(of, _)| of == drum)
    }

    /// What tells the instrument's pieces apart.
    pub(crate) fn way(&self) -> Option<Way> {
        match self.sense {
            Sense::Both(_, way, _) | Sense::Way(way) => Some(way),
            _ => None,
        }
    }
}

/// The words and phrases of a name that mean something, the longest at each place.
pub(crate) fn meant(words: &[String]) -> Vec<Meant> {
    let folded: Vec<String> = words.iter().map(|word| fold(word)).collect();
    let mut found = Vec::new();
    let mut at = 0;
    while at < words.len() {
        let phrase = (2..=3).rev().filter(|many| at + many <= words.len()).find_map(|many| {
            let sense = sense_of(&folded[at..at + many].join(" "))?;
            Some((vec![sense], many))
        });
        let (senses, many) = phrase.unwrap_or_else(|| (senses_of(&folded[at]), 1));
        let text = words[at..at + many].join(" ");
        found.extend(senses.into_iter().map(|sense| Meant {
            sense,
            text: text.clone(),
            from: at,
            to: at + many,
        }));
        at += many;
    }
    found
}

/// A word's sense, or those of the words that it is written together from.
fn senses_of(word: &str) -> Vec<Sense> {
    match sense_of(word) {
        Some(sense) => vec![sense],
        None => compound(word).unwrap_or_default(),
    }
}

fn sense_of(word: &str) -> Option<Sense> {
    let known = |word: &str| SENSE.get(word).copied();
    known(word).or_else(|| word.strip_suffix('s').filter(|one| one.len() > 2).and_then(known))
}

/// Words written together, such as `hatopen`: none but known ones of three letters at least, an instrument among them.
fn compound(word: &str) -> Option<Vec<Sense>> {
    let parts = split(word, 0)?;
    let drum = |sense: &Sense| matches!(sense, Sense::Drum(_, confidence) | Sense::Both(_, _, confidence) if *confidence >= GUESS);
    parts.iter().any(drum).then_some(parts)
}

fn split(word: &str, depth: usize) -> Option<Vec<Sense>> {
    let long = |part: &str| part.len() > 2 || matches!(part, "hh" | "hi" | "lo" | "op" | "cl");
    if let Some(sense) = sense_of(word).filter(|_| long(word)) {
        return Some(vec![sense]);
    }
    let ends = word.char_indices().map(|(at, _)| at).filter(|at| *at > 0).rev();
    let mut ends = ends.filter(|_| depth < 2 && word.len() <= 40);
    ends.find_map(|end| {
        let (first, rest) = word.split_at(end);
        let first = sense_of(first).filter(|_| long(first))?;
        let mut parts = vec![first];
        parts.extend(split(rest, depth + 1)?);
        Some(parts)
    })
}

/// A word without accents, in small letters, in one form of those that Unicode has for it.
fn fold(word: &str) -> String {
    if word.is_ascii() {
        return word.to_ascii_lowercase();
    }
    let plain = word.nfkd().filter(|letter| !is_combining_mark(*letter));
    plain
        .flat_map(char::to_lowercase)
        .collect::<String>()
        .replace('ß', "ss")
}

static SENSE: LazyLock<BTreeMap<String, Sense>> = LazyLock::new(|| {
    let mut table = BTreeMap::new();
    for (sense, words) in SENSES {
        for word in words.split(", ") {
            // What stands first in the table holds.
            table.entry(fold(word)).or_insert(*sense);
        }
    }
    table
});

/// Below this confidence a reading is a guess.
pub const GUESS: f64 = 0.5;
