//! What a sound could be: how well it fits a piece of percussion, by its name and by how it sounds.

use rayon::prelude::*;

use crate::kit::findings::distance::distance;
use crate::kit::findings::fingerprint::{BANDS, FLOOR, Fingerprint, RANGE, STEPS};
use crate::kit::names::lexicon::GUESS;

/// What the sounds of a piece have in common, whoever made them.
struct Usual {
    /// Begin of the piece's name.
    piece: &'static str,
    /// The middle of the spectrum, in Hz, from and to.
    bright: (f64, f64),
    /// Seconds until it stays 40 dB below its loudest, from and to.
    length: (f64, f64),
}

const fn usual(piece: &'static str, bright: (f64, f64), length: (f64, f64)) -> Usual {
    Usual { piece, bright, length }
}

/// The usual ranges. They were measured on two recorded kits and an electronic one, and widened to what is met in other kits
/// [practice]. Of two that fit a name the first counts.
const USUAL: [Usual; 29] = [
    usual("kick", (45.0, 150.0), (0.08, 1.2)),
    usual("snare", (550.0, 4_000.0), (0.1, 0.8)),
    usual("side-stick", (900.0, 4_000.0), (0.02, 0.24)),
    usual("clap", (1_200.0, 4_000.0), (0.12, 0.8)),
    usual("hat-closed", (4_000.0, 13_000.0), (0.04, 0.4)),
    usual("hat-pedal", (3_000.0, 12_000.0), (0.04, 0.4)),
    usual("hat-open", (4_000.0, 13_000.0), (0.5, 8.0)),
    usual("tom-floor", (70.0, 180.0), (0.3, 2.4)),
    usual("tom-low", (90.0, 220.0), (0.24, 2.0)),
    usual("tom-mid", (110.0, 280.0), (0.2, 1.8)),
    usual("tom-high", (140.0, 380.0), (0.16, 1.6)),
    usual("crash", (2_500.0, 9_000.0), (1.0, 12.0)),
    usual("china", (2_500.0, 9_000.0), (0.8, 10.0)),
    usual("splash", (3_500.0, 10_000.0), (0.5, 4.0)),
    usual("ride-bell", (1_500.0, 6_000.0), (0.8, 10.0)),
    usual("ride", (4_000.0, 10_000.0), (0.6, 10.0)),
    usual("tambourine", (5_000.0, 13_000.0), (0.1, 1.2)),
    usual("cowbell", (600.0, 2_500.0), (0.16, 1.2)),
    usual("shaker", (5_000.0, 14_000.0), (0.06, 0.8)),
    usual("bongo", (350.0, 1_200.0), (0.06, 0.5)),
    usual("conga", (180.0, 650.0), (0.08, 0.8)),
    usual("timbale", (400.0, 1_500.0), (0.2, 1.2)),
    usual("agogo", (1_200.0, 5_000.0), (0.12, 1.2)),
    usual("cabasa", (5_000.0, 14_000.0), (0.04, 0.4)),
    usual("maracas", (5_000.0, 14_000.0), (0.04, 0.4)),
    usual("guiro", (2_500.0, 7_000.0), (0.08, 1.6)),
    usual("claves", (1_500.0, 3_500.0), (0.02, 0.2)),
    usual("woodblock", (600.0, 2_500.0), (0.02, 0.24)),
    usual("triangle", (4_000.0, 14_000.0), (0.1, 8.0)),
];

/// Every sound is compared with so many that surely are the piece, evenly taken from all of them.
const COMPARED: usize = 48;
/// How much a name tells that is no piece's.
const OWN_NAME: f64 = 0.25;
/// What fits less could hardly be the piece.
pub(crate) const COULD_BE: f64 = 0.5;

/// A sound with what is known of it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sound<'a> {
    /// What it is like.
    pub like: &'a Fingerprint,
    /// The piece that it is taken for, or the name that it goes by.
    pub name: &'a str,
    /// How sure that is, from 0 to 1; none where it goes by its own name.
    pub sure: Option<f64>,
}

/// How well a sound fits a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fit {
    /// The sound's place among the sounds.
    pub at: usize,
    /// From 0 to 1: half by its name, half by how it sounds.
    pub fit: f64,
    /// How far it lies from the nearest other sound that surely is the piece; none where there is no other.
    pub distance: Option<f64>,
}

/// How well sounds fit a piece, the best first; of equally good ones the first. `examples` are sounds beside them that surely are it.
pub(crate) fn fits(piece: &str, sounds: &[Sound], examples: &[&Fingerprint]) -> Vec<Fit> {
    let is_sure = |sound: &Sound| sound.name == piece && sound.sure.is_none_or(|sure| sure >= GUESS);
    let sure: Vec<(Option<usize>, &Fingerprint)> = sounds
        .iter()
        .enumerate()
        .filter(|(_, sound)| is_sure(sound))
        .map(|(at, sound)| (Some(at), sound.like))
        .chain(examples.iter().map(|like| (None, *like)))
        .collect();
    let sure: Vec<_> = sure.iter().step_by(sure.len().div_ceil(COMPARED).max(1)).collect();
    let usual = USUAL.iter().find(|usual| piece.starts_with(usual.piece));
    let fit = |(at, sound): (usize, &Sound)| {
        let others = sure.iter().filter(|(other, _)| *other != Some(at));
        let nearest = others.map(|(_, other)| distance(sound.like, other)).reduce(f64::min);
        // At a distance of 1 strokes of one drum end; at 2.7 hardly anything is alike.
        let alike = nearest.map(|far| libm::exp(-far * far / 4.5));
        let sounds_so = match (usual.map(|usual| usual.holds(sound.like)), alike) {
            (Some(usual), Some(alike)) => 0.5 * (usual + alike),
            (usual, alike) => usual.or(alike).unwrap_or(0.0),
        };
        let called_so = match sound.sure {
            sure if sound.name == piece => sure.unwrap_or(1.0),
            sure => OWN_NAME * (1.0 - sure.unwrap_or(0.0)),
        };
        Fit {
            at,
            fit: 0.5 * (called_so + sounds_so),
            distance: nearest,
        }
    };
    let mut fits: Vec<Fit> = sounds.par_iter().enumerate().map(fit).collect();
    fits.sort_by(|a, b| b.fit.total_cmp(&a.fit).then(a.at.cmp(&b.at)));
    fits
}

/// How well sounds of one drum fit a piece by what pieces of its name have in common, from 0 to 1; none for a name of which nothing is
/// known.
pub(crate) fn usual_fit(piece: &str, sounds: &[&Fingerprint]) -> Option<f64> {
    let usual = USUAL.iter().find(|usual| piece.starts_with(usual.piece))?;
    let sum = sounds.iter().map(|sound| usual.holds(sound)).sum::<f64>();
    Some(sum / sounds.len().max(1) as f64)
}

impl Usual {
    /// 1 within the ranges, and less with every octave outside of them.
    fn holds(&self, sound: &Fingerprint) -> f64 {
        let outside = |figure: f64, (from, to): (f64, f64)| {
            let octaves = libm::log2(from / figure).max(libm::log2(figure / to));
            octaves.max(0.0)
        };
        let bright = outside(brightness(sound), self.bright);
        let length = outside(f64::from(sound.length.max(0.001)), self.length);
        libm::exp(-0.5 * (bright * bright + length * length))
    }
}

/// The middle of a sound's spectrum on the scale of octaves, by power, in Hz.
pub(crate) fn brightness(sound: &Fingerprint) -> f64 {
    let octaves = libm::log2(RANGE.1 / RANGE.0);
    let mut sum = (0.0, 0.0);
    for (at, level) in sound.cells.iter().enumerate() {
        let power = libm::exp10((f64::from(*level) / STEPS - FLOOR) / 10.0);
        let octave = octaves * ((at % BANDS) as f64 + 0.5) / BANDS as f64;
        sum = (sum.0 + power, sum.1 + power * octave);
    }
    RANGE.0 * libm::exp2(sum.1 / f64::max(sum.0, f64::MIN_POSITIVE))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::audio::Audio;

    /// A sine that dies away, falling 60 dB in some seconds.
    fn tone(hz: f64, decay: f64) -> Fingerprint {
        let rate = 48_000;
        let sample = |at: usize| {
            let seconds = at as f64 / f64::from(rate);
            (libm::exp(-6.9 * seconds / decay) * libm::sin(std::f64::consts::TAU * hz * seconds)) as f32
        };
        let audio = Audio {
            channels: vec![(0..(decay * f64::from(rate)) as usize).map(sample).collect()],
            rate,
        };
        Fingerprint::of(&audio).expect("it sounds")
    }

    #[test]
    fn the_middle_of_a_spectrum_is_that_of_a_tone() {
        for hz in [60.0, 200.0, 1_000.0, 6_000.0] {
            let octaves = libm::log2(brightness(&tone(hz, 0.4)) / hz).abs();
            assert!(octaves < 0.35, "{hz}: {octaves}");
        }
    }

    #[test]
    fn names_and_sounds_count_half_each() {
        let (kick, knock, bell) = (tone(60.0, 0.4), tone(62.0, 0.4), tone(6_000.0, 0.4));
        let sound = |like, name, sure| Sound { like, name, sure };
        let sounds = [
            sound(&bell, "triangle-open", Some(1.0)),
            sound(&knock, "knock", None),
            sound(&bell, "kick", Some(0.8)),
            sound(&kick, "kick", Some(1.0)),
        ];
        let order: Vec<usize> = fits("kick", &sounds, &[]).iter().map(|fit| fit.at).collect();
        assert_eq!(order, [3, 1, 2, 0]);
        let best = fits("kick", &sounds, &[])[0];
        assert!(
            best.distance.is_some_and(|far| far > 1.0),
            "itself is no other: {best:?}"
        );
        // A piece by its own name is known by its examples alone.
        let knocks = fits("knock", &sounds, &[&knock]);
        assert_eq!(knocks[0].at, 1);
        assert!(
            knocks[1].at == 3 && knocks[1].distance.is_some_and(|far| far < 0.5),
            "{knocks:?}"
        );
    }
}
