//! What the words of a file's name, and of the folders that it lies in, tell of its piece, and how surely.

use std::path::{Component, Path};

use super::letters::{is_number, settle_letters};
use super::lexicon::{GUESS, Meant, meant};
use super::variants::variant;
use super::words;
use super::words::{Drum, Sense, Way};

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
    /// How far apart its two least alike takes lie, where their names may as well count different sounds: 1 is the border.
    pub distance: Option<f64>,
    /// How sure it is that its files are takes of one sound and no other piece's, from 0.5 to 1; none where only names tell it.
    pub takes_confidence: Option<f64>,
}

/// Reads what the path of a file tells, its folders being those of the path.
///
/// Whether the last part has an extension is not looked at: it is taken off as one.
pub fn read_name(path: &Path) -> Reading {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let folders = path.parent().map(Folders::of).unwrap_or_default();
    classify(&words(&for_reading(&stem)), &folders).reading
}

/// The instrument that a piece's or a part's name means; none where no word of it means one surely enough.
pub(crate) fn drum_of(name: &str) -> Option<Drum> {
    let meant = meant(&words_of(name));
    let sure = meant
        .iter()
        .filter_map(Meant::drum)
        .filter(|(_, confidence)| *confidence >= GUESS);
    sure.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(drum, _)| drum)
}

/// The words of a piece's or a part's name, in lower case.
pub(crate) fn words_of(name: &str) -> Vec<String> {
    words(&for_reading(name))
}

/// A name with what is no letter but tells: inches, and spaces as the web writes them.
pub(crate) fn for_reading(stem: &str) -> String {
    stem.replace(['"', '″', '”'], " inch ").replace("%20", " ")
}

/// What is told of one file.
#[derive(Debug, Clone, Default)]
pub(crate) struct Classified {
    pub reading: Reading,
    /// Words of the file's own name that told its piece, by their places: no turns or dynamics.
    pub used: Vec<usize>,
    /// The instrument, where nothing tells which of its pieces is meant.
    pub bare: Option<Drum>,
    /// Instruments between which the names leave it open.
    pub tied: Vec<Drum>,
    /// The place of a word that decided and may as well be a turn or a dynamic.
    pub doubtful: Option<usize>,
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
pub(crate) struct Folders(Vec<Shelf>);

impl Folders {
    /// Reads the names of a path of folders.
    pub(crate) fn of(path: &Path) -> Folders {
        let parts = path.components().rev().filter_map(|part| match part {
            Component::Normal(name) => Some(Shelf::of(&name.to_string_lossy())),
            _ => None,
        });
        Folders(parts.collect())
    }

    /// The same within a kit's folder, which counts only where its name is nothing but an instrument's: a kit may be called
    /// anything.
    pub(crate) fn within(mut self, kit: &str) -> Folders {
        self.0.extend(
            Some(Shelf::of(kit)).filter(|shelf| shelf.pure && shelf.has(|meant| meant.drum().is_some()).is_some()),
        );
        self
    }

    fn any(&self, wanted: impl Fn(&Meant) -> bool) -> Option<&Meant> {
        self.0.iter().find_map(|shelf| shelf.has(&wanted))
    }
}

impl Shelf {
    fn of(name: &str) -> Shelf {
        let words = words(&for_reading(name));
        let meant = meant(&words);
        let known = |at: usize| meant.iter().any(|meant| (meant.from..meant.to).contains(&at)) || is_number(&words[at]);
        let drum = |meant: &Meant| meant.drum().is_some_and(|(_, surely)| surely >= GUESS);
        let last = words.iter().rposition(|word| !is_number(word));
        Shelf {
            pure: (0..words.len()).all(known),
            heads: meant
                .iter()
                .any(|meant| drum(meant) && Some(meant.to) == last.map(|at| at + 1)),
            meant,
        }
    }

    fn has(&self, wanted: impl Fn(&Meant) -> bool) -> Option<&Meant> {
        self.meant.iter().find(|meant| wanted(meant))
    }
}

/// Tells the piece of a file by its words and its folders.
pub(crate) fn classify(words: &[String], folders: &Folders) -> Classified {
    let mut own = meant(words);
    let doubtful = settle_letters(words, &mut own, folders.any(|meant| meant.is(Drum::Tom)).is_some());
    let phrase = |meant: &Meant| meant.sense == Sense::Phrase;
    if let Some(phrase) = own.iter().find(|meant| phrase(meant)).or_else(|| folders.any(phrase)) {
        return Classified::own_name(Some(phrase));
    }
    if is_so_many_bars(words) {
        return Classified::own_name(None);
    }
    let candidates = candidates(&own);
    let other = own.iter().find(|meant| meant.sense == Sense::Other);
    let choice = match candidates.is_empty() {
        false => Some(by_name(&candidates, folders)),
        true => by_folder(folders).filter(|choice| other.is_none() || !choice.shared),
    };
    let Some(mut choice) = choice else {
        return Classified::own_name(other);
    };
    if other.is_some() {
        choice.confidence *= if candidates.is_empty() { 0.8 } else { 0.45 };
    }
    Classified {
        doubtful,
        ..finish(choice, &own, folders)
    }
}

/// `8 bars` are no single stroke.
fn is_so_many_bars(words: &[String]) -> bool {
    let bars = |pair: &[String]| is_number(&pair[0]) && matches!(pair[1].as_str(), "bar" | "bars");
    words.windows(2).any(bars)
}

/// An instrument, before it is told which of its pieces is meant.
struct Choice<'a> {
    drum: Drum,
    confidence: f64,
    /// The word that says so.
    by: &'a Meant,
    decided: Decided,
    /// Instruments between which it is open.
    tied: Vec<Drum>,
    /// True where the folder that says so holds other things as well, as `Claps & Snaps` does.
    shared: bool,
}

impl Classified {
    /// What goes by its own name, because of a word where one says so.
    fn own_name(because: Option<&Meant>) -> Classified {
        let words = because.iter().map(|meant| meant.text.clone()).collect();
        Classified {
            reading: Reading {
                confidence: OWN_NAME,
                words,
                ..Reading::default()
            },
            ..Classified::default()
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
        let (drum, confidence) = meant.drum()?;
        (!likened(at)).then_some((meant, drum, confidence))
    });
    let drums: Vec<(&Meant, Drum, f64)> = drums.collect();
    let most = drums.iter().map(|(_, _, confidence)| *confidence).fold(0.0, f64::max);
    // A cymbal is what kind of cymbal it is said to be.
    let told = drums.iter().any(|(_, drum, _)| *drum != Drum::Cymbal);
    drums
        .iter()
        .filter(|(_, drum, confidence)| most - confidence < 0.2 && !(told && *drum == Drum::Cymbal))
        .map(|(meant, _, _)| *meant)
        .collect()
}

/// Chooses between the instruments that a name may mean.
fn by_name<'a>(candidates: &[&'a Meant], folders: &'a Folders) -> Choice<'a> {
    let drums: Vec<Drum> = candidates.iter().filter_map(|meant| Some(meant.drum()?.0)).collect();
    let shelf = by_folder(folders);
    // The folder solves a tie; without one the last word is the noun, as in `shaker hat`.
    let agreed = shelf
        .as_ref()
        .and_then(|shelf| drums.iter().rposition(|drum| *drum == shelf.drum));
    let at = agreed.unwrap_or_else(|| head(&drums));
    let mut confidence = candidates[at].drum().map_or(0.0, |(_, confidence)| confidence);
    match shelf {
        Some(shelf) if agreed.is_some() => {
            confidence = (confidence + 0.2).min(1.0).max(confidence.max(shelf.confidence))
        }
        Some(shelf) if shelf.confidence >= KEPT_FOR_ONE && shelf.drum != Drum::Cymbal => {
            // Two letters say less than a folder that is kept for one instrument.
            if confidence < GUESS {
                return shelf;
            }
            confidence *= 0.6;
        }
        _ => {}
    }
    let different = drums.iter().any(|drum| *drum != drums[0]);
    if different {
        confidence *= if agreed.is_some() { 0.7 } else { 0.45 };
    }
    Choice {
        drum: drums[at],
        confidence,
        by: candidates[at],
        decided: Decided::Name,
        tied: drums.into_iter().filter(|_| different && agreed.is_none()).collect(),
        shared: false,
    }
}

/// Of several instruments in a name the one that it is: the last, but a rim is that of the drum before it. A snare's has a piece
/// of its own.
fn head(drums: &[Drum]) -> usize {
    let last = drums.len() - 1;
    let drum = drums
        .iter()
        .rposition(|drum| !matches!(drum, Drum::Stick | Drum::Snare));
    drum.filter(|_| drums[last] == Drum::Stick).unwrap_or(last)
}

/// How sure a folder is that is next to the file and says nothing but its instrument.
const NEXT: f64 = 0.8;
/// From here on a folder is taken for one that is kept for its instrument.
const KEPT_FOR_ONE: f64 = 0.7;

/// The instrument of the nearest folder that tells one.
fn by_folder(folders: &Folders) -> Option<Choice<'_>> {
    let mut confidence = NEXT;
    for shelf in &folders.0 {
        let drums = candidates(&shelf.meant);
        let other = shelf.has(|meant| meant.sense == Sense::Other).is_some();
        if let Some((by, (drum, sure))) = drums.last().and_then(|by| Some((*by, by.drum()?)))
            && drums.iter().all(|meant| meant.is(drum))
            && (shelf.pure || shelf.heads)
        {
            return Some(Choice {
                drum,
                confidence: sure * if shelf.pure { confidence } else { confidence - 0.2 },
                by,
                decided: Decided::Folder,
                tied: Vec::new(),
                shared: other,
            });
        }
        // Every folder between says a little less of it.
        confidence -= if shelf.pure { 0.03 } else { 0.06 };
        if other || confidence < 0.4 {
            return None;
        }
    }
    None
}

/// From an instrument to the piece of it that the name and the folders tell.
fn finish(choice: Choice, own: &[Meant], folders: &Folders) -> Classified {
    let tells = |shelf: &&Shelf| shelf.pure || shelf.heads && shelf.has(|meant| meant.is(choice.drum)).is_some();
    let shelves = std::iter::once(own).chain(folders.0.iter().filter(tells).map(|shelf| &shelf.meant[..]));
    let shelves: Vec<Vec<(Way, &Meant)>> = shelves
        .map(|shelf| shelf.iter().filter_map(|meant| Some((meant.way()?, meant))).collect())
        .collect();
    let told = variant(choice.drum, &shelves);
    let way = told.by.filter(|way| !std::ptr::eq(*way, choice.by));
    let deciding: Vec<&Meant> = std::iter::once(choice.by).chain(way).collect();
    let mine = own
        .iter()
        .filter(|meant| deciding.iter().any(|by| std::ptr::eq(*by, *meant)));
    Classified {
        used: mine.flat_map(|meant| meant.from..meant.to).collect(),
        reading: Reading {
            piece: Some(told.piece),
            confidence: (choice.confidence * told.confidence).clamp(0.0, 1.0),
            words: deciding.iter().map(|meant| meant.text.clone()).collect(),
            decided: choice.decided,
            ..Reading::default()
        },
        bare: told.bare.then_some(choice.drum),
        tied: choice.tied,
        doubtful: None,
    }
}
