//! A sheet as MusicXML 4.0 (W3C Music Notation Community Group, 2021): `score-partwise`, uncompressed.
//!
//! - In: a [`Sheet`].
//! - Out: text, the same each time: no date stands in it.
//! - `xml` writes elements; `parts` says who plays, `bars` what all staves share, `voices` notes and rests, `note` one note,
//!   `chord_kind` what a chord symbol means, `accidentals` which signs a bar needs.

mod accidentals;
mod bars;
mod chord_kind;
mod direction;
mod harmony;
mod note;
mod parts;
mod voices;
mod xml;

use std::io::Write;
use std::path::Path;

use super::mark::MADE_BY;
use super::write_beside;
use crate::loopfile::Exact;
use crate::notation::{Clef, Measure, Sheet, SheetBar, Staff};
use crate::text::Problem;
use xml::Xml;

/// The document type of its scores.
const DOCTYPE: &str = "score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
                       \"http://www.musicxml.org/dtds/partwise.dtd\"";

/// The sheet as the text of a MusicXML file.
pub(crate) fn text(sheet: &Sheet) -> Vec<u8> {
    let nobody;
    // A score has a part at least: where nobody plays, somebody rests under the chords.
    let sheet = match sheet.staves.is_empty() {
        false => sheet,
        true => {
            nobody = Sheet {
                staves: vec![resting(sheet.bars.len())],
                ..sheet.clone()
            };
            &nobody
        }
    };
    let mut xml = Xml::new(DOCTYPE);
    xml.inside("score-partwise", &[("version", "4.0")], |xml| {
        about(xml, sheet);
        parts::list(xml, &sheet.staves);
        let divisions = divisions(sheet);
        for number in 0..sheet.staves.len() {
            bars::part(xml, sheet, number, divisions);
        }
    });
    xml.end()
}

/// Writes a sheet to a file.
///
/// # Errors
/// As [`write_beside`].
pub(crate) fn write(path: &Path, sheet: &Sheet) -> Result<(), Problem> {
    write_beside(path, |out| out.write_all(&text(sheet)))
}

fn resting(bars: usize) -> Staff {
    Staff {
        name: "Chords".into(),
        short: "Ch.".into(),
        parts: Vec::new(),
        clef: Clef::Treble,
        drums: Vec::new(),
        measures: vec![Measure::default(); bars],
    }
}

/// Title, mark, kits.
fn about(xml: &mut Xml, sheet: &Sheet) {
    xml.inside("work", &[], |xml| xml.leaf("work-title", &sheet.title));
    xml.inside("identification", &[], |xml| {
        xml.inside("encoding", &[], |xml| xml.leaf("software", MADE_BY));
        if !sheet.kits.is_empty() {
            xml.inside("miscellaneous", &[], |xml| {
                for kit in &sheet.kits {
                    xml.leaf_with("miscellaneous-field", &[("name", "kit")], kit);
                }
            });
        }
    });
    xml.inside("credit", &[("page", "1")], |xml| {
        xml.leaf("credit-type", "title");
        let looks = [("justify", "center"), ("valign", "top"), ("font-size", "22")];
        xml.leaf_with("credit-words", &looks, &sheet.title);
    });
}

/// How many durations a quarter has, so that each is a whole number.
fn divisions(sheet: &Sheet) -> i128 {
    let measures = sheet.staves.iter().flat_map(|staff| &staff.measures);
    let events = measures.flat_map(|measure| measure.voices.iter().flatten());
    let lengths = events.flat_map(|event| [event.at, event.length]);
    let chords = sheet.bars.iter().flat_map(|bar| bar.chords.iter().map(|(at, _)| *at));
    let bars = sheet.bars.iter().map(length);
    lengths.chain(chords).chain(bars).fold(1, |all, length| {
        let (mut a, mut b) = (all, *(length * 4).denom());
        let product = a * b;
        while b != 0 {
            (a, b) = (b, a % b);
        }
        product / a
    })
}

/// A bar's length in whole notes.
fn length(bar: &SheetBar) -> Exact {
    let whole = Exact::new(bar.metre.0.into(), bar.metre.1.into());
    bar.short.unwrap_or(whole)
}

/// A length in whole notes as a number of divisions.
fn duration(length: Exact, divisions: i128) -> String {
    (length * 4 * divisions).round().to_integer().to_string()
}
