//! Quotes that were opened and never closed, or the other way about: where they were, as a person would look for them.
//!
//! A parser takes what stands behind an open quote for text until the next quote, and then the text of all later strings
//! for keys: it stumbles over lines in which nothing is wrong. Here the text is gone through line by line, as it is meant:
//! a string on one line ends with it, and no string of several lines holds the header of a table or a key with its value.

use std::ops::Range;

/// The end of what a quote spoils where that is all that follows.
pub(crate) const ALL: usize = usize::MAX;

/// A quote that lacks its partner.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Unclosed {
    /// Where it stands.
    pub span: Range<usize>,
    /// What is wrong, in a sentence.
    pub what: String,
    /// What to do about it.
    pub help: String,
    /// What can't be understood for it: its line or its value, else all that follows, to [`ALL`].
    pub spoils: Range<usize>,
}

/// The quotes of a text that lack their partners, in the order of the text; the last may spoil all that follows.
///
/// To be asked of a text that is not TOML: in one that is, a string may hold anything.
pub(crate) fn unclosed(text: &str) -> Vec<Unclosed> {
    let mut search = Search {
        text,
        at: 0,
        found: Vec::new(),
        hollow: None,
    };
    while search.at < text.len() {
        search.entry();
    }
    search.found
}

struct Search<'a> {
    text: &'a str,
    at: usize,
    found: Vec<Unclosed>,
    /// The value of the entry before, where it is nothing, or two quotes with nothing between.
    hollow: Option<Range<usize>>,
}

impl Search<'_> {
    fn byte(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    /// Goes through a header, or a key and its value, whose brackets may span lines, and on to the next line.
    fn entry(&mut self) {
        let begins = self.at;
        let header = line(self.text, begins).starts_with('[');
        let (mut equals, mut depth, mut swallowed) = (None, 0u32, false);
        let mut ends = begins;
        while let Some(byte) = self.byte() {
            match byte {
                b'\n' if depth == 0 || header || begins_anew(line(self.text, self.at + 1)) => break,
                b'#' => {
                    self.at += line_length(self.text, self.at);
                    continue;
                }
                b'"' | b'\'' => {
                    let opens = self.at;
                    self.string();
                    swallowed |= depth == 0 && equals.is_none() && self.text[opens..self.at].contains('=');
                    ends = self.at;
                    continue;
                }
                b'=' if depth == 0 => _ = equals.get_or_insert(self.at),
                b'[' | b'{' => depth += 1,
                b']' | b'}' => depth = depth.saturating_sub(1),
                _ => {}
            }
            self.at += 1;
            if !byte.is_ascii_whitespace() {
                ends = self.at;
            }
        }
        self.at = (self.at + 1).min(self.text.len());
        if let Some(last) = self.found.last_mut().filter(|last| last.spoils.start >= begins) {
            // Where the open string took in a bracket that closes, nothing closes what is behind it.
            let end = if depth > 0 { ALL } else { self.at };
            last.spoils.end = last.spoils.end.max(end);
            self.at = last.spoils.end.min(self.text.len());
        } else if !header && ends > begins {
            self.look_over(begins, equals, swallowed, ends);
        }
    }

    /// Judges an entry whose strings are closed, by what its line and the value before it look like.
    fn look_over(&mut self, begins: usize, equals: Option<usize>, swallowed: bool, ends: usize) {
        let hollow = self.hollow.take();
        match (equals, hollow) {
            (Some(equals), _) => {
                let value = trimmed(self.text, equals + 1..ends.max(equals + 1));
                let nothing = matches!(&self.text[value.clone()], "" | "\"\"" | "''");
                self.hollow = nothing.then_some(value);
            }
            (None, _) if swallowed => {
                let span = trimmed(self.text, begins..begins + line_length(self.text, begins));
                let what = "a quote is missing on this line".to_string();
                let long = ["\"\"\"", "'''"]
                    .iter()
                    .any(|long| self.text[span.clone()].contains(long));
                let spoils = begins..if long { ALL } else { self.at };
                self.add(span, what, "put quotes before and behind each text".into(), spoils);
            }
            (None, Some(value)) => {
                let quotes = if value.is_empty() { "none" } else { "only two" };
                let what =
                    format!("a text of several lines follows; it opens with three quotes, and here are {quotes}");
                let help = "write `\"\"\"` here, and again where the text ends".into();
                let spoils = value.start..ALL;
                self.add(value, what, help, spoils);
            }
            (None, None) => {}
        }
    }

    fn add(&mut self, span: Range<usize>, what: String, help: String, spoils: Range<usize>) {
        self.at = self.at.max(spoils.end).min(self.text.len());
        self.found.push(Unclosed {
            span,
            what,
            help,
            spoils,
        });
    }

    /// Goes over the string that begins here, or as far as it goes.
    fn string(&mut self) {
        let (opens, quote) = (self.at, self.text.as_bytes()[self.at]);
        let sign = char::from(quote);
        if self.text[opens..].bytes().take(3).filter(|byte| *byte == quote).count() == 3 {
            return self.long_string(opens, quote);
        }
        self.at += 1;
        while let Some(byte) = self.byte().filter(|byte| *byte != b'\n') {
            self.at += 1;
            match byte {
                b'\\' if quote == b'"' && self.byte().is_some_and(|byte| byte != b'\n') => self.at += 1,
                byte if byte == quote => return,
                _ => {}
            }
        }
        let begins = self.text[..opens].rfind('\n').map_or(0, |before| before + 1);
        let span = trimmed(self.text, opens..self.at);
        // A quote at the end of a line was to be the first of three.
        let end = if span.len() == 1 { ALL } else { self.at };
        let what = "the text in quotes that begins here has no end on its line".to_string();
        self.add(span, what, format!("write `{sign}` where it ends"), begins..end);
    }

    fn long_string(&mut self, opens: usize, quote: u8) {
        let bytes = self.text.as_bytes();
        let ends = behind_string(bytes, opens);
        let closed = ends >= opens + 6 && bytes[opens + 3..ends].ends_with(&[quote; 3]);
        let within = opens + 3..if closed { ends - 3 } else { ends };
        let (mut half, mut stranger) = (None, None);
        let mut at = opens + line_length(self.text, opens) + 1;
        while at <= within.end && at < self.text.len() {
            let length = line_length(self.text, at);
            let line = self.text[at..at + length].trim();
            if line.len() == 2 && line.bytes().all(|byte| byte == quote) {
                half = half.or(Some(at));
            } else if begins_anew(line) {
                stranger = Some(at);
                break;
            }
            at += length + 1;
        }
        if closed && stranger.is_none() {
            self.at = ends;
            // Up to two quotes right before the closing ones belong to the text.
            while self.byte() == Some(quote) && self.at < ends + 2 {
                self.at += 1;
            }
            return;
        }
        let three = char::from(quote).to_string().repeat(3);
        let number = |at: usize| self.text[..at].matches('\n').count() + 1;
        let help = match (half, stranger) {
            (Some(half), _) => format!("line {} has two quotes; write `{three}` there", number(half)),
            (None, Some(stranger)) => format!("write `{three}` where it ends, before line {}", number(stranger)),
            (None, None) => format!("write `{three}` where it ends"),
        };
        let what = format!("the text that opens here with `{three}` is not closed");
        self.add(opens..opens + 3, what, help, opens..ALL);
    }
}

/// The rest of a line.
fn line(text: &str, at: usize) -> &str {
    let at = at.min(text.len());
    text[at..at + line_length(text, at)].trim()
}

fn line_length(text: &str, at: usize) -> usize {
    text[at..].find('\n').unwrap_or(text.len() - at)
}

fn trimmed(text: &str, within: Range<usize>) -> Range<usize> {
    let inner = &text[within.clone()];
    let start = within.start + (inner.len() - inner.trim_start().len());
    start..start + inner.trim().len()
}

/// True for a line that is no part of a text: a table's header, or a key with a value of TOML.
fn begins_anew(line: &str) -> bool {
    is_header(line) || is_entry(line)
}

fn is_header(line: &str) -> bool {
    let line = line.split('#').next().unwrap_or_default().trim();
    let inner = line.strip_prefix('[').and_then(|rest| rest.strip_suffix(']'));
    inner.is_some_and(|inner| inner.contains(char::is_alphanumeric) && !inner.contains([',', '=', '{', '|']))
}

fn is_entry(line: &str) -> bool {
    let Some((key, value)) = line.split_once('=') else {
        return false;
    };
    let (key, value) = (key.trim(), value.trim());
    let quoted = |quote| key.len() > 2 && key.starts_with(quote) && key.ends_with(quote);
    let bare = !key.is_empty()
        && key
            .chars()
            .all(|sign| sign.is_ascii_alphanumeric() || "_-.".contains(sign));
    let signed = value.strip_prefix(['+', '-']).unwrap_or(value);
    let figure = signed.starts_with(|sign: char| sign.is_ascii_digit());
    let opens = value.starts_with(['"', '\'', '[', '{']) || figure || value == "true" || value == "false";
    (quoted('"') || quoted('\'') || bare) && opens
}

/// Where a string ends that begins at a quote; one that never ends goes on to the end of its line, or of the text.
pub(crate) fn behind_string(bytes: &[u8], begins: usize) -> usize {
    let quote = bytes[begins];
    let long = bytes[begins..].starts_with(&[quote; 3]);
    let mut at = begins + if long { 3 } else { 1 };
    while let Some(byte) = bytes.get(at) {
        match byte {
            b'\\' if quote == b'"' => at += 2,
            b'\n' if !long => return at,
            _ if long && bytes[at..].starts_with(&[quote; 3]) => return at + 3,
            byte if !long && *byte == quote => return at + 1,
            _ => at += 1,
        }
    }
    bytes.len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::tree::parse;
    use crate::text::{Problem, Source};

    fn problems(text: &str) -> Vec<Problem> {
        let mut problems = Vec::new();
        parse(&Source::new("a.toml", text), &mut problems);
        problems
    }

    fn number(text: &str, at: usize) -> usize {
        text[..at].matches('\n').count() + 1
    }

    /// Where strings stand in a text of TOML.
    fn strings(text: &str) -> Vec<Range<usize>> {
        let (mut strings, mut at) = (Vec::new(), 0);
        while at < text.len() {
            match text.as_bytes()[at] {
                b'#' => at += line_length(text, at),
                b'"' | b'\'' => {
                    strings.push(at..behind_string(text.as_bytes(), at));
                    at = strings[strings.len() - 1].end;
                }
                _ => at += 1,
            }
        }
        strings
    }

    /// Takes each quote of each string of a file away, one by one, and the three of a long text together: the line where its
    /// text begins or ends is named, and nothing else.
    #[test]
    fn a_quote_that_is_taken_away_is_missed_where_it_was() {
        let files = [
            include_str!("../../kits/harbour-studio/loops/night-ferry.toml"),
            include_str!("../../kits/harbour-studio/loops/high-water.toml"),
            include_str!("../../kits/harbour-studio/loops/weather-sting.toml"),
            include_str!("../../kits/boat-shed/loops/mooring-lines.toml"),
            include_str!("../../kits/harbour-studio/loops/tide-tables.toml"),
            include_str!("../../kits/harbour-studio/kit.toml"),
        ];
        let (mut taken, mut right) = (0, 0);
        for file in files {
            assert_eq!(unclosed(file), []);
            for string in strings(file) {
                let width = if string.len() >= 6 && file[string.clone()].starts_with("\"\"\"") {
                    3
                } else {
                    1
                };
                let ends = [string.start, string.end - width];
                let single = ends.into_iter().flat_map(|end| (end..end + width).map(|at| at..at + 1));
                for quotes in single.chain(ends.map(|end| end..end + width)) {
                    let mut text = file.to_string();
                    text.replace_range(quotes, "");
                    let told = problems(&text);
                    let line = |problem: &Problem| problem.place.as_ref().map(|place| number(&text, place.span.start));
                    let meant = [number(file, string.start), number(file, string.end - 1)];
                    taken += 1;
                    right += usize::from(told.len() == 1 && line(&told[0]).is_some_and(|line| meant.contains(&line)));
                }
            }
        }
        assert!(taken > 1000 && right * 100 >= taken * 99, "{right} of {taken}");
    }

    #[test]
    fn what_is_missing_is_said_with_its_line() {
        let groove = "[loop]\ntempo = 90\n[tab]\n\"all\" = \"\"\"\nkick x--- x---\n\"\"\"\n\"4\" = \"\"\"\nsnare ---- x---\n\"\"\"\n";
        assert_eq!(problems(groove), []);
        let said = |text: &str| {
            let told = problems(text);
            assert_eq!(told.len(), 1, "{told:?}");
            told[0].to_string()
        };
        assert_eq!(
            said(&groove.replacen("x---\n\"\"\"\n", "x---\n", 1)),
            "a.toml:4:9: the text that opens here with `\"\"\"` is not closed; write `\"\"\"` where it ends, before line 6"
        );
        assert_eq!(
            said(&groove.replacen("x---\n\"\"\"\n", "x---\n\"\"\n", 1)),
            "a.toml:4:9: the text that opens here with `\"\"\"` is not closed; line 6 has two quotes; write `\"\"\"` there"
        );
        assert_eq!(
            said(&groove.replacen("\"all\" = \"\"\"", "\"all\" = \"\"", 1)),
            "a.toml:4:9: a text of several lines follows; it opens with three quotes, and here are only two; write `\"\"\"` here, and again where the text ends"
        );
        assert_eq!(
            said(&groove.replacen("\"all\" = \"\"\"", "\"all = \"\"\"", 1)),
            "a.toml:4:1: a quote is missing on this line; put quotes before and behind each text"
        );
        assert_eq!(
            said("[loop]\ntitle = 'Ebb\ntempo = 90\n"),
            "a.toml:2:9: the text in quotes that begins here has no end on its line; write `'` where it ends"
        );
        assert_eq!(
            said("files = [\"a.wav\", \"b.wav,\n  \"c.wav\"]\nroom = 3\n"),
            "a.toml:1:19: the text in quotes that begins here has no end on its line; write `\"` where it ends"
        );
    }

    #[test]
    fn what_stands_before_is_told_too_and_other_errors_are_left_alone() {
        let told = problems("[a]\nb = \n[c]\nd = \"\"\"\nkick x\n[e]\nf = \"\"\"\nkick x\n\"\"\"\n");
        let lines: Vec<String> = told
            .iter()
            .map(|problem| problem.to_string()[..8].to_string())
            .collect();
        assert_eq!(lines, ["a.toml:2", "a.toml:4"]);
        // A long text may hold what looks like a header, where nothing else is wrong.
        assert_eq!(problems("a = '''\n[b]\n'''\n"), []);
        assert!(problems("a = off # it's\n")[0].to_string().contains("write \"off\""));
    }
}
