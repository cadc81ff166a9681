//! The list of parts: who plays, and on what.

use super::xml::Xml;
use crate::midi::PERCUSSION_CHANNEL;
use crate::notation::{Clef, Hand, Staff};

/// The identity of a part.
pub(super) fn id(number: usize) -> String {
    format!("P{}", number + 1)
}

/// The identity of one of a part's drums.
pub(super) fn instrument(part: usize, drum: usize) -> String {
    format!("P{}-I{}", part + 1, drum + 1)
}

pub(super) fn list(xml: &mut Xml, staves: &[Staff]) {
    xml.inside("part-list", &[], |xml| {
        // Both hands are one part.
        let own = |(_, staff): &(usize, &Staff)| staff.hand != Some(Hand::Left);
        for (number, staff) in staves.iter().enumerate().filter(own) {
            part(xml, number, staff);
        }
    });
}

fn part(xml: &mut Xml, number: usize, staff: &Staff) {
    xml.inside("score-part", &[("id", &id(number))], |xml| {
        xml.leaf("part-name", &staff.name);
        xml.leaf("part-abbreviation", &staff.short);
        if staff.clef != Clef::Percussion {
            xml.inside("score-instrument", &[("id", &instrument(number, 0))], |xml| {
                xml.leaf("instrument-name", &staff.name);
            });
            return;
        }
        for (place, drum) in staff.drums.iter().enumerate() {
            xml.inside("score-instrument", &[("id", &instrument(number, place))], |xml| {
                xml.leaf("instrument-name", &drum.name);
            });
        }
        for (place, drum) in staff.drums.iter().enumerate() {
            xml.inside("midi-instrument", &[("id", &instrument(number, place))], |xml| {
                xml.leaf("midi-channel", PERCUSSION_CHANNEL + 1);
                if let Some(key) = drum.key {
                    // Counted from 1.
                    xml.leaf("midi-unpitched", key + 1);
                }
            });
        }
    });
}
