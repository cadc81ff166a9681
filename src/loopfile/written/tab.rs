//! `[tab]`: the drums as tablature, a line a part.

use crate::schema::Pattern;
use crate::text::Words;
use crate::text::{Problem, trimmed};

/// Splits an entry of `[tab]` into its lines: a part's name each, and what it plays in the bars of the entry's key.
///
/// Blank lines and what follows a `#` at a line's beginning or after a space are left out. A line without marks is a
/// problem.
pub(crate) fn tab(block: &Words, bars: &Words, problems: &mut Vec<Problem>) -> Vec<(Words, Pattern)> {
    let mut lines = Vec::new();
    let mut start = 0;
    for line in block.text.split('\n') {
        let within = trimmed(&block.text, start..start + comment(line));
        start += line.len() + 1;
        if within.is_empty() {
            continue;
        }
        let text = &block.text[within.clone()];
        let length = text.find(char::is_whitespace).unwrap_or(text.len());
        let name = block.part(within.start..within.start + length);
        let marks = trimmed(&block.text, within.start + length..within.end);
        if marks.is_empty() {
            let what = format!("`{}` has no marks on this line", name.text);
            let problem = Problem::at(&block.place(within), what);
            problems.push(problem.help("write a part's name, a space and its marks; `-` is a bar of nothing"));
            continue;
        }
        lines.push((name, Pattern::line(bars.clone(), block.part(marks))));
    }
    lines
}

/// Where a line's comment begins; its end where it has none.
fn comment(line: &str) -> usize {
    let begins = |(at, _): &(usize, &str)| *at == 0 || line[..*at].ends_with(char::is_whitespace);
    line.match_indices('#').find(begins).map_or(line.len(), |(at, _)| at)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loopfile::rhythm::tests::{pointed_at, words};

    #[test]
    fn a_line_a_part() {
        let mut problems = Vec::new();
        let block = words("\n# the kit\nhat-closed  x-x- X-xo  # opens\n\r\n  snare ---- x---\nkick\n");
        let lines = tab(&block, &words("1-4"), &mut problems);
        let seen: Vec<(&str, &str)> = lines
            .iter()
            .map(|(name, line)| (name.text.as_str(), line.texts()[0].text.as_str()))
            .collect();
        assert_eq!(seen, [("hat-closed", "x-x- X-xo"), ("snare", "---- x---")]);
        assert!(lines.iter().all(|(_, line)| line.bars.text == "1-4"));
        let (snare, _) = &lines[1];
        assert_eq!(&block.source.text[snare.place(0..5).span], "snare");
        assert_eq!(problems.len(), 1);
        assert_eq!(problems[0].what, "`kick` has no marks on this line");
        assert_eq!(pointed_at(&problems[0]), "kick");
    }
}
