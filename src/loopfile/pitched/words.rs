//! Lines of notes and of degrees: words between spaces, one a step, or lists of them that count aloud.

use std::ops::Range;

use super::step::{Entry, Step, Written, steps};
use super::strike::strike;
use super::word_kind::WordKind;
use crate::loopfile::rhythm::{CountedWords, Item, counted, items, measures};
use crate::loopfile::{Exact, Time, Words};
use crate::text::Problem;

/// Reads a line of one or more bars; none where anything is wrong in it.
pub(super) fn read(line: &Words, language: WordKind, problems: &mut Vec<Problem>) -> Vec<Vec<Step>> {
    let before = problems.len();
    let within = measures(&line.text);
    if within.is_empty() {
        problems
            .push(Problem::at(&line.whole(), "there is nothing to play here").help("write `-` for a bar of nothing"));
    }
    let bars: Vec<Vec<Step>> = within
        .into_iter()
        .map(|within| measure(line, within, language, problems))
        .collect();
    if problems.len() > before { Vec::new() } else { bars }
}

fn measure(line: &Words, within: Range<usize>, language: WordKind, problems: &mut Vec<Problem>) -> Vec<Step> {
    let items = match items(&line.text[within.clone()]) {
        Ok(items) => items,
        Err(fault) => {
            let at = within.start + fault.within.start..within.start + fault.within.end;
            problems.push(Problem::at(&line.place(at), fault.what).help(fault.help));
            return Vec::new();
        }
    };
    if items.is_empty() {
        let whole = line.whole();
        problems
            .push(Problem::at(&whole, "there is nothing between two barlines").help("write `-` for a bar of nothing"));
    }
    let mut words = Vec::new();
    spread(&items, (Exact::ZERO, Exact::ONE), &mut words);
    if words.len() > super::MOST_WORDS {
        problems.push(super::too_many(line.place(within), words.len()));
        return Vec::new();
    }
    let mut entries = Vec::new();
    for (at, step, word) in words {
        let word = within.start + word.start..within.start + word.end;
        match written(line, word.clone(), language) {
            Ok(what) => entries.push(Entry {
                at,
                step,
                shift: 0.0,
                place: line.place(word),
                what,
            }),
            Err(problem) => problems.push(problem),
        }
    }
    steps(entries, problems)
}

/// Shares a time among items, and an item's time among what stands between its braces: where each word falls, how long
/// its step is, and where it stands.
fn spread(items: &[Item], (from, time): (Exact, Exact), words: &mut Vec<(Exact, Exact, Range<usize>)>) {
    let step = time / (items.len().max(1) as i128);
    for (item, nth) in items.iter().zip(0i128..) {
        match item {
            Item::Word(word) => words.push((from + step * nth, step, word.clone())),
            Item::Fitted(items, _) => spread(items, (from + step * nth, step), words),
        }
    }
}

fn written(line: &Words, word: Range<usize>, language: WordKind) -> Result<Written, Problem> {
    Ok(match &line.text[word.clone()] {
        "-" => Written::Rest,
        "=" => Written::Hold,
        _ => Written::Strike(strike(line, word, None, language)?),
    })
}

/// Reads a bar that is counted aloud; none where anything is wrong in it.
pub(super) fn read_counted(
    list: &[Words],
    language: WordKind,
    time: &Time,
    problems: &mut Vec<Problem>,
) -> Vec<Vec<Step>> {
    if let Some(first) = list.get(super::MOST_WORDS) {
        problems.push(super::too_many(first.whole(), list.len()));
        return Vec::new();
    }
    let before = problems.len();
    let mut entries = Vec::new();
    for line in list {
        match entry(line, language, time) {
            Ok(entry) => entries.push(entry),
            Err(problem) => problems.push(*problem),
        }
    }
    // A stable sort: what falls on one time keeps the file's order.
    entries.sort_by_key(|entry| entry.at);
    let steps = steps(entries, problems);
    if problems.len() > before {
        Vec::new()
    } else {
        vec![steps]
    }
}

fn entry(line: &Words, language: WordKind, time: &Time) -> Result<Entry, Box<Problem>> {
    let words = CountedWords {
        entry: "note",
        called: language.called(),
        help: match language {
            WordKind::Notes => "write a count, its syllable and a note, as in `1 C2`, `2& G1` or `4a Bb1 g -8ms`",
            WordKind::Degrees => "write a count, its syllable and a degree, as in `1 1`, `2& 5` or `4a b3 g -8ms`",
        },
        most: 2,
        knows: &|_| false,
    };
    let counted = counted(line, time, &words)?;
    let (word, hard) = (counted.words[0].clone(), counted.words.get(1).cloned());
    let what = match (&line.text[word.clone()], &hard) {
        ("-" | "=", None) => written(line, word.clone(), language)?,
        _ => Written::Strike(strike(line, word.clone(), hard, language)?),
    };
    Ok(Entry {
        at: counted.at,
        step: counted.step,
        shift: counted.shift,
        place: line.place(word),
        what,
    })
}
