//! TOML as a tree in which everything knows its place, in the order of the text.

use std::ops::Range;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::quotes::{ALL, Unclosed, behind_string, unclosed};
use crate::text::{Place, Problem, Source, Words};

/// The most lines and values of a text: each takes memory, some of it two thousand bytes.
pub(crate) const MOST_VALUES: usize = 60_000;

/// A value and where it stands.
#[derive(Debug, Clone)]
pub struct Node {
    /// Where the value stands; for a table with a header of its own, the header.
    pub place: Place,
    /// The value.
    pub what: TomlValue,
}

/// A value of TOML.
#[derive(Debug, Clone)]
pub enum TomlValue {
    /// A string.
    Text(Words),
    /// A float or an integer.
    Number(f64),
    /// An integer, where it is one that is not negative and fits.
    Whole(u64),
    /// A boolean.
    Switch(bool),
    /// A date or a time.
    Date,
    /// An array.
    List(Vec<Node>),
    /// A table, in the order of the text.
    Table(Vec<Entry>),
}

/// A key and its value.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The key.
    pub key: Words,
    /// The value.
    pub value: Node,
}

impl Node {
    /// What kind of value it is, with the value where it is short: `the text "loud"`, `a list`.
    pub fn describe(&self) -> String {
        match &self.what {
            TomlValue::Text(words) if words.text.chars().count() <= 40 && !words.text.contains('\n') => {
                format!("the text \"{}\"", words.text)
            }
            TomlValue::Text(_) => "a text".into(),
            TomlValue::Number(number) => number.to_string(),
            TomlValue::Whole(number) => number.to_string(),
            TomlValue::Switch(on) => on.to_string(),
            TomlValue::Date => "a date".into(),
            TomlValue::List(_) => "a list".into(),
            TomlValue::Table(_) => "a table".into(),
        }
    }
}

/// Reads a whole TOML text. Every syntax error becomes a problem, and what could be read is given all the same.
///
/// A text with more than [`MOST_VALUES`] is a problem and not read at all.
pub(crate) fn parse(source: &Arc<Source>, problems: &mut Vec<Problem>) -> Vec<Entry> {
    if let Some(at) = past(&source.text, MOST_VALUES) {
        let place = Place {
            source: source.clone(),
            span: at..at,
        };
        let what = format!("the file goes on behind {MOST_VALUES} lines and values, which are the most");
        problems.push(Problem::at(&place, what).help("take some of it into a file of its own"));
        return Vec::new();
    }
    let reader = TreeBuilder { source, offset: 0 };
    let (table, errors) = DeTable::parse_recoverable(&source.text);
    let mut found = reader.problems(errors);
    let quotes = if found.is_empty() {
        Vec::new()
    } else {
        unclosed(&source.text)
    };
    let told = |quote: &Unclosed| {
        let place = Place {
            source: source.clone(),
            span: quote.span.clone(),
        };
        Problem::at(&place, quote.what.as_str()).help(quote.help.as_str())
    };
    let mut told: Vec<Problem> = quotes.iter().map(told).collect();
    let read = match quotes.last().filter(|last| last.spoils.end == ALL) {
        None => reader.entries(table.get_ref()),
        // Whatever follows is not what it seems, and the table in which it stands is not whole.
        Some(last) => {
            let before = &source.text[..last.spoils.start];
            let whole = before.rfind("\n[").map_or(0, |header| header + 1);
            let (table, errors) = DeTable::parse_recoverable(&source.text[..whole]);
            found = reader.problems(errors);
            reader.entries(table.get_ref())
        }
    };
    let start = |problem: &Problem| problem.place.as_ref().map_or(0, |place| place.span.start);
    // What quotes spoil lies apart and in order.
    let spoilt = |at: usize| {
        let before = quotes.partition_point(|quote| quote.spoils.start <= at);
        quotes[..before].last().is_some_and(|quote| quote.spoils.contains(&at))
    };
    found.retain(|problem| !spoilt(start(problem)));
    found.append(&mut told);
    found.sort_by_key(start);
    problems.append(&mut found);
    read
}

/// Reads a stretch of a source as one TOML value; none where it is not one.
pub(crate) fn parse_value(source: &Arc<Source>, within: Range<usize>) -> Option<Node> {
    let text = source.text.get(within.clone())?;
    let value = DeValue::parse(text).ok()?;
    Some(
        TreeBuilder {
            source,
            offset: within.start,
        }
        .node(&value),
    )
}

/// Counts what takes memory as a text is read, without reading it: lines, and what stands behind `=`, commas and opening
/// brackets, outside of strings and comments. Gives where there is more than `most` of it.
fn past(text: &str, most: usize) -> Option<usize> {
    let bytes = text.as_bytes();
    let (mut counted, mut at) = (0, 0);
    while let Some(byte) = bytes.get(at) {
        match byte {
            b'#' => {
                at += bytes[at..]
                    .iter()
                    .position(|byte| *byte == b'\n')
                    .unwrap_or(bytes.len() - at)
            }
            b'"' | b'\'' => at = behind_string(bytes, at),
            b'=' | b',' | b'[' | b'{' | b'\n' if counted == most => return Some(at),
            byte => {
                counted += usize::from(matches!(byte, b'=' | b',' | b'[' | b'{' | b'\n'));
                at += 1;
            }
        }
    }
    None
}

fn clamp(text: &str, mut offset: usize) -> usize {
    offset = offset.min(text.len());
    while !text.is_char_boundary(offset) {
        offset -= 1;
    }
    offset
}

/// A syntax error and its advice, in plain words where the parser's own are none.
fn syntax(place: &Place, message: &str) -> Problem {
    // One value that is no value makes errors of several kinds, by how it begins.
    if message.starts_with("string values must be quoted") || message.starts_with("invalid") {
        let (before, behind) = place.source.text.split_at(place.span.start);
        let line = before.rsplit('\n').next().unwrap_or_default();
        let begun = line
            .rsplit(['=', ',', '[', '{'])
            .next()
            .unwrap_or_default()
            .trim_start();
        let rest = behind.split([',', '\n', '#', '}', ']']).next().unwrap_or_default();
        let value = format!("{begun}{rest}");
        match value.trim() {
            "" => return Problem::at(place, "the value is missing").help("write one after the `=`"),
            word if word.len() <= 60 && !word.contains(['"', '\'']) => return unquoted(place, word),
            _ => {}
        }
    }
    let problem = Problem::at(place, format!("this is not TOML: {message}"));
    if message.contains("duplicate") {
        problem.help("write each key once; join the two")
    } else {
        problem
    }
}

fn unquoted(place: &Place, word: &str) -> Problem {
    let problem = Problem::at(place, format!("`{word}` is neither a number nor a text in quotes"));
    match word.split_once(char::is_whitespace) {
        Some((number, _)) if number.parse::<f64>().is_ok() => problem.help(format!("write the number alone: {number}")),
        _ => problem.help(format!("write \"{word}\"")),
    }
}

struct TreeBuilder<'a> {
    source: &'a Arc<Source>,
    offset: usize,
}

impl TreeBuilder<'_> {
    /// The parser's errors in the order of the text.
    fn problems(&self, errors: Vec<toml::de::Error>) -> Vec<Problem> {
        let span = |problem: &Problem| problem.place.as_ref().map_or(0..0, |place| place.span.clone());
        let told = |error: toml::de::Error| {
            let place = Place {
                source: self.source.clone(),
                span: self.span(error.span().unwrap_or(0..0)),
            };
            syntax(&place, error.message())
        };
        let mut found: Vec<Problem> = errors.into_iter().map(told).collect();
        found.sort_by_key(|problem| span(problem).start);
        // Several errors in one broken value say the same of it.
        found.dedup_by(|second, first| second.what == first.what && span(second).start <= span(first).end + 1);
        found
    }

    fn entries(&self, table: &DeTable<'_>) -> Vec<Entry> {
        let mut entries: Vec<Entry> = table
            .iter()
            .map(|(key, value)| Entry {
                key: self.words(key.span(), key.get_ref()),
                value: self.node(value),
            })
            .collect();
        entries.sort_by_key(|entry| entry.key.literal.start);
        entries
    }

    fn node(&self, value: &Spanned<DeValue<'_>>) -> Node {
        let what = match value.get_ref() {
            DeValue::String(text) => TomlValue::Text(self.words(value.span(), text)),
            DeValue::Integer(digits) => match u64::from_str_radix(digits.as_str(), digits.radix()) {
                Ok(whole) => TomlValue::Whole(whole),
                Err(_) => TomlValue::Number(
                    i128::from_str_radix(digits.as_str(), digits.radix()).map_or(f64::NAN, |whole| whole as f64),
                ),
            },
            DeValue::Float(digits) => TomlValue::Number(digits.as_str().parse().unwrap_or(f64::NAN)),
            DeValue::Boolean(on) => TomlValue::Switch(*on),
            DeValue::Datetime(_) => TomlValue::Date,
            DeValue::Array(values) => TomlValue::List(values.iter().map(|value| self.node(value)).collect()),
            DeValue::Table(table) => TomlValue::Table(self.entries(table)),
        };
        Node {
            place: Place {
                source: self.source.clone(),
                span: self.span(value.span()),
            },
            what,
        }
    }

    fn span(&self, span: Range<usize>) -> Range<usize> {
        let start = clamp(&self.source.text, span.start + self.offset);
        start..clamp(&self.source.text, span.end + self.offset).max(start)
    }

    /// A string or key: finds where its first byte stands behind the quotes, and whether it is spelled as it is.
    fn words(&self, span: Range<usize>, text: &str) -> Words {
        let literal = self.span(span);
        let written = &self.source.text[literal.clone()];
        let quotes = ["\"\"\"", "'''", "\"", "'"]
            .into_iter()
            .find(|quotes| written.starts_with(quotes) && written.len() >= 2 * quotes.len());
        let quotes = quotes.map_or(0, str::len);
        let mut start = literal.start + quotes;
        if quotes == 3 {
            // The line break right behind three opening quotes is not part of the text.
            let inner = &written[3..];
            start += if inner.starts_with("\r\n") {
                2
            } else {
                usize::from(inner.starts_with('\n'))
            };
        }
        let plain = self.source.text.get(start..literal.end.saturating_sub(quotes)) == Some(text);
        Words {
            text: text.to_string(),
            source: self.source.clone(),
            start,
            literal,
            plain,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> (Vec<Entry>, Vec<Problem>) {
        let mut problems = Vec::new();
        let entries = parse(&Source::new("a.toml", text), &mut problems);
        (entries, problems)
    }

    #[test]
    fn keys_come_in_the_order_of_the_text_and_strings_know_their_first_byte() {
        let text = "z = \"one\"\na = '''\ntwo'''\n\"b c\" = \"th\\u0072ee\"\n";
        let (entries, problems) = read(text);
        assert!(problems.is_empty());
        let names: Vec<&str> = entries.iter().map(|entry| entry.key.text.as_str()).collect();
        assert_eq!(names, ["z", "a", "b c"]);
        let words = |at: usize| match &entries[at].value.what {
            TomlValue::Text(words) => words.clone(),
            other => panic!("{other:?}"),
        };
        assert_eq!(&text[words(0).place(0..3).span], "one");
        assert_eq!(&text[words(1).place(0..3).span], "two");
        assert!(!words(2).plain);
        assert_eq!(&text[words(2).place(0..1).span], "\"th\\u0072ee\"");
    }

    #[test]
    fn several_syntax_errors_come_at_once() {
        let (_, problems) = read("[loop]\ntempo = \nbars = 4\nroom = off\nkit = \"x\n");
        assert!(problems.len() >= 3, "{problems:?}");
        assert!(
            problems
                .iter()
                .any(|problem| problem.help.as_deref() == Some("write \"off\""))
        );
    }

    #[test]
    fn what_takes_memory_is_counted_outside_of_strings_and_comments() {
        let count = |text: &str| (0..).find(|most| past(text, *most).is_none());
        assert_eq!(count("a = 1"), Some(1));
        assert_eq!(count("a = [1, 2]\n"), Some(4));
        assert_eq!(count("a = \"= , [ { \\\" =\" # = ,\n"), Some(2));
        assert_eq!(count("a = \"\"\"\n= \"\" ,\n\"\"\"\nb = '''\n'' =\n'''"), Some(3));
        assert_eq!(count("a = 'never = ends\nb = \"nor , this\\"), Some(3));
        assert_eq!(past("a = 1\nb = 2\n", 3), Some(11));
    }

    #[test]
    fn a_text_with_too_much_in_it_is_not_read() {
        let (entries, problems) = read(&"a = 1\n".repeat(MOST_VALUES));
        assert!(entries.is_empty());
        assert_eq!(problems.len(), 1);
        assert!(problems[0].what.contains("60000"), "{problems:?}");
    }

    #[test]
    fn headers_are_the_place_of_their_tables() {
        let text = "[loop]\ntempo = 1\n[[part]]\nname = \"a\"\n[[part]]\n[rooms.hall]\nsize = 3";
        let (entries, _) = read(text);
        assert_eq!(&text[entries[0].value.place.span.clone()], "[loop]");
        let TomlValue::List(parts) = &entries[1].value.what else {
            panic!()
        };
        assert_eq!(&text[parts[1].place.span.clone()], "[[part]]");
    }
}
