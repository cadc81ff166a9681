//! What the words of a file's name, and of the folders that it lies in, tell of its piece, and how surely.

use std::collections::BTreeMap;
use std::path::{Component, Path};
use std::sync::LazyLock;

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use super::names::words;
use super::variants::variant;
use super::words::{Drum, SENSES, Sense, TOM_DIAMETERS, TOM_SIZES, Way};

/// Below this confidence a reading is a guess.
pub const GUESS: f64 = 0.5;

/// What decided which piece a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Decided {
    /// Nothing: it goes by the name that it has.
    #[default]
    Nothing,
    /// `kit.toml`.
    Written,
    /// Words of the file's own name.
    Name,
    /// Words of the folders that it lies in.
    Folder,
    /// How it sounds, where its names leave two pieces open.
    Sound,
}

/// What is read of a file: which piece it is, how surely, and by what.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reading {
    /// The General MIDI percussion piece in short; none where it goes by its own name.
    pub piece: Option<&'static str>,
    /// From 0 to 1; below [`GUESS`] it is one. What goes by its own name is never sure.
    pub confidence: f64,
    /// The words that decided it, as the names have them, in small letters.
    pub words: Vec<String>,
    /// Where they stand.
    pub decided: Decided,
}

/// Reads what the path of a file tells, its folders being those of the path.
///
/// Whether the last part has an extension is not looked at: it is taken off as one.
pub fn read_name(path: &Path) -> Reading {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let folders = path.parent().map(Folders::of).unwrap_or_default();
    tell(&words(&for_reading(&stem)), &folders).reading
}

/// A name with what is no letter but tells: inches, and spaces as the web writes them.
pub(super) fn for_reading(stem: &str) -> String {
    stem.replace(['"', '″', '”'], " inch ").replace("%20", " ")
}

/// What is told of one file.
#[derive(Debug, Clone, Default)]
pub(super) struct Telling {
    pub reading: Reading,
    /// Words of the file's own name that told its piece, by their places: no turns or dynamics.
    pub used: Vec<usize>,
    /// The instrument, where nothing tells which of its pieces is meant.
    pub bare: Option<Drum>,
    /// Instruments between which the names leave it open.
    pub tied: Vec<Drum>,
}

/// A word or phrase that means something.
#[derive(Debug, Clone)]
struct Meant {
    sense: Sense,
    text: String,
    /// Which of the words it is made of.
    from: usize,
    to: usize,
}

/// The words of one folder's name.
#[derive(Debug, Clone, Default)]
struct Shelf {
    meant: Vec<Meant>,
    /// True where every word is known: `Snare Hits`, not `Tin Roof Snares`.
    pure: bool,
    /// True where an instrument is the last of its words: `Tin Roof Snares`, not `Tin Roof Snare Company`.
    heads: bool,
}

/// What the folders of a file tell, the nearest first.
#[derive(Debug, Clone, Default)]
pub(super) struct Folders(Vec<Shelf>);

impl Folders {
    /// Reads the names of a path of folders.
    pub fn of(path: &Path) -> Folders {
        let parts = path.components().rev().filter_map(|part| match part {
            Component::Normal(name) => Some(Shelf::of(&name.to_string_lossy())),
            _ => None,
        });
        Folders(parts.collect())
    }

    /// The same within a kit's folder, which counts only where its name is nothing but an instrument's: a kit may be called
    /// anything.
    pub fn within(mut self, kit: &str) -> Folders {
        self.0.extend(Some(Shelf::of(kit)).filter(|shelf| shelf.pure));
        self
    }
}

impl Shelf {
    fn of(name: &str) -> Shelf {
        let words = words(&for_reading(name));
        let meant = meant(&words);
        let known = |at: usize| meant.iter().any(|meant| (meant.from..meant.to).contains(&at)) || is_number(&words[at]);
        let drum = |meant: &Meant| drum_of(meant).is_some_and(|(_, surely)| surely >= GUESS);
        let last = words.iter().rposition(|word| !is_number(word));
        Shelf {
            pure: (0..words.len()).all(known),
            heads: meant
                .iter()
                .any(|meant| drum(meant) && Some(meant.to) == last.map(|at| at + 1)),
            meant,
        }
    }

    fn has(&self, sense: Sense) -> Option<&Meant> {
        self.meant.iter().find(|meant| meant.sense == sense)
    }
}

/// Tells the piece of a file by its words and its folders.
pub(super) fn tell(words: &[String], folders: &Folders) -> Telling {
    let mut own = meant(words);
    settle_letters(words, &mut own, &folders.0);
    let own = &own[..];
    let phrase = own.iter().find(|meant| meant.sense == Sense::Phrase);
    let phrase = phrase.or_else(|| folders.0.iter().find_map(|shelf| shelf.has(Sense::Phrase)));
    if let Some(phrase) = phrase {
        return Telling::own_name(&[phrase]);
    }
    let candidates = candidates(own);
    let other = own.iter().find(|meant| meant.sense == Sense::Other);
    let mut told = match candidates.is_empty() {
        false => by_name(words, own, &candidates, folders),
        true => by_folder(words, own, folders),
    };
    if other.is_some() && told.reading.piece.is_some() {
        told.reading.confidence *= if candidates.is_empty() { 0.8 } else { 0.45 };
    } else if told.reading.piece.is_none() {
        told.reading.words.extend(other.map(|other| other.text.clone()));
    }
    told
}

impl Telling {
    /// What goes by its own name, because of some words.
    fn own_name(words: &[&Meant]) -> Telling {
        let words = words.iter().map(|meant| meant.text.clone()).collect();
        Telling {
            reading: Reading {
                confidence: OWN_NAME,
                words,
                ..Reading::default()
            },
            ..Telling::default()
        }
    }
}

/// How sure it is that a name is a piece of its own.
const OWN_NAME: f64 = 0.2;

/// The instruments that a name may mean: those of its surest words.
fn candidates(own: &[Meant]) -> Vec<&Meant> {
    let likened = |at: usize| {
        let next = own
            .get(at + 1)
            .is_some_and(|next| next.sense == Sense::Like && next.from == own[at].to);
        let before = own[..at]
            .iter()
            .any(|before| before.sense == Sense::Like && before.to + 1 >= own[at].from && before.to <= own[at].from);
        next || before
    };
    let drums = own.iter().enumerate().filter_map(|(at, meant)| {
        let (drum, surely) = drum_of(meant)?;
        (!likened(at)).then_some((meant, drum, surely))
    });
    let drums: Vec<(&Meant, Drum, f64)> = drums.collect();
    let most = drums.iter().map(|(_, _, surely)| *surely).fold(0.0, f64::max);
    // A cymbal is what kind of cymbal it is said to be.
    let told = drums.iter().any(|(_, drum, _)| *drum != Drum::Cymbal);
    drums
        .iter()
        .filter(|(_, drum, surely)| most - surely < 0.2 && !(told && *drum == Drum::Cymbal))
        .map(|(meant, _, _)| *meant)
        .collect()
}

fn by_name(words: &[String], own: &[Meant], candidates: &[&Meant], folders: &Folders) -> Telling {
    let drums: Vec<Drum> = candidates.iter().filter_map(|meant| Some(drum_of(meant)?.0)).collect();
    let shelved = shelved(folders);
    // The folder solves a tie; without one the last word is the noun, as in `shaker hat`.
    let by_shelf = shelved
        .as_ref()
        .and_then(|(_, drum, _)| drums.iter().rposition(|of| of == drum));
    let different = drums.iter().any(|drum| *drum != drums[0]);
    let at = by_shelf.unwrap_or_else(|| head(&drums));
    let chosen = candidates[at];
    let drum = drums[at];
    let mut surely = drum_of(chosen).map_or(0.0, |(_, surely)| surely);
    match &shelved {
        Some((_, shelf, by)) if *shelf == drum => {
            surely = surely.max(*by).max(if surely < 0.8 { surely + 0.2 } else { surely })
        }
        Some((_, shelf, by)) if *shelf != Drum::Cymbal && *by >= 0.7 => {
            // Two letters say less than a folder that is kept for one instrument.
            if surely < GUESS {
                return by_folder(words, own, folders);
            }
            surely *= 0.6;
        }
        _ => {}
    }
    if different {
        surely *= if by_shelf.is_some() { 0.7 } else { 0.45 };
    }
    let tied = if different && by_shelf.is_none() {
        drums.clone()
    } else {
        Vec::new()
    };
    finish(drum, surely, own, Some(chosen), folders, tied)
}

/// Of several instruments in a name the one that it is: a snare's rim and a snare's clap are snares, else the last.
fn head(drums: &[Drum]) -> usize {
    let last = drums.len() - 1;
    let rim = drums[last] == Drum::Stick && drums.contains(&Drum::Tom);
    let tom = drums.iter().position(|drum| *drum == Drum::Tom);
    tom.filter(|_| rim).unwrap_or(last)
}

/// The instrument of the nearest folder that tells one, and how surely.
fn shelved(folders: &Folders) -> Option<(usize, Drum, f64)> {
    let mut surely = 0.8;
    for (at, shelf) in folders.0.iter().enumerate() {
        let drums = candidates(&shelf.meant);
        let drum = drums.last().and_then(|meant| drum_of(meant));
        let alone = |of: Drum| {
            drums
                .iter()
                .all(|meant| drum_of(meant).is_some_and(|(drum, _)| drum == of))
        };
        match drum {
            Some((drum, by)) if alone(drum) && (shelf.pure || shelf.heads) => {
                let surely = if shelf.pure { surely } else { surely - 0.2 };
                return Some((at, drum, surely * by));
            }
            _ if shelf.has(Sense::Other).is_some() => return None,
            _ => surely -= if shelf.pure { 0.03 } else { 0.06 },
        }
        if surely < 0.4 {
            return None;
        }
    }
    None
}

fn by_folder(words: &[String], own: &[Meant], folders: &Folders) -> Telling {
    let Some((_, drum, surely)) = shelved(folders) else {
        return Telling {
            reading: Reading {
                confidence: OWN_NAME,
                ..Reading::default()
            },
            ..Telling::default()
        };
    };
    let _ = words;
    finish(drum, surely, own, None, folders, Vec::new())
}

/// From an instrument to the piece of it that names tell.
fn finish(
    drum: Drum,
    surely: f64,
    own: &[Meant],
    chosen: Option<&Meant>,
    folders: &Folders,
    tied: Vec<Drum>,
) -> Telling {
    let of_own: Vec<(Way, &Meant)> = own.iter().filter_map(|meant| Some((way_of(meant)?, meant))).collect();
    let mut shelves: Vec<Vec<(Way, &Meant)>> = vec![of_own];
    for shelf in &folders.0 {
        let has_drum = shelf
            .meant
            .iter()
            .any(|meant| drum_of(meant).is_some_and(|(of, _)| of == drum));
        if !shelf.pure && !(has_drum && shelf.heads) {
            continue;
        }
        shelves.push(
            shelf
                .meant
                .iter()
                .filter_map(|meant| Some((way_of(meant)?, meant)))
                .collect(),
        );
    }
    let ways: Vec<Vec<Way>> = shelves
        .iter()
        .map(|shelf| shelf.iter().map(|(way, _)| *way).collect())
        .collect();
    let told = variant(drum, &ways);
    let mut deciding: Vec<&Meant> = chosen.into_iter().collect();
    if let Some((shelf, way)) = told.by {
        deciding.extend(
            shelves[shelf]
                .iter()
                .find(|(of, _)| *of == way)
                .map(|(_, meant)| *meant),
        );
    }
    let mut used = Vec::new();
    let mine = own
        .iter()
        .filter(|meant| deciding.iter().any(|of| std::ptr::eq(*of, *meant)));
    mine.for_each(|meant| used.extend(meant.from..meant.to));
    let mut words: Vec<String> = Vec::new();
    for meant in &deciding {
        if !words.contains(&meant.text) {
            words.push(meant.text.clone());
        }
    }
    if chosen.is_none() {
        words.extend(shelved(folders).and_then(|(at, _, _)| {
            let meant = candidates(&folders.0[at].meant);
            meant.last().map(|meant| meant.text.clone())
        }));
    }
    Telling {
        reading: Reading {
            piece: Some(told.piece),
            confidence: (surely * told.surely).clamp(0.0, 1.0),
            words,
            decided: if chosen.is_some() {
                Decided::Name
            } else {
                Decided::Folder
            },
        },
        used,
        bare: told.bare.then_some(drum),
        tied,
    }
}

fn drum_of(meant: &Meant) -> Option<(Drum, f64)> {
    match meant.sense {
        Sense::Drum(drum, surely) | Sense::Both(drum, _, surely) => Some((drum, surely)),
        _ => None,
    }
}

fn way_of(meant: &Meant) -> Option<Way> {
    match meant.sense {
        Sense::Both(_, way, _) | Sense::Way(way) => Some(way),
        _ => None,
    }
}

/// Letters and numbers that tell a way only beside their instrument: `hat o`, `tom h`, `tom 10 inch`, `T1` among toms.
fn settle_letters(words: &[String], own: &mut Vec<Meant>, folders: &[Shelf]) {
    let drum_at = |own: &[Meant], at: usize| {
        own.iter()
            .find(|meant| (meant.from..meant.to).contains(&at))
            .and_then(drum_of)
            .map(|(drum, _)| drum)
    };
    let is_tom = own
        .iter()
        .any(|meant| drum_of(meant).is_some_and(|(drum, _)| drum == Drum::Tom))
        || folders.iter().any(|shelf| {
            shelf
                .meant
                .iter()
                .any(|meant| drum_of(meant).is_some_and(|(drum, _)| drum == Drum::Tom))
        });
    for at in 0..words.len() {
        let beside = [at.checked_sub(1), Some(at + 1)]
            .into_iter()
            .flatten()
            .find_map(|near| drum_at(own, near));
        let two = matches!(
            beside,
            Some(Drum::Tom | Drum::Bongo | Drum::Conga | Drum::Timbale | Drum::Agogo | Drum::Woodblock)
        );
        let letter = match (words[at].as_str(), beside) {
            ("o", Some(Drum::Hat | Drum::Triangle)) => Some(Way::Open),
            ("c", Some(Drum::Hat)) => Some(Way::Closed),
            ("p", Some(Drum::Hat)) => Some(Way::Pedal),
            ("h", _) if two => Some(Way::High),
            ("m", Some(Drum::Tom)) => Some(Way::Mid),
            ("l", _) if two => Some(Way::Low),
            ("f", Some(Drum::Tom)) if at > 0 && words[at - 1] != "tom" => Some(Way::Floor),
            _ => None,
        };
        let unit = words
            .get(at + 1)
            .is_some_and(|unit| matches!(unit.as_str(), "in" | "inch" | "inches" | "zoll"));
        let number = (is_tom && is_number(&words[at])).then_some(&words[at]);
        let size = number.and_then(|number| {
            let bare = !number.starts_with('0') && at > 0 && drum_at(own, at - 1) == Some(Drum::Tom);
            let size: u32 = number.parse().ok()?;
            (unit || bare && TOM_DIAMETERS.contains(&size)).then(|| size_of(size))?
        });
        let rank = number
            .filter(|_| at > 0 && words[at - 1] == "t")
            .and_then(|number| match number.as_str() {
                "1" => Some(Way::High),
                "2" => Some(Way::Mid),
                "3" => Some(Way::Low),
                "4" => Some(Way::Floor),
                _ => None,
            });
        if let Some(way) = letter.or(size).or(rank) {
            own.retain(|meant| !(meant.from == at && meant.to == at + 1));
            own.push(Meant {
                sense: Sense::Way(way),
                text: words[at].clone(),
                from: at,
                to: at + 1,
            });
        }
    }
    own.sort_by_key(|meant| meant.from);
}

/// The tom of a diameter in inches.
fn size_of(inches: u32) -> Option<Way> {
    let sizes = TOM_SIZES.iter().filter(|_| inches >= 6);
    sizes.into_iter().find(|(upto, _)| inches <= *upto).map(|(_, way)| *way)
}

fn is_number(word: &str) -> bool {
    word.bytes().all(|byte| byte.is_ascii_digit())
}

/// The words and phrases of a name that mean something, the longest at each place.
fn meant(words: &[String]) -> Vec<Meant> {
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
    let drum = |sense: &Sense| matches!(sense, Sense::Drum(_, surely) | Sense::Both(_, _, surely) if *surely >= GUESS);
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
        for word in *words {
            // What stands first in the table holds.
            table.entry(fold(word)).or_insert(*sense);
        }
    }
    table
});
