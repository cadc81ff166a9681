//! How far two sounds lie apart to the ear.

use super::fingerprint::{Fingerprint, LINES, STEPS};

/// How far apart two sounds lie: 0 for the same, about 1 where strokes of one drum end and other drums begin.
///
/// A weighted sum of how two sounds differ ([`Differences`], and the [`interval`] between them), each capped where more tells nothing more. The weights are those of a
/// logistic regression over recorded strokes of one drum (23 pairs) and different drums of one kind (292 pairs) out of three General
/// MIDI banks, of which it puts 0 and 3 on the wrong side of 1; `tests/real/` has the recordings. Of hiss, whose strongest line is one
/// by chance, the envelope tells alone.
pub(crate) fn distance(a: &Fingerprint, b: &Fingerprint) -> f64 {
    distance_up_to(f64::INFINITY, a, b)
}

/// The same where no more than so much matters: beyond that it may be told too small. That spares what takes longest.
pub(crate) fn distance_up_to(most: f64, a: &Fingerprint, b: &Fingerprint) -> f64 {
    let Differences {
        envelope,
        partial,
        length,
        attack,
    } = Differences::of(a, b);
    let tonal = f64::from((a.crest.min(b.crest) - 9.0) / 3.0).clamp(0.0, 1.0);
    let sum = 1.42 * envelope / 6.0
        + 1.84 * tonal * partial.min(300.0) / 100.0
        + 1.42 * length.min(2.0)
        + 1.10 * attack.min(8.0) / 4.0;
    let distance = sum / 7.9 + (1.0 - tonal) * (envelope - 4.0).max(0.0) / 6.0;
    match distance > most {
        true => distance,
        false => distance + 1.50 * shift(a, b).min(200.0) / 60.0 / 7.9,
    }
}

/// How two sounds differ, beside the interval between them.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Differences {
    /// The root mean square over all cells of their spectral envelopes at equal peaks, dB.
    envelope: f64,
    /// The interval between their strongest partials, in cents.
    partial: f64,
    /// Of their lengths, in octaves.
    length: f64,
    /// Of their attacks, in milliseconds.
    attack: f64,
}

impl Differences {
    fn of(a: &Fingerprint, b: &Fingerprint) -> Differences {
        let octaves = |a: f32, b: f32| f64::from(libm::log2f(a.max(1e-3) / b.max(1e-3))).abs();
        Differences {
            envelope: envelope(a, b),
            partial: 1200.0 * octaves(a.partial, b.partial),
            length: octaves(a.length, b.length),
            attack: 1000.0 * f64::from((a.attack - b.attack).abs()),
        }
    }
}

fn envelope(a: &Fingerprint, b: &Fingerprint) -> f64 {
    let squares = a.cells.iter().zip(&b.cells).map(|(a, b)| {
        let apart = i32::from(*a) - i32::from(*b);
        apart * apart
    });
    libm::sqrt(f64::from(squares.sum::<i32>()) / a.cells.len().max(1) as f64) / STEPS
}

/// The interval between two sounds, 480 cents at the most. Of hiss no shift is more alike than another: where the most alike one is
/// hardly so, the interval says nothing.
fn shift(a: &Fingerprint, b: &Fingerprint) -> f64 {
    let (cents, alike) = shifted(a, b, 480.0);
    cents.abs() * ((alike - 0.2) / 0.1).clamp(0.0, 1.0)
}

/// How much higher a sound lies than another, in cents and no more than so many: by how much its fine spectrum has to be shifted to be
/// most alike, by normalised cross-correlation; of equally good shifts the smallest. Unlike the strongest partial it does not jump from
/// one mode of a drum to another.
pub(crate) fn interval(a: &Fingerprint, b: &Fingerprint, most: f64) -> f64 {
    shifted(a, b, most).0
}

/// The interval, and how alike the spectra are when they are shifted so, -1 to 1.
fn shifted(a: &Fingerprint, b: &Fingerprint, most: f64) -> (f64, f64) {
    let steps = (LINES * most / 1200.0) as usize;
    let higher = |shift: usize| correlation(&a.fine[shift.min(a.fine.len())..], &b.fine);
    let lower = |shift: usize| correlation(&a.fine, &b.fine[shift.min(b.fine.len())..]);
    let mut best = (higher(0), 0.0);
    for shift in 1..=steps {
        for (alike, sign) in [(higher(shift), 1.0), (lower(shift), -1.0)] {
            if alike > best.0 {
                best = (alike, sign * shift as f64);
            }
        }
    }
    (1200.0 * best.1 / LINES, best.0)
}

/// How alike two stretches are, -1 to 1, over as much as both have.
fn correlation(a: &[u8], b: &[u8]) -> f64 {
    let count = a.len().min(b.len());
    let (a, b) = (&a[..count], &b[..count]);
    // Levels are 200 at the most, and lines a few hundred: all sums have room.
    let sum = |of: &[u8]| i64::from(of.iter().map(|level| u32::from(*level)).sum::<u32>());
    let both = |a: &[u8], b: &[u8]| {
        let products = a.iter().zip(b).map(|(a, b)| u32::from(*a) * u32::from(*b));
        i64::from(products.sum::<u32>())
    };
    let count = count as i64;
    let spread = |of: &[u8]| (count * both(of, of) - sum(of) * sum(of)) as f64;
    let power = spread(a) * spread(b);
    if power > 0.0 {
        (count * both(a, b) - sum(a) * sum(b)) as f64 / libm::sqrt(power)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::audio::Audio;

    /// A struck body of some partials that die away.
    fn stroke(hz: f64, decay: f64, level: f64) -> Fingerprint {
        let sample = |n: usize| {
            let time = n as f64 / 48_000.0;
            let partials = [1.0, 1.59, 2.14, 2.65].iter().zip(1..);
            let sum = partials.map(|(ratio, of)| {
                let turn = std::f64::consts::TAU * ratio * hz * time;
                libm::sin(turn) / f64::from(of) * libm::exp(-6.9 * f64::from(of) * time / decay)
            });
            (level * sum.sum::<f64>()) as f32
        };
        let audio = Audio {
            channels: vec![(0..48_000).map(sample).collect()],
            rate: 48_000,
        };
        Fingerprint::of(&audio).expect("it sounds")
    }

    #[test]
    fn a_level_is_no_distance_a_pitch_and_a_length_are() {
        let drum = stroke(120.0, 0.5, 0.5);
        assert!(distance(&drum, &drum) < 1e-12);
        assert!(distance(&drum, &stroke(120.0, 0.5, 0.05)) < 0.05);
        assert!(distance(&drum, &stroke(120.5, 0.52, 0.5)) < 0.3);
        assert!(distance(&drum, &stroke(140.0, 0.5, 0.5)) > 1.0);
        assert!(distance(&drum, &stroke(120.0, 0.1, 0.5)) > 0.5);
        let higher = interval(&stroke(142.7, 0.5, 0.5), &drum, 1200.0);
        assert!((higher - 300.0).abs() < 30.0, "{higher}");
        let other = stroke(150.0, 0.3, 0.5);
        assert!((distance(&drum, &other) - distance(&other, &drum)).abs() < 1e-6);
    }
}
