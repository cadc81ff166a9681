//! A chord symbol as an element.

use super::chord_kind::{Change, kind_of};
use super::duration;
use super::xml::Xml;
use crate::harmony::{Chord, Spelling};
use crate::loopfile::Exact;
use crate::notation::ChordSign;

/// Writes a chord symbol that stands so far behind the next note's beginning, in whole notes.
pub(super) fn harmony(xml: &mut Xml, sign: &ChordSign, behind: Exact, divisions: i128) {
    xml.inside("harmony", &[], |xml| {
        match &sign.chord {
            Some(chord) => meaning(xml, chord),
            None => {
                // A root that is not shown: the format asks for one.
                xml.inside("root", &[], |xml| xml.leaf_with("root-step", &[("text", "")], "C"));
                xml.leaf_with("kind", &[("text", &sign.text)], "none");
            }
        }
        if behind > Exact::ZERO {
            xml.leaf("offset", duration(behind, divisions));
        }
    });
}

fn meaning(xml: &mut Xml, chord: &Chord) {
    tone(xml, "root", chord.root);
    let (kind, changes) = kind_of(chord);
    xml.leaf_with("kind", &[("text", suffix(chord))], kind);
    if let Some(bass) = chord.bass {
        tone(xml, "bass", bass);
    }
    for change in changes {
        // The kind's text says all already.
        xml.inside("degree", &[("print-object", "no")], |xml| {
            let (kind, number, alter) = match change {
                Change::Add(number, alter) => ("add", number, alter),
                Change::Alter(number, alter) => ("alter", number, alter),
                Change::Subtract(number) => ("subtract", number, 0),
            };
            xml.leaf("degree-value", number);
            xml.leaf("degree-alter", alter);
            xml.leaf("degree-type", kind);
        });
    }
}

fn tone(xml: &mut Xml, name: &str, tone: Spelling) {
    xml.inside(name, &[], |xml| {
        xml.leaf(&format!("{name}-step"), format!("{:?}", tone.letter));
        if tone.alter != 0 {
            xml.leaf(&format!("{name}-alter"), tone.alter);
        }
    });
}

/// What stands behind a symbol's root, without its bass.
fn suffix(chord: &Chord) -> &str {
    let symbol = &chord.symbol;
    let accidentals = symbol.chars().skip(1).take(chord.root.alter.unsigned_abs().into());
    let root = 1 + accidentals.map(char::len_utf8).sum::<usize>();
    let end = chord.bass.and_then(|_| symbol.rfind('/')).unwrap_or(symbol.len());
    symbol.get(root..end).unwrap_or("")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_suffix_has_neither_root_nor_bass() {
        for (symbol, text) in [("Bbmaj7/D", "maj7"), ("C6/9/Bb", "6/9"), ("F♯m7", "m7"), ("G", "")] {
            assert_eq!(suffix(&Chord::parse(symbol).expect("a chord")), text);
        }
    }
}
