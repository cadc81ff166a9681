//! Note values and metres, read from text.

use num_rational::Ratio;

/// A length: of the music or of the clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Length {
    /// A note value, in whole notes.
    Notes(Ratio<i128>),
    /// Seconds.
    Seconds(f64),
}

/// Reads a note value such as `1/8`, `1/4 dotted`, `1/8 triplet`, or a time such as `180 ms`.
///
/// A dot makes a note half as long again; a triplet's note takes two thirds of the plain one. The lower figure is a
/// power of two up to 128, the upper one goes from 1 to 64. Times go from 1 ms to 60,000 ms.
pub(crate) fn length(text: &str) -> Option<Length> {
    let mut words = text.split_whitespace();
    let (first, second) = (words.next()?, words.next());
    if words.next().is_some() {
        return None;
    }
    if let Some(ms) = milliseconds(first, second) {
        return (1.0..=60_000.0).contains(&ms).then_some(Length::Seconds(ms / 1000.0));
    }
    let (upper, lower) = fraction(first)?;
    if !(1..=64).contains(&upper) || lower > 128 || !lower.is_power_of_two() {
        return None;
    }
    let plain = Ratio::new(i128::from(upper), i128::from(lower));
    match second {
        None => Some(Length::Notes(plain)),
        Some("dotted") => Some(Length::Notes(plain * Ratio::new(3, 2))),
        Some("triplet") => Some(Length::Notes(plain * Ratio::new(2, 3))),
        Some(_) => None,
    }
}

fn milliseconds(first: &str, second: Option<&str>) -> Option<f64> {
    let number = match second {
        Some("ms") => first,
        None => first.strip_suffix("ms")?,
        Some(_) => return None,
    };
    number.parse().ok().filter(|ms: &f64| ms.is_finite())
}

/// Reads a metre: 1 to 32 counts of a note whose figure is a power of two up to 32.
pub(crate) fn metre(text: &str) -> Option<(u32, u32)> {
    let (counts, unit) = fraction(text.trim())?;
    ((1..=32).contains(&counts) && unit <= 32 && unit.is_power_of_two()).then_some((counts, unit))
}

fn fraction(text: &str) -> Option<(u32, u32)> {
    let (upper, lower) = text.split_once('/')?;
    let digits = |figure: &str| {
        figure
            .bytes()
            .all(|byte| byte.is_ascii_digit())
            .then(|| figure.parse().ok())
            .flatten()
    };
    Some((digits(upper.trim())?, digits(lower.trim())?))
}

/// The intervals of a key, by the number of their steps.
pub(crate) const INTERVALS: [&str; 9] = [
    "second", "third", "fourth", "fifth", "sixth", "seventh", "octave", "ninth", "tenth",
];

/// The steps in a key of an interval in words: `third above` is 2, `sixth below` -5.
pub(crate) fn interval_steps(text: &str) -> Option<i32> {
    let (name, way) = text.trim().split_once(char::is_whitespace)?;
    let steps = INTERVALS.iter().position(|known| *known == name)? as i32 + 1;
    match way.trim() {
        "above" => Some(steps),
        "below" => Some(-steps),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn note_values_have_their_lengths() {
        // Lengths at 120 quarter notes a minute [practice]: a dotted eighth 375 ms, a triplet eighth 166.667 ms.
        let ms = |text| match length(text) {
            Some(Length::Notes(notes)) => 2000.0 * *notes.numer() as f64 / *notes.denom() as f64,
            Some(Length::Seconds(seconds)) => seconds * 1000.0,
            None => panic!("{text} is a length"),
        };
        assert_eq!(ms("1/4"), 500.0);
        assert_eq!(ms("1/8 dotted"), 375.0);
        assert!((ms("1/8 triplet") - 166.667).abs() < 0.001);
        assert_eq!(ms("180 ms"), 180.0);
        assert_eq!(ms("62.5ms"), 62.5);
    }

    #[test]
    fn what_is_no_length_is_refused() {
        for text in [
            "",
            "1",
            "1/0",
            "1/3",
            "0/4",
            "1/4 dashed",
            "1/4 dotted dotted",
            "0 ms",
            "nan ms",
            "-5 ms",
            "+1/4",
            "ms",
            "1/99999999999",
        ] {
            assert_eq!(length(text), None, "{text}");
        }
    }

    #[test]
    fn metres_run_to_thirty_two() {
        assert_eq!(metre("1/1"), Some((1, 1)));
        assert_eq!(metre("32/32"), Some((32, 32)));
        for text in ["4", "0/4", "33/4", "4/0", "4/6", "4/64", "-4/4", "four/4", ""] {
            assert_eq!(metre(text), None, "{text}");
        }
    }
}
