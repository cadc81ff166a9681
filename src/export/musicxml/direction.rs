//! What stands over a bar or a note.

use super::xml::Xml;

/// Something over what follows.
pub(super) fn direction(xml: &mut Xml, says: impl FnOnce(&mut Xml)) {
    xml.inside("direction", &[("placement", "above")], |xml| {
        xml.inside("direction-type", &[], says);
    });
}

/// A word over the next note.
pub(super) fn words(xml: &mut Xml, text: &str) {
    direction(xml, |xml| {
        xml.leaf_with("words", &[("font-style", "italic")], text);
    });
}
