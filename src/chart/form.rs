//! The page of a form, section by section. What sections share is printed with the first of them.

use super::WIDTH;
use super::charted::Charted;
use super::page::{Besides, about, count};
use super::told::in_few_lines;
use crate::loopfile::{Ending, Form, Section};
use crate::score::spelled;
use crate::text::width::wrapped;

/// A section that is on the page.
struct Shown {
    name: String,
    charted: Charted,
    /// Its tempo, metre and key.
    about: String,
    /// What stands below them, before anything is left out of it.
    page: Vec<String>,
}

/// A form's chart, section by section; `bars` counts over the whole form.
pub(crate) fn form(form: &Form, bars: (u32, u32), besides: Besides<'_>) -> String {
    let mut lines = wrapped(&form.title, WIDTH);
    lines.extend(wrapped(&frame(form), WIDTH));
    let mut shown: Vec<Shown> = Vec::new();
    let mut said = String::new();
    let mut before = 0;
    for (number, section) in form.sections.iter().enumerate() {
        let (first, last) = (before + 1, before + section.bars());
        before = last;
        let Some(window) = window(section, (bars.0.max(first), bars.1.min(last)), first) else {
            continue;
        };
        lines.push(String::new());
        let mut opening = vec![heading(section, first, last)];
        let score = besides.scores.and_then(|scores| scores.get(number));
        let charted = Charted::new(&section.plays, window, score);
        let page = charted.lines(besides.tones);
        let about = about(&section.plays, false);
        let same = shown.iter().find(|other| other.page == page);
        if about != said && same.is_none_or(|other| other.about != about) {
            opening.push(about.clone());
        }
        said.clone_from(&about);
        match same {
            Some(other) => {
                opening.push(format!("as {} above", other.name));
                lines.extend(in_few_lines(opening));
            }
            None => {
                let (shared, rest) = new_of(&charted, &page, &shown, besides);
                opening.extend(shared);
                lines.extend(in_few_lines(opening));
                lines.extend(rest);
                shown.push(Shown {
                    name: section.name.clone(),
                    charted,
                    about,
                    page,
                });
            }
        }
    }
    lines.join("\n")
}

/// What a section has that those before it have not: the names of the parts that are printed above, and the others' bars.
fn new_of(charted: &Charted, page: &[String], shown: &[Shown], besides: Besides<'_>) -> (Vec<String>, Vec<String>) {
    let mut rest = charted.clone();
    let mut shared = Vec::new();
    for other in shown {
        let parts = rest.leave_out(&other.charted);
        if parts.is_empty() {
            continue;
        }
        let parts = match rest.has_all_of(&parts, &other.charted) {
            true => "all its parts".to_string(),
            false => parts.join(", "),
        };
        shared.push(format!("as in {}: {parts}", other.name));
    }
    if shared.is_empty() {
        return (shared, page.to_vec());
    }
    let chords = shown.iter().any(|other| charted.has_chords_of(&other.charted));
    let rest = match rest.is_empty() && chords {
        true => rest.foot(besides.tones),
        false => rest.lines(besides.tones),
    };
    (shared, rest)
}

/// The bars of a section's loop that are played in some of the form's bars; all that come up where they repeat.
fn window(section: &Section, (from, to): (u32, u32), first: u32) -> Option<(u32, u32)> {
    if from > to {
        return None;
    }
    let round = section.round();
    let (from, to) = (from - first, to - first);
    Some(if to / round == from / round {
        (section.window.0 + from % round, section.window.0 + to % round)
    } else {
        section.window
    })
}

fn heading(section: &Section, first: u32, last: u32) -> String {
    let mut words = vec![format!("{}: {}", section.name, bars_of(first, last))];
    if section.times > 1 {
        words.push(format!("{} times", section.times));
    }
    if section.window != (1, section.plays.bars) {
        words.push(format!(
            "{} of {}",
            bars_of(section.window.0, section.window.1),
            section.plays.title
        ));
    }
    words.join(" · ")
}

/// What a form has around its sections.
fn frame(form: &Form) -> String {
    let mut words = vec![count(form.bars(), "bar")];
    if form.ending != Ending::Repeat {
        words.extend(form.pickup.map(|length| format!("pickup {length}")));
        words.extend((form.fades.0 > 0.0).then(|| format!("fades in over {} bars", form.fades.0)));
        words.extend((form.fades.1 > 0.0).then(|| format!("fades out over {} bars", form.fades.1)));
        words.extend(form.last_hit.then(|| "ends with a hit".to_string()));
    } else {
        words.push("repeats".into());
    }
    words.join(" · ")
}

fn bars_of(first: u32, last: u32) -> String {
    spelled(&(first..=last).collect::<Vec<_>>())
}
