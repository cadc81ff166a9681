//! Braces around words: what stands between two of them shares the time of one step.

use std::ops::Range;

use crate::text::spaced;

/// A word, or words between braces, with where they stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::loopfile) enum Item {
    Word(Range<usize>),
    /// The words between two braces, and where both stand.
    Fitted(Vec<Item>, Range<usize>),
}

/// What is wrong with braces, where, and what to write.
pub(in crate::loopfile) struct BraceFault {
    pub within: Range<usize>,
    pub what: &'static str,
    pub help: &'static str,
}

/// How deep braces stand in one another: into a beat, and within it into a step.
const DEEPEST: usize = 2;

const HELP: &str = "write `{C4 D4 Eb4}` to fit words into one step's time";

/// The words and braces of a bar, in order.
pub(in crate::loopfile) fn items(text: &str) -> Result<Vec<Item>, BraceFault> {
    let fault = |within, what| {
        Err(BraceFault {
            within,
            what,
            help: HELP,
        })
    };
    // What is open: where its brace stands, and what stands in it so far.
    let mut open: Vec<(usize, Vec<Item>)> = vec![(0, Vec::new())];
    for word in spaced(text) {
        let mut from = word.start;
        let mut closed = false;
        for (offset, sign) in text[word.clone()].char_indices() {
            let at = word.start + offset;
            if closed && !matches!(sign, '{' | '}') {
                return fault(
                    at..word.end,
                    "this stands behind a brace; marks stand behind the words between braces",
                );
            }
            if !matches!(sign, '{' | '}') {
                continue;
            }
            push(&mut open, Item::Word(from..at), from < at);
            from = at + 1;
            closed = sign == '}';
            match sign {
                '{' if open.len() > DEEPEST => {
                    return fault(
                        at..at + 1,
                        "braces stand two deep at most: into a beat, and in it into a step",
                    );
                }
                '{' => open.push((at, Vec::new())),
                _ if open.len() < 2 => return fault(at..at + 1, "this brace was never opened"),
                _ => {
                    let (begins, items) = open.pop().unwrap_or_default();
                    if items.is_empty() {
                        return fault(begins..at + 1, "there is nothing between these braces");
                    }
                    push(&mut open, Item::Fitted(items, begins..at + 1), true);
                }
            }
        }
        push(&mut open, Item::Word(from..word.end), from < word.end);
    }
    let (begins, items) = open.pop().unwrap_or_default();
    if !open.is_empty() {
        return fault(begins..begins + 1, "this brace is not closed before the bar ends");
    }
    Ok(items)
}

fn push(open: &mut [(usize, Vec<Item>)], item: Item, there: bool) {
    if let (true, Some((_, items))) = (there, open.last_mut()) {
        items.push(item);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        fn show(text: &str, items: &[Item]) -> String {
            let each = items.iter().map(|item| match item {
                Item::Word(at) => text[at.clone()].to_string(),
                Item::Fitted(items, at) => {
                    assert!(text[at.clone()].starts_with('{') && text[at.clone()].ends_with('}'));
                    format!("[{}]", show(text, items))
                }
            });
            each.collect::<Vec<_>>().join(" ")
        }
        match items(text) {
            Ok(items) => show(text, &items),
            Err(fault) => format!("{}: {}", &text[fault.within], fault.what),
        }
    }

    #[test]
    fn words_stand_between_braces() {
        assert_eq!(shown("C4 {D4 Eb4 F4} -"), "C4 [D4 Eb4 F4] -");
        assert_eq!(shown("{ C4 = }{D4 {E4 F4 G4}} ="), "[C4 =] [D4 [E4 F4 G4]] =");
        assert_eq!(shown("C4{D4 E4}"), "C4 [D4 E4]");
    }

    #[test]
    fn wrong_braces_are_pointed_at() {
        for (text, told) in [
            ("C4 {D4 E4", "{: this brace is not closed before the bar ends"),
            ("C4 D4}", "}: this brace was never opened"),
            ("C4 {}", "{}: there is nothing between these braces"),
            (
                "{{{C4}}}",
                "{: braces stand two deep at most: into a beat, and in it into a step",
            ),
            (
                "{C4 D4}^",
                "^: this stands behind a brace; marks stand behind the words between braces",
            ),
        ] {
            assert_eq!(shown(text), told);
        }
    }
}
