//! The key of some notes, by how much of each pitch class sounds.
//!
//! Of all major and minor keys it is the one whose profile correlates best with it (C. L. Krumhansl, "Cognitive Foundations of
//! Musical Pitch", 1990, chapters 2 and 4 \[memory\]).

use super::key::Key;

/// How well each semitone above the tonic goes with a key: Krumhansl and Kessler's ratings \[memory\].
const MAJOR: [f64; 12] = [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88];
const MINOR: [f64; 12] = [6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17];
/// Tonics from C up, as signatures of at most six accidentals have them.
const MAJORS: [&str; 12] = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
const MINORS: [&str; 12] = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"];
/// Fewer pitch classes than these leave the key open.
const FEWEST: usize = 3;

/// The likeliest key, where `sounding` has how long each pitch class sounds, from C up; none of fewer than three pitch classes.
pub(crate) fn find_key(sounding: &[f64; 12]) -> Option<Key> {
    if sounding.iter().filter(|much| **much > 0.0).count() < FEWEST {
        return None;
    }
    let fits = |profile: &[f64; 12], tonic: usize| {
        let turned: Vec<f64> = (0..12).map(|class| profile[(class + 12 - tonic) % 12]).collect();
        correlation(&turned, sounding)
    };
    let majors = MAJORS
        .iter()
        .enumerate()
        .map(|(tonic, name)| (fits(&MAJOR, tonic), name, "major"));
    let minors = MINORS
        .iter()
        .enumerate()
        .map(|(tonic, name)| (fits(&MINOR, tonic), name, "minor"));
    // Of equals the first.
    let best = majors
        .chain(minors)
        .reduce(|best, next| if next.0 > best.0 { next } else { best })?;
    Key::parse(&format!("{} {}", best.1, best.2)).ok()
}

fn correlation(one: &[f64], other: &[f64]) -> f64 {
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let (first, second) = (mean(one), mean(other));
    let sum = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
        let pairs = one.iter().zip(other);
        pairs.map(|(a, b)| of(a - first, b - second)).sum()
    };
    let spread = libm::sqrt(sum(&|a, _| a * a) * sum(&|_, b| b * b));
    sum(&|a, b| a * b) / spread.max(f64::MIN_POSITIVE)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The key of notes that sound so long.
    fn found(notes: &[(usize, f64)]) -> Option<String> {
        let mut sounding = [0.0; 12];
        notes.iter().for_each(|(class, long)| sounding[class % 12] += long);
        find_key(&sounding).map(|key| key.to_string())
    }

    #[test]
    fn scales_that_dwell_on_their_triad_tell_every_key() {
        for tonic in 0..12 {
            let major = [(0, 4.0), (2, 1.0), (4, 3.0), (5, 1.0), (7, 3.0), (9, 1.0), (11, 1.0)];
            let minor = [(0, 4.0), (2, 1.0), (3, 3.0), (5, 1.0), (7, 3.0), (8, 1.0), (10, 1.0)];
            let at =
                |notes: &[(usize, f64)]| found(&notes.iter().map(|(up, long)| (tonic + up, *long)).collect::<Vec<_>>());
            assert_eq!(at(&major), Some(format!("{} major", MAJORS[tonic])));
            assert_eq!(at(&minor), Some(format!("{} minor", MINORS[tonic])));
        }
    }

    #[test]
    fn two_notes_leave_it_open() {
        assert_eq!(found(&[(0, 1.0), (7, 1.0)]), None);
        assert_eq!(found(&[]), None);
    }
}
