//! Lists as sentences have them.

/// Words in a row: `a`, `a and b`, `a, b and c`.
pub(crate) fn in_a_row(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [only] => only.clone(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}

/// What sections say, one after another; those in a row that say the same say it once.
#[cfg(feature = "cli")]
pub(crate) fn in_turn(said: impl Iterator<Item = String>) -> String {
    /// The most that are told.
    const MOST: usize = 4;
    let mut said: Vec<String> = said.collect();
    said.dedup();
    if said.len() > MOST {
        said.truncate(MOST);
        said.push("…".to_string());
    }
    said.join(", then ")
}

/// A number with what it counts: `1 note`, `2 notes`.
pub(crate) fn count_of(number: usize, thing: &str) -> String {
    format!("{number} {thing}{}", if number == 1 { "" } else { "s" })
}

/// A number with a comma between its thousands: `1,404`.
#[cfg(feature = "cli")]
pub(crate) fn thousands(number: usize) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// Bars in words: `bar 3`, `bars 1-4, 8`.
pub(crate) fn spelled(bars: &[u32]) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for bar in bars {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == *bar => *last = *bar,
            _ => runs.push((*bar, *bar)),
        }
    }
    let run = |(first, last): &(u32, u32)| {
        if first == last {
            first.to_string()
        } else {
            format!("{first}-{last}")
        }
    };
    let list = runs.iter().map(run).collect::<Vec<_>>().join(", ");
    format!("bar{} {list}", if bars.len() == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_are_spelled_in_runs() {
        assert_eq!(spelled(&[3]), "bar 3");
        assert_eq!(spelled(&[1, 2, 3, 4, 8]), "bars 1-4, 8");
    }

    #[cfg(feature = "cli")]
    #[test]
    fn thousands_have_commas() {
        for (number, text) in [
            (0, "0"),
            (999, "999"),
            (1404, "1,404"),
            (20_000, "20,000"),
            (1_000_000, "1,000,000"),
        ] {
            assert_eq!(thousands(number), text);
        }
    }

    #[test]
    fn the_last_of_a_row_has_an_and_before_it() {
        let row = |words: &[&str]| in_a_row(&words.iter().map(|word| word.to_string()).collect::<Vec<_>>());
        assert_eq!(row(&["a"]), "a");
        assert_eq!(row(&["a", "b"]), "a and b");
        assert_eq!(row(&["a", "b", "c"]), "a, b and c");
    }
}
