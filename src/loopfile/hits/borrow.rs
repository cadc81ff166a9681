//! Borrowed lines: `as hat-closed`, `as hat-closed 1-8`.
//!
//! Without bars of its own a borrowed line plays, in each bar it is given, what the other part plays in that bar; with
//! bars, the first of them in the first bar it is given, and so on round and round. The marks mean what they mean in the
//! part that borrows; a mark that only the other part knows plays the borrower's own piece. A part may borrow from
//! itself, as long as no bar ends up borrowing from itself.

use super::line::Reading;
use super::{bars, trimmed};
use crate::loopfile::Words;
use crate::text::{Problem, nearest};

/// Another part's bars.
pub(super) struct Borrowed {
    /// The part, by its number.
    pub part: usize,
    /// Its bars, counted from 0; none: those that the line is given.
    pub bars: Option<Vec<u32>>,
}

/// True for a line whose first word is `as`.
pub(super) fn is_borrowed(line: &Words) -> bool {
    line.text.split_whitespace().next() == Some("as")
}

/// Reads a line that [`is_borrowed`].
pub(super) fn read(line: &Words, reading: &mut Reading) -> Option<Borrowed> {
    let all = trimmed(&line.text, 0..line.text.len());
    let rest = trimmed(&line.text, all.start + "as".len()..all.end);
    if rest.is_empty() {
        let problem = Problem::at(&line.place(all), "`as` names no part").help("write for instance `as hat-closed`");
        reading.problems.push(problem);
        return None;
    }
    let text = &line.text[rest.clone()];
    // Names may have spaces in them: the longest one wins.
    let begins = |name: &str| {
        text.strip_prefix(name)
            .is_some_and(|bars| bars.is_empty() || bars.starts_with(' '))
    };
    let named = reading
        .parts
        .iter()
        .enumerate()
        .filter(|(_, part)| !part.name.text.is_empty() && begins(&part.name.text));
    let Some((part, named)) = named.max_by_key(|(number, part)| (part.name.text.len(), std::cmp::Reverse(*number)))
    else {
        reading.problems.push(unknown(line, rest, reading));
        return None;
    };
    let key = trimmed(&line.text, rest.start + named.name.text.len()..rest.end);
    if key.is_empty() {
        return Some(Borrowed { part, bars: None });
    }
    let bars = bars::read(&line.part(key), reading.bars, reading.problems)?;
    Some(Borrowed { part, bars: Some(bars) })
}

fn unknown(line: &Words, rest: std::ops::Range<usize>, reading: &Reading) -> Problem {
    let word = line.text[rest.clone()].split_whitespace().next().unwrap_or_default();
    let problem = Problem::at(
        &line.place(rest.start..rest.start + word.len()),
        format!("there is no part `{word}`"),
    );
    match nearest(word, reading.parts.iter().map(|part| part.name.text.as_str())) {
        Some(near) => problem.help(format!("did you mean `{near}`?")),
        None => problem,
    }
}
