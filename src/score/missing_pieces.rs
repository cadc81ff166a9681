//! What a kit lacks, and what could be done about it.

use crate::kit::{Index, is_percussion};
use crate::text::{Place, Problem, did_you_mean, nearest};

/// The letters that a list of pieces may take: with what stands before it, two lines of a page.
const LISTED: usize = 110;

/// The problem of a piece that the kit lacks: which one may be meant, which could play for it and, where it `lists` them, which ones
/// there are, percussion before the rest.
pub(super) fn lacking(piece: &str, kit: &Index, place: &Place, lists: bool) -> Problem {
    let mut names: Vec<&str> = kit.listed().iter().map(|piece| piece.name.as_str()).collect();
    names.sort_by_key(|name| !is_percussion(name));
    let mut advice = Vec::new();
    if let Some(near) = nearest(piece, names.iter().copied()) {
        advice.push(did_you_mean(near));
    }
    match (kit.substitute(piece), kit.kin(piece)) {
        (Some(_), _) => advice.push("no other piece is a substitute for notes;".to_string()),
        (None, Some(substitute)) => advice.push(format!("`--lend` would substitute `{substitute}`;")),
        (None, None) => {}
    }
    if lists {
        advice.push(format!("the kit has {}", folded(&names)));
    }
    let problem = Problem::at(place, format!("the kit has no piece `{piece}`"));
    match advice.join(" ").trim_end_matches(';') {
        "" => problem,
        advice => problem.help(advice),
    }
}

/// Names in a line or two: further ones of a kind as a range (`snare to snare-4`), and how many more there are.
fn folded(names: &[&str]) -> String {
    let runs = runs(names);
    let mut line = String::new();
    for (number, (first, last, _)) in runs.iter().enumerate() {
        let word = match last {
            last if last == first => first.to_string(),
            last => format!("{first} to {last}"),
        };
        if line.len() + word.len() + 2 > LISTED {
            let rest: usize = runs[number..].iter().map(|(_, _, count)| count).sum();
            line.push_str(&format!(" and {rest} more"));
            break;
        }
        if number > 0 {
            line.push_str(", ");
        }
        line.push_str(&word);
    }
    line
}

/// Names with the last of the further ones that stand behind them, and how many names that is.
fn runs<'a>(names: &[&'a str]) -> Vec<(&'a str, &'a str, usize)> {
    let mut runs: Vec<(&str, &str, usize)> = Vec::new();
    for name in names {
        let next = |(first, _, count): &&mut (&str, &str, usize)| *name == format!("{first}-{}", *count + 1);
        match runs.last_mut().filter(next) {
            Some((_, last, count)) => {
                *last = name;
                *count += 1;
            }
            None => runs.push((name, name, 1)),
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_there_is_folds_to_a_line_or_two() {
        assert_eq!(
            folded(&["kick", "snare", "snare-2", "snare-3", "hat-closed"]),
            "kick, snare to snare-3, hat-closed"
        );
        let many: Vec<String> = (0..200).map(|number| format!("shot{number}")).collect();
        let many: Vec<&str> = many.iter().map(String::as_str).collect();
        let folded = folded(&many);
        assert!(folded.len() < 140 && folded.ends_with("more"), "{folded}");
        let listed = folded.matches("shot").count();
        assert!(folded.ends_with(&format!(" and {} more", 200 - listed)), "{folded}");
    }
}
