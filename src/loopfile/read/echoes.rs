//! Problems that a syntax error brings about in what could be read all the same.

use std::ops::Range;

use crate::text::Problem;

/// Takes out the problems behind the first `syntax` ones that stand where one of those does: what was made of a broken
/// value says nothing of what was meant.
pub(super) fn drop_echoes(problems: &mut Vec<Problem>, syntax: usize) {
    let others = problems.split_off(syntax);
    let errors = problems
        .iter()
        .filter_map(|error| Some(error.place.as_ref()?.span.clone()));
    let broken = joined(errors.collect());
    let echo = |problem: &Problem| {
        problem
            .place
            .as_ref()
            .is_some_and(|place| touches(&broken, &place.span))
    };
    problems.extend(others.into_iter().filter(|problem| !echo(problem)));
}

/// Stretches of a text in its order, those that touch joined into one.
fn joined(mut spans: Vec<Range<usize>>) -> Vec<Range<usize>> {
    spans.sort_by_key(|span| span.start);
    let mut joined: Vec<Range<usize>> = Vec::new();
    for span in spans {
        match joined.last_mut() {
            Some(last) if span.start <= last.end => last.end = last.end.max(span.end),
            _ => joined.push(span),
        }
    }
    joined
}

/// True where a stretch meets or adjoins one of several, which are in order and apart: found by halving.
fn touches(joined: &[Range<usize>], span: &Range<usize>) -> bool {
    let begun = joined.partition_point(|other| other.start <= span.end);
    joined[..begun].last().is_some_and(|last| span.start <= last.end)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{joined, touches};

    proptest! {
        /// The search says what a look at every stretch says.
        #[test]
        fn a_stretch_touches_what_any_of_them_touches(
            spans in prop::collection::vec((0usize..60, 0usize..5), 0..12),
            (start, length) in (0usize..64, 0usize..5),
        ) {
            let spans: Vec<_> = spans.into_iter().map(|(start, length)| start..start + length).collect();
            let span = start..start + length;
            let any = spans.iter().any(|other| other.start <= span.end && span.start <= other.end);
            prop_assert_eq!(touches(&joined(spans), &span), any);
        }
    }
}
