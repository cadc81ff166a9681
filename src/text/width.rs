//! Columns of text: how wide words stand in a terminal, where some letters take two.

use unicode_width::UnicodeWidthStr;

use super::{one_line, shown};

/// Columns that a text takes as it is shown (Unicode Standard Annex 11, East Asian Width).
pub(crate) fn columns(text: &str) -> usize {
    one_line(text).width()
}

/// A text with spaces behind it up to so many columns.
pub(crate) fn padded(text: &str, width: usize) -> String {
    let spaces = width.saturating_sub(columns(text));
    format!("{text}{}", " ".repeat(spaces))
}

/// A text that is no wider than so many columns: what is cut off ends in an ellipsis.
pub(crate) fn cut(text: &str, width: usize) -> String {
    if columns(text) <= width {
        return text.to_string();
    }
    let mut kept = String::new();
    for letter in text.chars() {
        let longer = format!("{kept}{letter}");
        if columns(&longer) >= width {
            break;
        }
        kept = longer;
    }
    kept + "…"
}

/// A text in lines of so many columns at most, broken between words where that can be.
pub(crate) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    // Titles come from outside; marks, which have styles, are not wrapped.
    for word in shown(text).split_whitespace() {
        let mut word: Vec<char> = word.chars().collect();
        if !line.is_empty() && line.chars().count() + 1 + word.len() > width {
            lines.push(std::mem::take(&mut line));
        }
        while word.len() > width {
            let rest = word.split_off(width);
            lines.push(std::mem::replace(&mut word, rest).into_iter().collect());
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.extend(word);
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_letters_take_two_columns_and_marks_upon_letters_none() {
        assert_eq!(columns("太鼓"), 4);
        assert_eq!(columns("Mo\u{308}we"), 4);
        assert_eq!(padded("太鼓", 6), "太鼓  ");
        assert_eq!(padded("kick", 2), "kick");
    }

    #[test]
    fn what_is_cut_is_no_wider_than_its_column() {
        assert_eq!(cut("tambourine", 10), "tambourine");
        assert_eq!(cut("tambourine", 5), "tamb…");
        assert_eq!(cut("太鼓の音", 6), "太鼓…");
        assert_eq!(columns(&cut("a太鼓の音", 6)), 6);
    }
}
