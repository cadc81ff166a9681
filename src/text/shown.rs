//! Text from outside as it may be shown: nothing in it steers a terminal, breaks a line or turns the order of letters.

use std::borrow::Cow;
use std::path::Path;

/// True for letters that steer instead of showing: control characters (C0, DEL and C1: ISO/IEC 6429), line and paragraph
/// separators, and the embeddings, overrides and isolates of bidirectional text (Unicode Standard Annex 9).
pub(crate) fn steers(letter: char) -> bool {
    letter.is_control() || matches!(letter, '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// A page as it may be shown: U+FFFD stands for each letter that [`steers`], but for tabs and line ends.
pub(crate) fn shown(text: &str) -> Cow<'_, str> {
    replaced(text, |letter, next| match letter {
        '\n' | '\t' => false,
        '\r' => next != Some('\n'),
        letter => steers(letter),
    })
}

/// A name or a sentence as it may be shown within a line: tabs and line ends are replaced, too.
pub(crate) fn one_line(text: &str) -> Cow<'_, str> {
    replaced(text, |letter, _| steers(letter))
}

/// A path as it may be shown within a line.
pub(crate) fn shown_path(path: &Path) -> String {
    one_line(&path.display().to_string()).into_owned()
}

/// JSON as it may be shown: letters that steer are escaped, which programs read as the same (RFC 8259, section 7).
pub(crate) fn shown_json(text: String) -> String {
    if !text.chars().any(steers) {
        return text;
    }
    let escaped = |letter: char| match steers(letter) {
        true => format!("\\u{:04x}", u32::from(letter)),
        false => letter.to_string(),
    };
    text.chars().map(escaped).collect()
}

/// Makes a name or a sentence one that may be shown within a line, as [`one_line`] does.
pub(crate) fn clean(text: &mut String) {
    if let Cow::Owned(clean) = one_line(text) {
        *text = clean;
    }
}

/// A text in TOML's quotes (TOML 1.0, basic strings), with escapes for letters that steer.
pub(crate) fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            letter if steers(letter) => out.push_str(&format!("\\u{:04X}", u32::from(letter))),
            letter => out.push(letter),
        }
    }
    out.push('"');
    out
}

/// A text with U+FFFD for some of its letters, each told with the one behind it.
fn replaced(text: &str, bad: impl Fn(char, Option<char>) -> bool) -> Cow<'_, str> {
    if !text.chars().any(steers) {
        return Cow::Borrowed(text);
    }
    let mut letters = text.chars().peekable();
    let mut out = String::with_capacity(text.len());
    while let Some(letter) = letters.next() {
        let bad = bad(letter, letters.peek().copied());
        out.push(if bad { char::REPLACEMENT_CHARACTER } else { letter });
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_is_replaced_and_what_shows_stays() {
        assert_eq!(
            one_line("a\u{1b}[31mb\u{9b}c\u{7f}\u{202e}d\u{2066}\u{2028}"),
            "a�[31mb�c��d��"
        );
        for text in ["Möwe 太鼓 👩‍🚀", "שלום\u{200f}", "", "a b"] {
            assert!(matches!(one_line(text), Cow::Borrowed(kept) if kept == text), "{text}");
        }
    }

    #[test]
    fn pages_keep_their_lines() {
        assert_eq!(shown("a\tb\nc\r\nd\re\u{85}"), "a\tb\nc\r\nd�e�");
        assert_eq!(one_line("a\tb\nc\r\n"), "a�b�c��");
    }

    #[test]
    fn any_text_can_be_quoted_and_read_again() {
        for text in [
            "kick",
            "Große Trommel",
            "caisse \"claire\"",
            "a\\b",
            "tab\there\u{7f}\u{85}",
            "\u{202e}kick\n",
            "太鼓",
        ] {
            let quoted = quoted(text);
            assert!(!quoted.chars().any(steers), "{quoted}");
            let read: toml::Table = format!("a = {quoted}").parse().unwrap();
            assert_eq!(read["a"].as_str(), Some(text));
        }
    }

    #[test]
    fn json_stays_the_same_value() {
        let value = serde_json::json!({ "a\u{9b}": "b\u{202e}\n\u{7f}" });
        let text = shown_json(value.to_string());
        assert!(!text.chars().any(steers), "{text}");
        assert_eq!(serde_json::from_str::<serde_json::Value>(&text).unwrap(), value);
    }
}
