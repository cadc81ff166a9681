//! A sound in cells of equal length, each with its power as loudness weights it.
//!
//! A filter waits for its own last frame, so a sound is cut into stretches that are weighted side by side, eight in the lanes of
//! one vector and all lanes in parallel. Each has a run-in of its own, after which the weighting has forgotten that it
//! began there. The stretches lie on a grid of their own: how many threads there are changes no bit.

use rayon::prelude::*;

use super::k_weighting::{LANES, Weighing, Weighting};
use crate::base::audio::Audio;
use crate::base::simd::wide;
use crate::base::stages::each;

/// Seconds of a stretch, about: it is whole cells long.
const STRETCH: f64 = 1.0;
/// Seconds of a run-in: the high pass at 38 Hz has then forgotten all but a part in 10^9 of where it began.
const RUN_IN: f64 = 0.1;

/// Some cells of one channel that are weighted one after another.
struct Stretch<'a, T> {
    channel: &'a [f32],
    /// Its last cell, where that is no whole one.
    rest: &'a [f32],
    first: usize,
    made: &'a mut [T],
}

impl<'a, T> Stretch<'a, T> {
    /// The frames of a cell, numbered from the channel's first; none where it is silent.
    fn cell(&self, number: usize) -> Option<&'a [f32]> {
        let from = number * self.rest.len();
        let whole = self.channel.get(from..from + self.rest.len());
        whole.or_else(|| (from < self.channel.len()).then_some(self.rest))
    }
}

/// What is made of each cell of each channel: of its frames, and of the sum of their squares as loudness weights them. `cells` of so
/// many `frames` are looked at; behind its end a sound is silent.
pub(crate) fn weighted<T: Clone + Default + Send>(
    audio: &Audio,
    frames: usize,
    cells: usize,
    make: impl Fn(&[f32], f64) -> T + Sync,
) -> Vec<Vec<T>> {
    let rests: Vec<Vec<f32>> = audio.channels.iter().map(|channel| rest(channel, frames)).collect();
    let mut made = vec![vec![T::default(); cells]; audio.channels.len()];
    let stretch = ((STRETCH * f64::from(audio.rate) / frames as f64) as usize).max(1);
    let mut stretches = Vec::new();
    for ((channel, rest), made) in audio.channels.iter().zip(&rests).zip(&mut made) {
        stretches.extend(made.chunks_mut(stretch).enumerate().map(|(number, made)| Stretch {
            channel,
            rest,
            first: number * stretch,
            made,
        }));
    }
    let side_by_side = stretches.par_chunks_mut(LANES);
    each("weighting", side_by_side, |stretches| {
        weigh(stretches, audio.rate, frames, &make)
    });
    made
}

/// What is left of a channel behind its last whole cell, and silence up to a whole one.
fn rest(channel: &[f32], frames: usize) -> Vec<f32> {
    let mut rest = channel.chunks_exact(frames).remainder().to_vec();
    rest.resize(frames, 0.0);
    rest
}

/// Weighs some stretches, no more than [`LANES`], side by side.
fn weigh<T>(stretches: &mut [Stretch<T>], rate: u32, frames: usize, make: &impl Fn(&[f32], f64) -> T) {
    let silence = vec![0.0; frames];
    let mut weighting = Weighting::new(rate);
    let longest = stretches.iter().map(|stretch| stretch.made.len()).max().unwrap_or(0);
    let all_begin = stretches.iter().all(|stretch| stretch.first == 0);
    let run_in = match all_begin {
        true => 0,
        false => libm::ceil(RUN_IN * f64::from(rate) / frames as f64) as usize,
    };
    for step in 0..run_in + longest {
        let signals = std::array::from_fn(|lane| {
            let stretch: Option<&Stretch<T>> = stretches.get(lane);
            let cell = stretch.and_then(|stretch| stretch.cell((stretch.first + step).checked_sub(run_in)?));
            cell.unwrap_or(&silence)
        });
        let powers = wide(Weighing {
            weighting: &mut weighting,
            signals,
        });
        let Some(at) = step.checked_sub(run_in) else { continue };
        for ((stretch, signal), power) in stretches.iter_mut().zip(signals).zip(powers) {
            if let Some(made) = stretch.made.get_mut(at) {
                *made = make(signal, power);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One stretch from front to back, without any run-in.
    fn in_one_go(channel: &[f32], rate: u32, frames: usize, cells: usize) -> Vec<f64> {
        let mut weighting = Weighting::new(rate);
        let mut padded = channel.to_vec();
        padded.resize(frames * cells, 0.0);
        let weigh = |cell: &[f32]| {
            let weighting = &mut weighting;
            let signals = [cell; LANES];
            wide(Weighing { weighting, signals })[0]
        };
        padded.chunks_exact(frames).map(weigh).collect()
    }

    #[test]
    fn stretches_side_by_side_are_what_one_after_another_would_be() {
        use rand_pcg::rand_core::Rng;
        let mut random = rand_pcg::Pcg32::new(3, 1);
        let mut draw = || (f64::from(random.next_u32()) / 2f64.powi(31) - 1.0) as f32;
        for (channels, rate, seconds) in [
            (0, 48_000, 1.0),
            (1, 48_000, 0.0),
            (1, 44_100, 0.3),
            (2, 48_000, 7.3),
            (3, 4_000, 9.01),
            (9, 8_000, 2.0),
            (2, 192_000, 1.1),
        ] {
            let length = (f64::from(rate) * seconds) as usize;
            // Loud and quiet by turns, on an offset that a run-in has to get over.
            let mut side = || {
                let loud = |n: usize| if (n / 3_000).is_multiple_of(3) { 0.5 } else { 0.01 };
                (0..length).map(|n| 0.3 + loud(n) * draw()).collect::<Vec<f32>>()
            };
            let channels: Vec<Vec<f32>> = (0..channels).map(|_| side()).collect();
            let audio = Audio { channels, rate };
            for (frames, cells) in [
                (64, length.div_ceil(64)),
                (rate as usize / 10, length / (rate as usize / 10)),
            ] {
                let made = weighted(&audio, frames, cells, |signal, power| (signal.len(), power));
                assert_eq!(made.len(), audio.channels.len());
                for (made, channel) in made.iter().zip(&audio.channels) {
                    let wanted = in_one_go(channel, rate, frames, cells);
                    assert_eq!(made.len(), wanted.len());
                    for ((length, own), wanted) in made.iter().zip(wanted) {
                        assert_eq!(*length, frames);
                        // 1e-6 LU are 2.3 parts in ten million.
                        assert!(
                            (own - wanted).abs() < 1e-7 * wanted,
                            "{rate} Hz, {frames} frames: {own} {wanted}"
                        );
                    }
                }
            }
        }
    }
}
