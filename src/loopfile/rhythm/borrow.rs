//! Borrowed lines: `as hat-closed`, `as hat-closed 1-8`.
//!
//! Without bars of its own a borrowed line plays, in each bar it is given, what the other part plays in that bar; with
//! bars, the first of them in the first bar it is given, and so on, from its first again after its last. The marks mean what they mean in the
//! part that borrows; a mark that only the other part knows plays the borrower's own piece. A part may borrow from
//! itself, as long as no bar ends up borrowing from itself.

use super::bars;
use super::reading::{Borrowed, Reading};
use crate::loopfile::Words;
use crate::text::trimmed;
use crate::text::{Problem, did_you_mean, nearest};

/// True for a line whose first word is `as`.
pub(in crate::loopfile) fn is_borrowed(line: &Words) -> bool {
    line.text.split_whitespace().next() == Some("as")
}

/// Reads a line that [`is_borrowed`].
pub(crate) fn read(line: &Words, reading: &mut Reading) -> Option<Borrowed> {
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
            .is_some_and(|bars| bars.is_empty() || bars.starts_with(char::is_whitespace))
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
        Some(near) => problem.help(did_you_mean(near)),
        None => problem,
    }
}

#[cfg(test)]
mod tests {
    use crate::loopfile::rhythm;
    use crate::loopfile::rhythm::tests::{heard, metre, part, places, pointed_at, problem_of, words, wrong_line};

    #[test]
    fn borrowing_plays_the_marks_on_its_own_piece() {
        let hat = part("hat-closed", &[("1-2", "xo | gX"), ("3", "--")]);
        let read = heard(&[part("shaker", &[("all", "as hat-closed")]), hat.clone()], 4);
        assert_eq!(places(&read[0], 2), [0, 1, 2, 3]);
        assert_eq!(
            read[0].strokes.iter().map(|stroke| stroke.velocity).collect::<Vec<_>>(),
            [96.0, 96.0, 40.0, 118.0]
        );
        assert_eq!(
            read[0].pieces.len(),
            1,
            "the hat's open mark is a plain hit on a shaker"
        );
        assert_eq!((&read[0].unnamed_bars, &read[1].unnamed_bars), (&vec![], &vec![4]));

        let mut shaker = part("shaker", &[("all", "as hat-closed")]);
        shaker.marks = vec![('o', words("cabasa"))];
        let read = heard(&[shaker, hat], 4);
        assert_eq!(read[0].pieces[1].text, "cabasa", "its own mark keeps its meaning");
    }

    #[test]
    fn borrowed_bars_repeat_over_the_bars_given() {
        let kick = part("kick", &[("1-2", "x- | -x")]);
        let read = heard(&[kick.clone(), part("low kick", &[("3-5", "as kick 1-2")])], 5);
        assert_eq!(places(&read[1], 2), [4, 7, 8]);
        // A part can go on as it began, and its name can have spaces in it.
        let own = part("low kick", &[("1", "xx"), ("2-8", "as low kick 1-7")]);
        assert_eq!(places(&heard(&[kick, own], 8)[1], 2), (0..16).collect::<Vec<_>>());
    }

    #[test]
    fn wrong_borrowing_is_pointed_at() {
        wrong_line("as snares", "there is no part `snares`", "snares");
        assert_eq!(
            problem_of(part("snare", &[("1", "as snaer")])).help.as_deref(),
            Some("did you mean `snare`?")
        );
        wrong_line("as", "`as` names no part", "as");
        wrong_line("as snare 9", "bar 9 is past the end of the loop, which has 4 bars", "9");
        wrong_line("as snare", "bar 1 of `snare` plays as itself", "as snare");

        let mut problems = Vec::new();
        let parts = [
            part("kick", &[("all", "as snare")]),
            part("snare", &[("1-3", "as clap"), ("4", "x")]),
            part("clap", &[("all", "as kick")]),
        ];
        let read = rhythm::read(&parts, &metre(4, 4), 4, &mut problems);
        assert_eq!(problems.len(), 1);
        assert_eq!(
            problems[0].what,
            "bar 1 of `kick` plays as bar 1 of `snare`, which comes back to it in a circle"
        );
        assert_eq!(pointed_at(&problems[0]), "as snare");
        assert_eq!(places(&read[2], 1), [3], "bars outside of the circle play");
    }
}
