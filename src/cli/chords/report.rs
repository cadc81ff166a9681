//! What `chords` reports, as `--json` gives it; the pages for people are made of the same.

use serde::Serialize;

use super::{columns, joined};
use crate::harmony::chord::Tone;
use crate::harmony::{Chord, Diatonic, Key};

/// A page or, for programs, an object.
pub(super) trait Report: Serialize {
    /// The page for people.
    fn page(&self) -> String;
}

/// The chords of a key.
#[derive(Serialize)]
pub(super) struct OfKey {
    key: KeyLine,
    triads: Vec<OfDegree>,
    /// The last one may be the dominant that minor borrows.
    sevenths: Vec<OfDegree>,
}

/// A key.
#[derive(Serialize)]
pub(super) struct KeyLine {
    pub name: String,
    pub notes: Vec<String>,
}

/// A chord of a key.
#[derive(Serialize)]
struct OfDegree {
    degree: String,
    symbol: String,
    tones: Vec<ToneLine>,
    /// Those that sound well on it; none with a triad, since they are told with its seventh.
    tensions: Vec<ToneLine>,
    /// True where the key's own scale lacks it.
    borrowed: bool,
}

/// A tone of a chord by its degree above the root.
#[derive(Serialize)]
pub(super) struct ToneLine {
    degree: String,
    note: String,
    /// True where players may leave it out.
    pub optional: bool,
}

/// The names of a chord that was given as notes, the likeliest first.
#[derive(Serialize)]
pub(super) struct Names {
    pub names: Vec<Name>,
}

/// A name.
#[derive(Serialize)]
pub(super) struct Name {
    pub symbol: String,
    pub tones: Vec<ToneLine>,
    /// True where the notes leave out some of the tones.
    pub incomplete: bool,
}

impl ToneLine {
    fn of(tone: &Tone) -> ToneLine {
        ToneLine {
            degree: tone.degree.to_string(),
            note: tone.spelling.to_string(),
            optional: !tone.essential,
        }
    }

    pub(super) fn all<'a>(tones: impl IntoIterator<Item = &'a Tone>) -> Vec<ToneLine> {
        tones.into_iter().map(ToneLine::of).collect()
    }

    /// Those of a chord.
    pub(super) fn of_chord(chord: &Chord) -> Vec<ToneLine> {
        ToneLine::all(&chord.tones)
    }
}

/// The notes of some tones.
fn notes(tones: &[ToneLine]) -> String {
    joined(tones.iter().map(|tone| &tone.note))
}

/// The degrees and notes of some tones.
pub(super) fn degrees_and_notes<'a>(tones: impl IntoIterator<Item = &'a ToneLine>) -> String {
    let told = tones.into_iter().map(|tone| format!("{} {}", tone.degree, tone.note));
    told.collect::<Vec<_>>().join(", ")
}

impl KeyLine {
    pub(super) fn of(key: &Key) -> KeyLine {
        KeyLine {
            name: key.to_string(),
            notes: key.notes().iter().map(ToString::to_string).collect(),
        }
    }
}

impl OfKey {
    pub(super) fn of(key: &Key) -> OfKey {
        let with = |chord: &Diatonic, tensions: &[Tone], borrowed| OfDegree {
            degree: chord.roman.clone(),
            symbol: chord.chord.symbol.clone(),
            tones: ToneLine::of_chord(&chord.chord),
            tensions: ToneLine::all(tensions),
            borrowed,
        };
        let sevenths = key.sevenths();
        let borrowed = key.borrowed_dominant();
        let own = sevenths.iter().map(|chord| with(chord, &chord.tensions, false));
        OfKey {
            key: KeyLine::of(key),
            triads: key.triads().iter().map(|chord| with(chord, &[], false)).collect(),
            sevenths: own
                .chain(borrowed.iter().map(|chord| with(chord, &chord.tensions, true)))
                .collect(),
        }
    }
}

impl Report for OfKey {
    /// The key's notes, its triads, its sevenths with the available tensions on them, and what minor borrows.
    fn page(&self) -> String {
        let begun = |chord: &OfDegree| vec![chord.degree.clone(), chord.symbol.clone(), notes(&chord.tones)];
        let seventh = |chord: &OfDegree| {
            let from = if chord.borrowed {
                "  (borrowed from harmonic minor)"
            } else {
                ""
            };
            let mut row = begun(chord);
            row.push(degrees_and_notes(&chord.tensions) + from);
            row
        };
        format!(
            "{}: {}\n\n{}\n{}",
            self.key.name,
            self.key.notes.join(" "),
            columns(&["", "triad", "tones"], self.triads.iter().map(begun).collect()),
            columns(
                &["", "seventh", "tones", "available tensions"],
                self.sevenths.iter().map(seventh).collect()
            )
        )
    }
}

impl Report for Names {
    fn page(&self) -> String {
        let row = |name: &Name| {
            let note = if name.incomplete {
                "without some of its tones"
            } else {
                ""
            };
            vec![name.symbol.clone(), notes(&name.tones), note.to_string()]
        };
        columns(&["chord", "tones", ""], self.names.iter().map(row).collect())
    }
}
