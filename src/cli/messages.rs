//! What the program says: problems with the text they point into, and hints.

use std::borrow::Cow;
use std::ops::Range;
use std::time::Duration;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};

use super::output;
use crate::text::{Problem, Problems, one_line, shown};

/// Columns that a message may take.
const WIDTH: usize = 80;

/// Problems and hints that are told one by one; nobody reads more at a time.
pub(super) const MOST: usize = 50;

/// Prints problems on standard error.
pub(super) fn report_problems(problems: &Problems) {
    for problem in problems.0.iter().take(MOST) {
        tell(problem, &Level::ERROR);
    }
    if let more @ 1.. = problems.0.len().saturating_sub(MOST) {
        tell(&Problem::new(format!("and {more} more like these")), &Level::ERROR);
    }
}

/// Prints a hint on standard error: something that may not be meant.
pub(super) fn tell_hint(problem: &Problem) {
    tell(problem, &Level::WARNING);
}

/// Prints hints, the same one no more than once.
pub(super) fn report_hints_once(hints: impl IntoIterator<Item = Problem>) {
    let mut told: Vec<Problem> = Vec::new();
    for hint in hints {
        if !told.contains(&hint) {
            tell_hint(&hint);
            told.push(hint);
        }
    }
}

fn tell(problem: &Problem, level: &Level) {
    let renderer = Renderer::styled().decor_style(DecorStyle::Ascii).term_width(WIDTH);
    let title = level.clone().primary_title(one_line(&problem.what));
    let mut group = annotate_snippets::Group::with_title(title);
    let path;
    if let Some(place) = &problem.place {
        path = place.source.path.display().to_string();
        let (text, span) = cleaned(&place.source.text, place.span.clone());
        group = group.element(
            Snippet::source(text)
                .path(one_line(&path))
                .annotation(AnnotationKind::Primary.span(span)),
        );
    }
    if let Some(help) = &problem.help {
        group = group.element(Level::HELP.message(shown(help)));
    }
    output::to_stderr(&renderer.render(&[group]).to_string());
}

/// A text as it may be shown, and where a span of it is then.
fn cleaned(text: &str, span: Range<usize>) -> (Cow<'_, str>, Range<usize>) {
    let span = visible(text, span);
    match shown(text) {
        Cow::Borrowed(text) => (text.into(), span),
        Cow::Owned(clean) => {
            let start = shown(&text[..span.start]).len();
            (clean.into(), start..start + shown(&text[span]).len())
        }
    }
}

/// A span that stays within the text and, where it would run over several lines, within its first.
fn visible(text: &str, span: Range<usize>) -> Range<usize> {
    let start = floor_boundary(text, span.start.min(text.len()));
    let end = floor_boundary(text, span.end.min(text.len())).max(start);
    let line_end = text[start..].find('\n').map_or(text.len(), |at| start + at);
    start..end.min(line_end).max(start)
}

fn floor_boundary(text: &str, mut at: usize) -> usize {
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// How many recordings were listened to, and how long that took.
pub(super) type Listened = (usize, Duration);

/// What is said of time that went into listening to recordings; nothing where it was none.
pub(super) fn listening((recordings, time): Listened) -> Option<String> {
    let them = match recordings {
        0 => return None,
        1 => "1 recording was analysed to find its piece or pitch".to_string(),
        many => format!("{many} recordings were analysed to find their pieces or pitches"),
    };
    Some(format!(
        "{:.2} s of it: {them}; kit.toml can say it instead",
        time.as_secs_f64()
    ))
}
