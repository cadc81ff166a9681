//! What several figures share of a sound: sums over its channels. Eight go side by side, since one alone waits for each
//! addition.

use crate::base::audio::{Audio, peak};
use crate::base::simd::{Work, wide};

const LANES: usize = 8;
/// Frames of which all sums are taken before those of the next: they stay in the cache meanwhile.
const STRETCH: usize = 4096;

/// Sums over the channels of a sound.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Sides {
    /// Each channel's sum of squares.
    pub squares: Vec<f64>,
    /// The sum of products of the first two, where there are as many.
    pub both: Option<f64>,
    /// Each channel's sum.
    pub sums: Vec<f64>,
    /// The largest sample.
    pub peak: f32,
}

impl Sides {
    /// Takes all sums of a sound.
    pub(crate) fn of(audio: &Audio) -> Sides {
        let channels = &audio.channels;
        let (mut squares, mut sums, mut both) = (vec![0.0; channels.len()], vec![0.0; channels.len()], 0.0);
        for from in (0..audio.frames()).step_by(STRETCH) {
            let part = |channel: usize| {
                let side = &channels[channel];
                &side[from..side.len().min(from + STRETCH)]
            };
            for channel in 0..channels.len() {
                squares[channel] += product(part(channel), part(channel));
                sums[channel] += wide(Sum(part(channel)));
            }
            if channels.len() > 1 {
                both += product(part(0), part(1));
            }
        }
        Sides {
            squares,
            sums,
            both: (channels.len() > 1).then_some(both),
            peak: peak(channels),
        }
    }

    /// Adds the sums of another sound.
    pub(super) fn add(&mut self, other: &Sides) {
        let own = self.squares.iter_mut().chain(&mut self.sums).chain(&mut self.both);
        let others = other.squares.iter().chain(&other.sums).chain(&other.both);
        own.zip(others).for_each(|(own, other)| *own += other);
        self.peak = self.peak.max(other.peak);
    }

    /// How wide it is, in percent: the side signal's root mean square over the middle's. 0 for one that is the same on
    /// both sides, 100 for sides that have nothing in common; none for silence and where there is no middle.
    pub(crate) fn width_percent(&self) -> Option<f64> {
        let Some(both) = self.both else {
            return (self.peak > 0.0).then_some(0.0);
        };
        let alike = self.squares[0] + self.squares[1];
        let (side, middle) = ((alike - 2.0 * both).max(0.0), alike + 2.0 * both);
        (middle > 0.0).then(|| 100.0 * (side / middle).sqrt())
    }
}

/// The sum of products of two signals.
pub(super) fn product(one: &[f32], other: &[f32]) -> f64 {
    wide(Pairs(one, other, |a, b| a * b))
}

/// The sum of squares of what sets two signals apart.
pub(super) fn apart(one: &[f32], other: &[f32]) -> f64 {
    wide(Pairs(one, other, |a, b| (a - b) * (a - b)))
}

/// A sum over pairs of two signals, as far as both go.
struct Pairs<'a, F>(&'a [f32], &'a [f32], F);

impl<F: Fn(f64, f64) -> f64> Work for Pairs<'_, F> {
    type Made = f64;

    #[inline(always)]
    fn work(self) -> f64 {
        let Pairs(one, other, of) = self;
        let both = one.len().min(other.len());
        let (ones, others) = (one[..both].as_chunks::<LANES>(), other[..both].as_chunks::<LANES>());
        let mut sums = [0.0; LANES];
        for (one, other) in ones.0.iter().zip(others.0) {
            for lane in 0..LANES {
                sums[lane] += of(f64::from(one[lane]), f64::from(other[lane]));
            }
        }
        let rest = ones.1.iter().zip(others.1);
        sums.iter().sum::<f64>() + rest.map(|(a, b)| of(f64::from(*a), f64::from(*b))).sum::<f64>()
    }
}

struct Sum<'a>(&'a [f32]);

impl Work for Sum<'_> {
    type Made = f64;

    #[inline(always)]
    fn work(self) -> f64 {
        let (eights, rest) = self.0.as_chunks::<LANES>();
        let mut sums = [0.0; LANES];
        for eight in eights {
            for lane in 0..LANES {
                sums[lane] += f64::from(eight[lane]);
            }
        }
        sums.iter().sum::<f64>() + rest.iter().map(|sample| f64::from(*sample)).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn audio(channels: Vec<Vec<f32>>) -> Audio {
        Audio { channels, rate: 48_000 }
    }

    proptest! {
        #[test]
        fn are_the_sums(left in prop::collection::vec(-1.0_f32..1.0, 0..9000)) {
            let right: Vec<f32> = left.iter().rev().map(|sample| 0.5 * sample).collect();
            let sides = Sides::of(&audio(vec![left.clone(), right.clone()]));
            let plain = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum::<f64>();
            prop_assert!((sides.squares[0] - plain(&left, &left)).abs() < 1e-9);
            prop_assert!((sides.both.unwrap() - plain(&left, &right)).abs() < 1e-9);
            prop_assert!((sides.sums[1] - right.iter().map(|x| f64::from(*x)).sum::<f64>()).abs() < 1e-9);
            let apart_by_hand: f64 = left.iter().zip(&right).map(|(a, b)| (f64::from(*a) - f64::from(*b)).powi(2)).sum();
            prop_assert!((apart(&left, &right) - apart_by_hand).abs() < 1e-9);
        }
    }

    #[test]
    fn how_wide() {
        let sine = |cycles: f64| {
            (0..48_000)
                .map(move |n| libm::sin(cycles * n as f64 / 1e3) as f32)
                .collect::<Vec<_>>()
        };
        let width = |left: f64, right: f64| Sides::of(&audio(vec![sine(left), sine(right)])).width_percent();
        assert_eq!(width(3.0, 3.0), Some(0.0));
        assert!((width(3.0, 5.0).unwrap() - 100.0).abs() < 1.0);
        assert_eq!(Sides::of(&audio(vec![sine(3.0)])).width_percent(), Some(0.0));
        assert_eq!(Sides::of(&audio(vec![vec![0.0; 9]; 2])).width_percent(), None);
    }
}
