//! The lines of hits of a loop file, step by step: which bars each of them plays, and which of its marks may be turned into
//! another where they stand.
//!
//! In: a text. Out: its lines, or the same text with other marks. A rest, a ghost note, a hit and an accent are turned; other
//! marks, what stands in braces, even rhythms and lines that count aloud stay as they are written.

use std::sync::Arc;

use super::marks::{ACCENT_MARK, GHOST_MARK, PLAIN_MARK, REST};
use super::rhythm::{is_borrowed, is_even, measures, read_bars};
use super::{read, tables};
use crate::schema::{self, Layers, Pattern, Play, loop_table};
use crate::text::{Problem, Source};

/// The marks that are turned into one another, each into the next and the last into the first.
pub(crate) const TURN: [char; 4] = [REST, GHOST_MARK, PLAIN_MARK, ACCENT_MARK];

/// A line of a part's hits.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StepLine {
    /// The part.
    pub part: String,
    /// The bars that it is written for, in the file's words.
    pub written_for: String,
    /// The bars that it plays, counted from 0: those that no later line takes.
    pub plays: Vec<u32>,
    /// Its text; one text a hit, between commas, where it counts aloud.
    pub text: String,
    /// Where the text begins in the file, in bytes.
    pub start: usize,
    /// The marks of the text that may be turned, as bytes of the text.
    pub turns: Vec<usize>,
}

/// The lines of all parts' hits that play in some bar, in the order of the file; none where the text is no loop.
pub(crate) fn lines(source: &Arc<Source>) -> Option<Vec<StepLine>> {
    let mut problems = Vec::new();
    let entries = schema::parse(source, &mut problems);
    let written = read::written(source, &entries, &mut problems).filter(|_| problems.is_empty())?;
    let bars = u32::try_from(Layers::new([&written.song]).whole(loop_table::BARS)).ok()?;
    let mut lines: Vec<StepLine> = written.parts.iter().flat_map(|part| of_part(part, bars)).collect();
    lines.sort_by_key(|line| line.start);
    Some(lines)
}

fn of_part(part: &tables::PartTable, bars: u32) -> Vec<StepLine> {
    let mut playing: Vec<Option<usize>> = vec![None; bars as usize];
    for (number, line) in part.lines.iter().enumerate() {
        for bar in read_bars(&line.bars, bars, &mut Vec::new()).unwrap_or_default() {
            playing[bar as usize] = Some(number);
        }
    }
    let line = |(number, line): (usize, &Pattern)| {
        let plays: Vec<u32> = (0..bars).filter(|bar| playing[*bar as usize] == Some(number)).collect();
        let texts: Vec<&str> = line.texts().iter().map(|words| words.text.as_str()).collect();
        (!plays.is_empty()).then(|| StepLine {
            part: part.name.text.clone(),
            written_for: line.bars.text.clone(),
            plays,
            text: texts.join(", "),
            start: line.texts().first().map_or(0, |words| words.start),
            turns: turns(line),
        })
    };
    part.lines.iter().enumerate().filter_map(line).collect()
}

/// The marks of a line that may be turned, as bytes of its text.
fn turns(line: &Pattern) -> Vec<usize> {
    let Play::Line(words) = &line.play else {
        return Vec::new();
    };
    if !words.plain || is_borrowed(words) {
        return Vec::new();
    }
    let mut turns = Vec::new();
    for within in measures(&words.text)
        .into_iter()
        .filter(|within| !is_even(&words.text[within.clone()]))
    {
        let mut braced = false;
        for (at, sign) in words.text[within.clone()].char_indices() {
            match sign {
                '{' => braced = true,
                '}' => braced = false,
                sign if !braced && TURN.contains(&sign) => turns.push(within.start + at),
                _ => {}
            }
        }
    }
    turns
}

/// A text with other marks: each at its byte, in the place of another that may be turned.
///
/// # Errors
/// A place where no mark may be turned, or a mark that is none of those that are.
pub(crate) fn with_marks(source: &Arc<Source>, marks: &[(usize, char)]) -> Result<String, Problem> {
    let mut text = source.text.clone();
    if marks.is_empty() {
        return Ok(text);
    }
    let lines = lines(source).unwrap_or_default();
    for (at, mark) in marks {
        let turns = |line: &StepLine| at.checked_sub(line.start).is_some_and(|at| line.turns.contains(&at));
        if !TURN.contains(mark) || !lines.iter().any(turns) {
            let what = format!(
                "no mark can be turned into `{mark}` at byte {at} of {}",
                source.path.display()
            );
            return Err(Problem::new(what).help("reload the page: it shows the marks as the file has them now"));
        }
        text.replace_range(*at..at + 1, mark.encode_utf8(&mut [0; 4]));
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "[loop]\ntempo = 90\nbars = 4\n[tab]\nall = \"\"\"\nsnare  x-{xx}- Xg5-\nkick  5 in 16 | x---\n\"\"\"\n4 = 'snare X---'\n[[part]]\nname = 'hat'\nhits = { \"all\" = ['1', '3'], \"2\" = 'as kick' }\n";

    #[test]
    fn each_line_knows_its_bars_and_the_marks_that_turn() {
        let source = Source::new("loop.toml", TEXT);
        let told: Vec<String> = lines(&source)
            .expect("a loop")
            .iter()
            .map(|line| {
                let marks: String = line.turns.iter().map(|at| &line.text[*at..at + 1]).collect();
                assert!(line.turns.is_empty() || TEXT[line.start..].starts_with(&line.text));
                format!("{} {} {:?} {marks}", line.part, line.written_for, line.plays)
            })
            .collect();
        assert_eq!(
            told,
            [
                "snare all [0, 1, 2] x--Xg-",
                "kick all [0, 1, 2, 3] x---",
                "snare 4 [3] X---",
                "hat all [0, 2, 3] ",
                "hat 2 [1] ",
            ]
        );
    }

    #[test]
    fn a_mark_turns_where_it_stands_and_nothing_else_does() {
        let source = Source::new("loop.toml", TEXT);
        let at = TEXT.find("x-{").expect("it is there");
        let after = with_marks(&source, &[(at, 'X'), (at + 1, 'g')]).expect("both turn");
        assert_eq!(after, TEXT.replace("x-{xx}", "Xg{xx}"));
        for (at, mark) in [
            (at + 3, 'X'),
            (at, 'f'),
            (0, 'x'),
            (TEXT.len() + 9, 'x'),
            (TEXT.find("5 in").unwrap_or(0), 'x'),
        ] {
            assert!(with_marks(&source, &[(at, mark)]).is_err(), "{at} {mark}");
        }
    }
}
