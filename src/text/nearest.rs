//! The known word that someone most likely meant.

use std::fmt::Display;

/// The nearest of `known` to `word`, if one is near enough to be worth offering.
///
/// Near is a Jaro-Winkler similarity (Winkler 1990) of 0.8 at least, or one name beginning with the other; ties go to the first.
pub(crate) fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    let mut best: Option<(f64, &str)> = None;
    for candidate in known {
        let likeness = likeness(&word, candidate);
        if likeness >= 0.8 && best.is_none_or(|(most, _)| likeness > most) {
            best = Some((likeness, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Offers what someone most likely meant, in the words of all messages: a name.
pub(crate) fn did_you_mean(near: impl Display) -> String {
    format!("did you mean `{near}`?")
}

/// The same for a text, which stands in quotes where it is written.
pub(crate) fn did_you_mean_text(near: impl Display) -> String {
    format!("did you mean \"{near}\"?")
}

fn likeness(word: &str, candidate: &str) -> f64 {
    let lower = candidate.to_lowercase();
    if lower == word {
        return 1.0;
    }
    let begins = word.len() >= 3 && lower.len() >= 3 && (lower.starts_with(word) || word.starts_with(lower.as_str()));
    strsim::jaro_winkler(word, &lower).max(if begins { 0.85 } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn offers_what_was_meant_and_nothing_far_off() {
        let keys = ["gain", "pan", "width", "low_cut"];
        assert_eq!(nearest("gian", keys), Some("gain"));
        assert_eq!(nearest("lowcut", keys), Some("low_cut"));
        assert_eq!(nearest("Gain", keys), Some("gain"));
        assert_eq!(nearest("zzz", keys), None);
    }
}
