//! Elements, one after another and inside one another.

use std::fmt::Display;

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

/// A document that is being written.
pub(super) struct Xml(Writer<Vec<u8>>);

/// Attributes with their values.
pub(super) type Attributes<'a> = &'a [(&'a str, &'a str)];

impl Xml {
    pub(super) fn new(doctype: &str) -> Xml {
        let mut xml = Xml(Writer::new_with_indent(Vec::new(), b' ', 1));
        xml.put(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)));
        xml.put(Event::DocType(BytesText::from_escaped(doctype)));
        xml
    }

    /// An element around others.
    pub(super) fn inside(&mut self, name: &str, attributes: Attributes, write: impl FnOnce(&mut Xml)) {
        self.put(Event::Start(start(name, attributes)));
        write(self);
        self.put(Event::End(BytesEnd::new(name)));
    }

    /// An element with a text.
    pub(super) fn leaf(&mut self, name: &str, text: impl Display) {
        self.leaf_with(name, &[], text);
    }

    /// The same with attributes.
    pub(super) fn leaf_with(&mut self, name: &str, attributes: Attributes, text: impl Display) {
        self.put(Event::Start(start(name, attributes)));
        self.put(Event::Text(BytesText::new(&allowed(&text.to_string()))));
        self.put(Event::End(BytesEnd::new(name)));
    }

    /// An element without content.
    pub(super) fn empty(&mut self, name: &str, attributes: Attributes) {
        self.put(Event::Empty(start(name, attributes)));
    }

    /// An element around others, left out where there are none.
    pub(super) fn inside_if_any(&mut self, name: &str, write: impl FnOnce(&mut Xml)) {
        let before = self.0.get_ref().len();
        self.put(Event::Start(start(name, &[])));
        let begun = self.0.get_ref().len();
        write(self);
        let any = self.0.get_ref().len() > begun;
        self.put(Event::End(BytesEnd::new(name)));
        if !any {
            self.0.get_mut().truncate(before);
        }
    }

    /// The finished text.
    pub(super) fn end(self) -> Vec<u8> {
        let mut text = self.0.into_inner();
        text.push(b'\n');
        text
    }

    fn put(&mut self, event: Event) {
        self.0.write_event(event).expect("a vector takes whatever is written");
    }
}

fn start<'a>(name: &'a str, attributes: Attributes) -> BytesStart<'a> {
    let mut start = BytesStart::new(name);
    for (name, value) in attributes {
        start.push_attribute((*name, allowed(value).as_str()));
    }
    start
}

/// A text in which characters that XML 1.0 (2.2, "Characters") forbids are replaced.
fn allowed(text: &str) -> String {
    let letter = |letter: char| match letter {
        '\t' | '\n' | '\r' | ' '..='\u{fffd}' | '\u{10000}'.. => letter,
        _ => char::REPLACEMENT_CHARACTER,
    };
    text.chars().map(letter).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use quick_xml::Reader;

    fn written(text: &str) -> String {
        let mut xml = Xml::new("a");
        xml.inside("a", &[("b", text)], |xml| xml.leaf("c", text));
        String::from_utf8(xml.end()).expect("text is UTF-8")
    }

    #[test]
    fn what_xml_forbids_is_replaced() {
        assert_eq!(
            allowed("Quay\u{0}\u{b}\u{fffe}\t\u{1f4ef}"),
            "Quay\u{fffd}\u{fffd}\u{fffd}\t\u{1f4ef}"
        );
        assert!(written("<&\">").contains("<c>&lt;&amp;\"&gt;</c>") || written("<&\">").contains("&quot;"));
    }

    proptest! {
        #[test]
        fn any_text_is_read_back(text in "\\PC{0,20}|[\\x00-\\x7f<>&\"']{0,20}") {
            let page = written(&text);
            let mut reader = Reader::from_str(&page);
            let mut read = String::new();
            let mut inside = false;
            loop {
                match reader.read_event().expect("well-formed") {
                    Event::Eof => break,
                    Event::Start(start) => inside = start.name().as_ref() == "c",
                    Event::End(_) => inside = false,
                    Event::Text(text) if inside => read.push_str(&text),
                    Event::GeneralRef(name) if inside => read.push(match &*name {
                        "lt" => '<',
                        "gt" => '>',
                        "amp" => '&',
                        "quot" => '"',
                        "apos" => '\'',
                        "#9" => '\t',
                        "#10" => '\n',
                        "#13" => '\r',
                        _ => char::REPLACEMENT_CHARACTER,
                    }),
                    _ => {}
                }
            }
            prop_assert_eq!(read.replace('\r', ""), allowed(&text).replace('\r', ""));
        }
    }
}
