//! Which slices are strokes of one drum, and what it is called.
//!
//! In: slices, and what the ear of hits takes each for: a low, a middle or a high sound. Out: drums. What that ear leaves open the
//! kit's decides: which strokes are one drum's by how far they lie apart, which piece by what pieces of a name have in common.

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::base::audio::Audio;
use crate::base::stages::each;
use crate::kit::by_sound;
use crate::kit::find::{brightness, usual_fit};
use crate::kit::findings::fingerprint::Fingerprint;

/// What a sound may be beside what it is taken for: a bright one that rings.
const OTHERS: [(&str, &[&str]); 1] = [("hat-closed", &["hat-open"])];
/// What is taken for a snare is a tom where the middle of its spectrum is under this, in Hz. Measured on recorded drums, of
/// which most snares lie above. A low tom that is taken for a kick stays one: kicks under a hat are as bright.
const SNARE: &str = "snare";
const DARK: f64 = 200.0;
/// Another piece has to fit by so much better.
const BETTER: f64 = 0.2;

/// A drum that was heard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Drum {
    /// What it is called; no two are called the same.
    pub name: String,
    /// Its strokes: places of slices, in order.
    pub slices: Vec<usize>,
}

/// The drums of some slices, each taken for a sound, in the order of their names.
pub(crate) fn drums(slices: &[Audio], sounds: &[&str]) -> Vec<Drum> {
    let mut heard: Vec<Option<Fingerprint>> = vec![None; slices.len()];
    each("listen", heard.par_iter_mut().zip(slices), |(heard, slice)| {
        *heard = Fingerprint::of(slice);
    });
    let mut drums: BTreeMap<&str, Vec<Vec<usize>>> = BTreeMap::new();
    let mut taken: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (number, sound) in sounds.iter().enumerate() {
        taken.entry(sound).or_default().push(number);
    }
    let mut toms: Vec<(f64, Vec<usize>)> = Vec::new();
    for (sound, numbers) in taken {
        let (known, silent): (Vec<usize>, Vec<usize>) =
            numbers.into_iter().partition(|number| heard[*number].is_some());
        let prints: Vec<&Fingerprint> = known.iter().filter_map(|number| heard[*number].as_ref()).collect();
        for drum in by_sound(&prints) {
            let of_it: Vec<&Fingerprint> = drum.iter().map(|at| prints[*at]).collect();
            let slices = drum.iter().map(|at| known[*at]).collect();
            match as_tom(sound, &of_it) {
                Some(bright) => toms.push((bright, slices)),
                None => drums.entry(piece(sound, &of_it)).or_default().push(slices),
            }
        }
        drums
            .entry(sound)
            .or_default()
            .extend((!silent.is_empty()).then_some(silent));
    }
    toms.sort_by(|a, b| b.0.total_cmp(&a.0));
    for (name, (_, slices)) in tom_names(toms.len()).zip(toms) {
        drums.entry(name).or_default().push(slices);
    }
    drums
        .into_iter()
        .flat_map(|(piece, drums)| named(piece, drums))
        .collect()
}

/// The middle of a drum's spectrum, in Hz, if it is a tom.
fn as_tom(sound: &str, strokes: &[&Fingerprint]) -> Option<f64> {
    let octaves: f64 = strokes.iter().map(|stroke| libm::log2(brightness(stroke))).sum();
    let bright = libm::exp2(octaves / strokes.len() as f64);
    (sound == SNARE && bright < DARK).then_some(bright)
}

/// The names of so many toms, from the highest on.
fn tom_names(count: usize) -> impl Iterator<Item = &'static str> {
    let names: &[&str] = match count {
        1 => &["tom-mid"],
        2 => &["tom-high", "tom-low"],
        3 => &["tom-high", "tom-mid", "tom-low"],
        _ => &["tom-high", "tom-mid", "tom-low", "tom-floor"],
    };
    (0..count).map(move |tom| names[tom * names.len() / count])
}

/// The piece that a drum is which was taken for a sound.
fn piece<'a>(sound: &'a str, strokes: &[&Fingerprint]) -> &'a str {
    let others = OTHERS
        .iter()
        .find(|(taken, _)| *taken == sound)
        .map_or(&[][..], |(_, others)| others);
    let own = usual_fit(sound, strokes).unwrap_or(1.0) + BETTER;
    let fits = others
        .iter()
        .filter_map(|other| Some((*other, usual_fit(other, strokes)?)));
    let best = fits.rev().max_by(|a, b| a.1.total_cmp(&b.1));
    best.filter(|(_, fit)| *fit > own).map_or(sound, |(other, _)| other)
}

/// Drums of one name, numbered from the one that is struck most.
fn named(piece: &str, mut drums: Vec<Vec<usize>>) -> Vec<Drum> {
    drums.sort_by_key(|slices| std::cmp::Reverse(slices.len()));
    let name = |rank: usize| match rank {
        0 => piece.to_string(),
        rank => format!("{piece}-{}", rank + 1),
    };
    let drum = |(rank, slices)| Drum {
        name: name(rank),
        slices,
    };
    drums.into_iter().enumerate().map(drum).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A struck body that dies away.
    fn stroke(hz: f64, level: f64) -> Audio {
        let sample = |n: usize| {
            let time = n as f64 / 48_000.0;
            (level * libm::sin(std::f64::consts::TAU * hz * time) * libm::exp(-time / 0.08)) as f32
        };
        Audio {
            channels: vec![(0..24_000).map(sample).collect()],
            rate: 48_000,
        }
    }

    #[test]
    fn strokes_of_one_drum_are_takes_and_other_drums_have_numbers() {
        let slices = [
            stroke(60.0, 0.5),
            stroke(90.0, 0.4),
            stroke(60.0, 0.2),
            stroke(60.5, 0.3),
            Audio::silence(1, 100, 48_000),
        ];
        let drums = drums(&slices, &["kick", "kick", "kick", "kick", "snare"]);
        let told: Vec<(&str, &[usize])> = drums
            .iter()
            .map(|drum| (drum.name.as_str(), drum.slices.as_slice()))
            .collect();
        assert_eq!(told, [("kick", &[0, 2, 3][..]), ("kick-2", &[1]), ("snare", &[4])]);
    }

    #[test]
    fn what_is_too_dark_for_a_snare_is_a_tom_by_its_pitch() {
        let slices = [60.0, 140.0, 170.0].map(|hz| stroke(hz, 0.5));
        let drums = drums(&slices, &["kick", "snare", "snare"]);
        let names: Vec<&str> = drums.iter().map(|drum| drum.name.as_str()).collect();
        assert_eq!(names, ["kick", "tom-high", "tom-low"]);
    }

    #[test]
    fn a_name_of_ones_own_stays() {
        let drums = drums(&[stroke(60.0, 0.5)], &["buoy"]);
        assert_eq!(drums[0].name, "buoy");
    }
}
