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
    let mut text = suffix(chord).replace('♭', "b").replace('♯', "#");
    let printed: Vec<Option<&str>> = changes.iter().map(|change| taken_out(&mut text, *change)).collect();
    xml.leaf_with("kind", &[("text", &text)], kind);
    if let Some(bass) = chord.bass {
        tone(xml, "bass", bass);
    }
    for (change, printed) in changes.into_iter().zip(printed) {
        // The others are in the kind's text.
        let hidden = [("print-object", "no")];
        xml.inside("degree", if printed.is_some() { &[] } else { &hidden }, |xml| {
            let (kind, number, alter) = match change {
                Change::Add(number, alter) => ("add", number, alter),
                Change::Alter(number, alter) => ("alter", number, alter),
                Change::Subtract(number) => ("subtract", number, 0),
            };
            xml.leaf("degree-value", number);
            xml.leaf("degree-alter", alter);
            match printed {
                Some(text) => xml.leaf_with("degree-type", &[("text", text)], kind),
                None => xml.leaf("degree-type", kind),
            }
        });
    }
}

/// Takes a change out of a kind's text where it is spelled out there, such as `b9`, `add9`, `no5`, and gives what is then
/// printed before its degree. Not all programs heed `print-object`: what is printed as a degree must not be said twice.
fn taken_out(text: &mut String, change: Change) -> Option<&'static str> {
    let accidentals = |alter: i8| if alter < 0 { "b" } else { "#" }.repeat(alter.unsigned_abs().into());
    let spelled = match change {
        // Sevenths are counted from the minor one.
        Change::Add(7, _) | Change::Alter(7, _) => return None,
        Change::Add(number, 0) => vec![("add", format!("add{number}")), ("", format!("/{number}"))],
        Change::Add(number, alter) | Change::Alter(number, alter) => {
            vec![("", accidentals(alter) + &number.to_string())]
        }
        Change::Subtract(number) => vec![("no", format!("no{number}"))],
    };
    let found = spelled
        .iter()
        .find_map(|(before, words)| Some((*before, text.find(words)?, words.len())));
    let (before, at, length) = found?;
    text.replace_range(at..at + length, "");
    for (left, mended) in [("(,", "("), (",)", ")"), (",,", ","), ("()", "")] {
        *text = text.replace(left, mended);
    }
    Some(before)
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
    fn what_is_printed_as_a_degree_is_not_said_twice() {
        for (symbol, text, printed) in [
            ("C7b9", "7", vec![Some("")]),
            ("C7(♭9,#11)", "7", vec![Some(""), Some("")]),
            ("Cm(add9)", "m", vec![Some("add")]),
            ("C6/9", "6", vec![Some("")]),
            ("C7no5", "7", vec![Some("no")]),
            ("C13", "13", vec![None]),
            ("C7sus4", "7sus4", vec![None, None]),
            ("C7alt", "7alt", vec![None, None, None]),
        ] {
            let chord = Chord::parse(symbol).expect("a chord");
            let mut left = suffix(&chord).replace('♭', "b");
            let changes = kind_of(&chord).1;
            let told: Vec<_> = changes.iter().map(|change| taken_out(&mut left, *change)).collect();
            assert_eq!((left.as_str(), told), (text, printed), "{symbol}");
        }
    }

    #[test]
    fn a_suffix_has_neither_root_nor_bass() {
        for (symbol, text) in [("Bbmaj7/D", "maj7"), ("C6/9/Bb", "6/9"), ("F♯m7", "m7"), ("G", "")] {
            assert_eq!(suffix(&Chord::parse(symbol).expect("a chord")), text);
        }
    }
}
