//! The order of names.

use std::cmp::Ordering;

/// Names in the order in which a person would put them: numbers by their value, capitals no matter.
pub(in crate::kit) fn in_order(a: &str, b: &str) -> Ordering {
    let (mut left, mut right) = (pieces_of(a), pieces_of(b));
    loop {
        let order = match (left.next(), right.next()) {
            (None, None) => return a.cmp(b),
            (None, Some(_)) => Ordering::Less,
            (Some(_), None) => Ordering::Greater,
            (Some(l), Some(r)) if counts(l) && counts(r) => {
                let (l, r) = (l.trim_start_matches('0'), r.trim_start_matches('0'));
                l.len().cmp(&r.len()).then_with(|| l.cmp(r))
            }
            (Some(l), Some(r)) => small(l).cmp(small(r)),
        };
        if order != Ordering::Equal {
            return order;
        }
    }
}

fn counts(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
}

fn small(text: &str) -> impl Iterator<Item = char> {
    text.chars().flat_map(char::to_lowercase)
}

/// Runs of digits and single characters.
fn pieces_of(mut text: &str) -> impl Iterator<Item = &str> {
    std::iter::from_fn(move || {
        let first = text.chars().next()?;
        let end = match first.is_ascii_digit() {
            true => text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len()),
            false => first.len_utf8(),
        };
        let (run, rest) = text.split_at(end);
        text = rest;
        Some(run)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_in_the_order_of_their_values() {
        let mut names = ["snare_10", "Snare_2", "kick", "snare_1", "snare"];
        names.sort_by(|a, b| in_order(a, b));
        assert_eq!(names, ["kick", "snare", "snare_1", "Snare_2", "snare_10"]);
    }
}
