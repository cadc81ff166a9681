//! Energy in octave bands, and what sets two sounds apart.

use std::ops::Range;
use std::sync::Arc;

use rayon::prelude::*;
use realfft::{RealFftPlanner, RealToComplex};

use super::sides::{apart, product};
use crate::base::audio::Audio;

/// The nominal mid-band frequencies of the octaves, in Hz (IEC 61260-1, table of preferred octave bands; recomputed by `tests/reference/constants.py`).
pub(crate) const OCTAVES: [f64; 10] = [
    31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16_000.0,
];

/// Seconds of a frame, at least: ten lines within the lowest octave.
const FRAME: f64 = 0.5;
/// Frames that one task works through.
const STRETCH: usize = 16;
/// No difference is told to be less, in dB: below it lies rounding.
const LEAST: f64 = -150.0;

/// The edges of an octave, in Hz, by its place among [`OCTAVES`]: IEC 61260-1's exact mid-band frequencies are
/// 1000·10^(3n/10), its edges lie 10^(3/20) below and above; recomputed by `tests/reference/constants.py`.
pub(super) fn edges(octave: usize) -> (f64, f64) {
    let exact = 1000.0 * libm::exp10(0.3 * (octave as f64 - 5.0));
    (exact * libm::exp10(-0.15), exact * libm::exp10(0.15))
}

/// The mean power in each of [`OCTAVES`], of all channels together, in dB: a square wave of full scale has 0 dB in all.
/// None where there is no energy or the octave lies above half the rate.
///
/// Frames under a sine window, half overlapping: the squares of two windows that overlap sum to 1, so every sample
/// counts once.
pub(crate) fn octave_bands(audio: &Audio) -> [Option<f64>; 10] {
    let points = ((FRAME * f64::from(audio.rate)) as usize).next_power_of_two();
    let forward = RealFftPlanner::<f32>::new().plan_fft_forward(points);
    let window: Vec<f32> = (0..points)
        .map(|n| libm::sin(std::f64::consts::PI * (n as f64 + 0.5) / points as f64) as f32)
        .collect();
    let octaves: [Range<usize>; 10] = std::array::from_fn(|octave| lines(octave, points, audio.rate));
    let hop = points / 2;
    let frames = audio.frames().div_ceil(hop) + 1;
    let tasks: Vec<(usize, usize)> = (0..audio.channels.len())
        .flat_map(|channel| (0..frames).step_by(STRETCH).map(move |first| (channel, first)))
        .collect();
    let energies: Vec<[f64; 10]> = tasks
        .par_iter()
        .map(|(channel, first)| {
            let side = &audio.channels[*channel];
            let these = *first..frames.min(first + STRETCH);
            energy(side, these, &forward, &window, &octaves)
        })
        .collect();
    // Parseval: the spectrum's energy is so many times that of the signal; a real signal's is the half of both sides.
    let scale = 2.0 / (points as f64 * audio.frames().max(1) as f64 * audio.channels.len().max(1) as f64);
    std::array::from_fn(|octave| {
        let power = scale * energies.iter().map(|energy| energy[octave]).sum::<f64>();
        (power > 1e-15).then(|| 10.0 * libm::log10(power))
    })
}

/// The lines of a spectrum that lie in an octave.
pub(super) fn lines(octave: usize, points: usize, rate: u32) -> Range<usize> {
    let (from, to) = edges(octave);
    let first_at_or_over = |hertz: f64| {
        let line = libm::ceil(hertz * points as f64 / f64::from(rate.max(1))) as usize;
        line.min(points / 2 + 1)
    };
    first_at_or_over(from)..first_at_or_over(to)
}

fn energy(
    side: &[f32],
    frames: Range<usize>,
    forward: &Arc<dyn RealToComplex<f32>>,
    window: &[f32],
    octaves: &[Range<usize>; 10],
) -> [f64; 10] {
    let mut energy = [0.0; 10];
    let (mut time, mut spectrum) = (forward.make_input_vec(), forward.make_output_vec());
    let mut scratch = forward.make_scratch_vec();
    let hop = window.len() / 2;
    for frame in frames {
        // The first frame begins half a frame before the sound.
        let before = hop.saturating_sub(frame * hop);
        let from = (frame * hop).saturating_sub(hop).min(side.len());
        let heard = &side[from..side.len().min(from + window.len() - before)];
        time[..before].fill(0.0);
        time[before + heard.len()..].fill(0.0);
        for ((time, sample), window) in time[before..].iter_mut().zip(heard).zip(&window[before..]) {
            *time = sample * window;
        }
        forward
            .process_with_scratch(&mut time, &mut spectrum, &mut scratch)
            .expect("buffers made to measure");
        for (energy, lines) in energy.iter_mut().zip(octaves) {
            // One after another would wait for each addition.
            let (fours, rest) = spectrum[lines.clone()].as_chunks::<4>();
            let mut sums = [0.0; 4];
            for four in fours {
                sums.iter_mut()
                    .zip(four)
                    .for_each(|(sum, line)| *sum += f64::from(line.norm_sqr()));
            }
            let rest = rest.iter().map(|line| f64::from(line.norm_sqr()));
            *energy += sums.iter().sum::<f64>() + rest.sum::<f64>();
        }
    }
    energy
}

/// The level of what is left when one sound is taken from another, against the other, in dB: how deep the two null.
/// None where nothing is left, or the other is silent. Where one is longer, the rest is its own.
pub(crate) fn difference_db(audio: &Audio, other: &Audio) -> Option<f64> {
    let (mut difference, mut power) = (0.0, 0.0);
    for (one, other) in audio.channels.iter().zip(&other.channels) {
        let both = one.len().min(other.len());
        let own = |rest: &[f32]| product(rest, rest);
        difference += apart(one, other) + own(&one[both..]) + own(&other[both..]);
        power += own(other);
    }
    (difference > 0.0 && power > 0.0).then(|| (10.0 * libm::log10(difference / power)).max(LEAST))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn mono(side: Vec<f32>) -> Audio {
        Audio {
            channels: vec![side],
            rate: 48_000,
        }
    }

    fn sine(hertz: f64, size: f64) -> Vec<f32> {
        let at = |n: usize| size * libm::sin(TAU * hertz * n as f64 / 48_000.0);
        (0..480_000).map(|n| at(n) as f32).collect()
    }

    fn white() -> Vec<f32> {
        use rand_pcg::rand_core::Rng;
        let mut chance = rand_pcg::Pcg32::new(5, 1);
        let draw = |chance: &mut rand_pcg::Pcg32| f64::from(chance.next_u32()) / 2f64.powi(31) - 1.0;
        (0..2_400_000).map(|_| 0.3 * draw(&mut chance) as f32).collect()
    }

    #[test]
    fn a_sine_lies_in_its_octave_alone() {
        for (octave, hertz) in OCTAVES.into_iter().enumerate() {
            let bands = octave_bands(&mono(sine(hertz, 0.5)));
            // The mean power of a sine of 0.5 is 0.125.
            let own = bands[octave].expect("a level");
            assert!((own - 10.0 * libm::log10(0.125)).abs() < 0.05, "{hertz}: {own}");
            // A sine that begins and ends at once is heard in all octaves: for those beside its own it fades.
            let mut faded = sine(hertz, 0.5);
            let frames = faded.len();
            for (n, sample) in faded.iter_mut().enumerate() {
                let share = n.min(frames - n) as f64 / 48_000.0;
                *sample *= (0.5 - 0.5 * libm::cos(std::f64::consts::PI * share.min(1.0))) as f32;
            }
            let bands = octave_bands(&mono(faded));
            let others = bands.iter().enumerate().filter(|(other, _)| *other != octave);
            let most = others.filter_map(|(_, level)| *level).fold(f64::MIN, f64::max);
            // A sine that begins and ends at once has some energy beside its line, the more the longer its period is.
            let beside = if hertz < 100.0 { 35.0 } else { 50.0 };
            assert!(most < own - beside, "{hertz}: {most} beside {own}");
        }
    }

    #[test]
    fn white_noise_gains_3_db_an_octave_and_pink_noise_none() {
        let white = white();
        let bands = octave_bands(&mono(white.clone()));
        // Each octave is 10^0.3 times as wide as the one before it.
        for pair in bands[2..].windows(2) {
            let step = pair[1].unwrap() - pair[0].unwrap();
            assert!((step - 3.0).abs() < 0.4, "{step}");
        }
        // Kellet's filter: pink within 0.05 dB from 9 Hz at 44.1 kHz [memory].
        let mut b = [0.0_f64; 7];
        let pink = white.iter().map(|sample| {
            let x = f64::from(*sample);
            b[0] = 0.99886 * b[0] + x * 0.0555179;
            b[1] = 0.99332 * b[1] + x * 0.0750759;
            b[2] = 0.96900 * b[2] + x * 0.1538520;
            b[3] = 0.86650 * b[3] + x * 0.3104856;
            b[4] = 0.55000 * b[4] + x * 0.5329522;
            b[5] = -0.7616 * b[5] - x * 0.0168980;
            let out = b.iter().sum::<f64>() + x * 0.5362;
            b[6] = x * 0.115926;
            (0.1 * out) as f32
        });
        let bands = octave_bands(&mono(pink.collect()));
        let levels: Vec<f64> = bands[1..9].iter().map(|level| level.unwrap()).collect();
        let (most, least) = levels.iter().fold((f64::MIN, f64::MAX), |(most, least), level| {
            (most.max(*level), least.min(*level))
        });
        assert!(most - least < 1.2, "{levels:?}");
    }

    #[test]
    fn the_octaves_hold_the_power_between_their_ends() {
        let mut audio = mono(sine(440.0, 0.5));
        audio.channels.push(sine(2000.0, 0.25));
        let sum: f64 = octave_bands(&audio)
            .iter()
            .flatten()
            .map(|db| libm::exp10(db / 10.0))
            .sum();
        assert!((10.0 * libm::log10(sum / ((0.125 + 0.03125) / 2.0))).abs() < 0.05);
        assert_eq!(octave_bands(&mono(vec![0.0; 1000])), [None; 10]);
        let low = Audio {
            rate: 8000,
            ..mono(sine(440.0, 0.5))
        };
        assert!(octave_bands(&low)[8].is_none(), "no octave above half the rate");
    }

    #[test]
    fn what_sets_two_apart() {
        let one = sine(440.0, 0.5);
        let louder = mono(one.iter().map(|sample| sample * 1.1).collect());
        let left = difference_db(&louder, &mono(one.clone())).unwrap();
        assert!((left + 20.0).abs() < 0.01, "{left}");
        let same = mono(one);
        assert_eq!(difference_db(&same, &same), None);
        // What is longer is its own: half of full scale for 1000 frames against a sine of half of it for 480,000.
        let longer = mono([&same.channels[0][..], &[0.5; 1000]].concat());
        let left = difference_db(&longer, &same).unwrap();
        assert!((left - 10.0 * libm::log10(250.0 / 60_000.0)).abs() < 0.01, "{left}");
    }
}
