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
use crate::notation::{Clef, Hand, Measure, Sheet, SheetBar, Staff, lead};
use crate::text::Problem;
use xml::Xml;

/// The document type of its scores.
const DOCTYPE: &str = "score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
                       \"http://www.musicxml.org/dtds/partwise.dtd\"";

/// The sheet as the text of a MusicXML file.
pub(crate) fn text(sheet: &Sheet) -> Vec<u8> {
    let sheet = &with_lead(sheet);
    let mut xml = Xml::new(DOCTYPE);
    xml.inside("score-partwise", &[("version", "4.0")], |xml| {
        about(xml, sheet);
        parts::list(xml, &sheet.staves);
        let divisions = divisions(sheet);
        for (number, staff) in sheet.staves.iter().enumerate() {
            if staff.hand != Some(Hand::Left) {
                bars::part(xml, sheet, number, divisions);
            }
        }
    });
    xml.end()
}

/// A sheet whose first staff is that of a lead sheet, where it has accents of the band, or chords over more or fewer parts than
/// one. A score has a part at least: where there is nothing at all, somebody rests.
fn with_lead(sheet: &Sheet) -> Sheet {
    let mut sheet = sheet.clone();
    let chords = sheet.bars.iter().any(|bar| !bar.chords.is_empty());
    let accents = sheet.bars.iter().any(|bar| !bar.kicks.is_empty());
    if accents || chords && sheet.staves.len() != 1 {
        sheet.staves.insert(0, lead(&sheet));
    } else if sheet.staves.is_empty() {
        sheet.staves.push(resting(sheet.bars.len()));
    }
    sheet
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
        hand: None,
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
    let bars = sheet.bars.iter().map(SheetBar::length);
    lengths.chain(chords).chain(bars).fold(1, |all, length| {
        let (mut a, mut b) = (all, *(length * 4).denom());
        let product = a * b;
        while b != 0 {
            (a, b) = (b, a % b);
        }
        product / a
    })
}

/// A length in whole notes as a number of divisions.
fn duration(length: Exact, divisions: i128) -> String {
    (length * 4 * divisions).round().to_integer().to_string()
}
