//! Lines of notes and of degrees: words between spaces, one a step.

use std::ops::Range;

use super::step::{Step, StepKind, Strike, Tones, WordKind};
use super::tell;
use crate::harmony::{DegreeWord, Misread, Note};
use crate::loopfile::marks::{ACCENT, GHOST, PLAIN};
use crate::loopfile::rhythm::measures;
use crate::loopfile::{Exact, Words};
use crate::text::Problem;
use crate::text::spaced;

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
    let words: Vec<Range<usize>> = spaced(&line.text[within.clone()])
        .map(|at| at.start + within.start..at.end + within.start)
        .collect();
    if words.is_empty() {
        let whole = line.whole();
        problems
            .push(Problem::at(&whole, "there is nothing between two barlines").help("write `-` for a bar of nothing"));
    }
    if words.len() > super::MOST_WORDS {
        problems.push(super::too_many(line.place(within), words.len()));
        return Vec::new();
    }
    let count = words.len() as i128;
    let mut steps = Vec::new();
    let mut rested = false;
    for (nth, at) in (0i128..).zip(words) {
        let what = match &line.text[at.clone()] {
            "-" => None,
            "=" if rested => {
                let problem = Problem::at(
                    &line.place(at.clone()),
                    "`=` has nothing to hold: a rest stands before it",
                );
                problems.push(problem.help("write `-` to go on resting"));
                None
            }
            "=" => Some(StepKind::Hold),
            _ => match strike(line, at.clone(), language) {
                Ok(strike) => Some(StepKind::Strike(strike)),
                Err(problem) => {
                    problems.push(problem);
                    None
                }
            },
        };
        rested = what.is_none();
        steps.extend(what.map(|what| Step {
            at: Exact::new(nth, count),
            length: Exact::new(1, count),
            place: line.place(at),
            what,
        }));
    }
    steps
}

/// A word that sounds: its marks around it, and the tones that it strings together.
fn strike(line: &Words, word: Range<usize>, language: WordKind) -> Result<Strike, Problem> {
    let text = |at: &Range<usize>| &line.text[at.clone()];
    let wrong = |what: String, help: String| Problem::at(&line.place(word.clone()), what).help(help);
    let mut at = word.clone();
    let ghost = text(&at).starts_with('(');
    if ghost != text(&at).trim_end_matches('^').ends_with(')') {
        let bare = text(&at).replace(['(', ')'], "");
        let what = format!("a parenthesis of `{}` has no partner", text(&word));
        return Err(wrong(what, format!("a ghost note is written ({bare})")));
    }
    let accent = text(&at).contains('^');
    if ghost && accent {
        let bare = text(&at).replace(['(', ')', '^'], "");
        let what = format!("`{}` is a ghost note and an accent at once", text(&word));
        return Err(wrong(what, format!("write ({bare}) or {bare}^")));
    }
    if ghost {
        at = at.start + 1..at.end - 1;
    }
    let pushed = text(&at).starts_with('<');
    if pushed && language == WordKind::Notes {
        let what = "`<` is for degrees: a note is itself, whatever the chord".to_string();
        return Err(wrong(what, format!("write {}", &text(&at)[1..])));
    }
    if pushed {
        at.start += 1;
    }
    if let Some(bare) = text(&at).strip_suffix('^') {
        at.end = at.start + bare.len();
    }
    let mut tones = Vec::new();
    let mut start = at.start;
    for tone in text(&at).split('+') {
        tones.push(start..start + tone.len());
        start += tone.len() + 1;
    }
    let told = |(at, misread): (Range<usize>, Misread)| {
        if at.is_empty() {
            return wrong(
                format!("a tone is missing in `{}`", text(&word)),
                "write its tones with a + between them, such as C4+Eb4+G4".into(),
            );
        }
        tell(line, at, &misread)
    };
    let places = tones.iter().map(|tone| line.place(tone.clone())).collect();
    let play = match language {
        WordKind::Notes => each(line, tones, Note::parse).map(Tones::Notes),
        WordKind::Degrees => each(line, tones, DegreeWord::parse).map(Tones::Degrees),
    };
    let play = play.map_err(told)?;
    let (velocity, mark) = if ghost {
        (GHOST, 'g')
    } else if accent {
        (ACCENT, 'X')
    } else {
        (PLAIN, 'x')
    };
    Ok(Strike {
        velocity,
        plain: !ghost && !accent,
        pushed,
        mark,
        tones: places,
        play,
    })
}

fn each<T>(
    line: &Words,
    tones: Vec<Range<usize>>,
    parse: impl Fn(&str) -> Result<T, Misread>,
) -> Result<Vec<T>, (Range<usize>, Misread)> {
    let read = tones
        .into_iter()
        .map(|at| parse(&line.text[at.clone()]).map_err(|wrong| (at, wrong)));
    read.collect()
}
