//! The last step of integer audio: dither and rounding.

use crate::base::simd::wide;
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;
use rayon::prelude::*;

/// Frames that share a stream of chance, so that any number of threads gives the same dither.
pub(super) const STRETCH: usize = 65_536;

/// Frames that are rounded together: one kind of step after another is quicker than frame by frame.
const TOGETHER: usize = 256;

/// Adding this to a number leaves no room for fractions: the sum's low bits are the nearest whole number. 1.5·2^52.
const ROUNDER: f64 = 6_755_399_441_055_744.0;

/// Interleaves channels and rounds them to integers of so many bits, with triangular dither.
///
/// The dither is the sum of two even draws, two steps wide from end to end (TPDF; Lipshitz, Wannamaker, Vanderkooy,
/// JAES 1992 [memory]): the total error then has mean 0 and variance Δ²/4 whatever the signal. Silence that lasts
/// for a whole stretch in every channel stays silence. Values beyond full scale are clipped.
pub(super) fn dithered(channels: &[Vec<f32>], bits: u32, seed: u64) -> Vec<i32> {
    let frames = channels.first().map_or(0, Vec::len);
    let mut out = vec![0; frames * channels.len()];
    out.par_chunks_mut(STRETCH * channels.len().max(1))
        .enumerate()
        .for_each(|(number, out)| {
            let mut done = 0;
            stretch(channels, bits, seed, number, |ints| {
                out[done..done + ints.len()].copy_from_slice(ints);
                done += ints.len();
            });
        });
    out
}

/// One stretch of the same, packed as little-endian integers of two or three bytes; empty past the end.
pub(super) fn pack_stretch(channels: &[Vec<f32>], bits: u32, seed: u64, number: usize, packed: &mut Vec<u8>) {
    let frames = channels.first().map_or(0, Vec::len).saturating_sub(number * STRETCH);
    let width = bits as usize / 8;
    packed.clear();
    packed.resize(frames.min(STRETCH) * channels.len() * width, 0);
    let mut done = 0;
    stretch(channels, bits, seed, number, |ints| {
        let places = &mut packed[done..done + width * ints.len()];
        done += places.len();
        if width == 3 {
            for (place, int) in places.as_chunks_mut::<3>().0.iter_mut().zip(ints) {
                let [a, b, c, _] = int.to_le_bytes();
                *place = [a, b, c];
            }
        } else {
            for (place, int) in places.as_chunks_mut::<2>().0.iter_mut().zip(ints) {
                *place = (*int as i16).to_le_bytes();
            }
        }
    });
}

/// Gives one stretch's integers, some frames at a time; none where it is silent.
fn stretch(channels: &[Vec<f32>], bits: u32, seed: u64, number: usize, mut put: impl FnMut(&[i32])) {
    let first = number * STRETCH;
    let parts: Vec<&[f32]> = channels
        .iter()
        .map(|channel| &channel[first.min(channel.len())..channel.len().min(first + STRETCH)])
        .collect();
    if parts.iter().all(|part| part.iter().all(|sample| *sample == 0.0)) {
        return;
    }
    let mut chance = Pcg32::new(seed, number as u64);
    let scale = f64::from(1u32 << (bits - 1));
    let (low, high) = (-scale, scale - 1.0);
    let mut woven = vec![0.0_f32; TOGETHER * parts.len()];
    let mut ints = vec![0_i32; TOGETHER * parts.len()];
    for from in (0..parts[0].len()).step_by(TOGETHER) {
        let frames = TOGETHER.min(parts[0].len() - from);
        for (channel, part) in parts.iter().enumerate() {
            let places = woven[channel..].iter_mut().step_by(parts.len());
            places
                .zip(&part[from..from + frames])
                .for_each(|(place, sample)| *place = *sample);
        }
        let ints = &mut ints[..frames * parts.len()];
        // Two draws of 16 bits from one of 32: fine enough beside a step of 1.
        for int in &mut *ints {
            let draw = chance.next_u32();
            *int = (draw >> 16) as i32 + (draw & 0xffff) as i32 - 65_535;
        }
        wide(|| {
            for (int, sample) in ints.iter_mut().zip(&woven) {
                let value = f64::from(*sample) * scale + f64::from(*int) / 65_536.0;
                let value = if value < low { low } else { value };
                let value = if value > high { high } else { value };
                *int = (value + ROUNDER).to_bits() as i32;
            }
        });
        put(ints);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lipshitz, Wannamaker, Vanderkooy, JAES 1992 [memory]: mean 0, variance Δ²/4, whatever the signal.
    #[test]
    fn the_error_does_not_depend_on_the_signal() {
        for level in [0.0001, 0.3 / 32_768.0, 0.5 / 32_768.0, 0.77, -0.4321] {
            let ints = dithered(&[vec![level; 200_000]], 16, 7);
            let errors: Vec<f64> = ints
                .iter()
                .map(|int| f64::from(*int) - f64::from(level) * 32_768.0)
                .collect();
            let mean = errors.iter().sum::<f64>() / errors.len() as f64;
            let variance = errors.iter().map(|error| (error - mean).powi(2)).sum::<f64>() / errors.len() as f64;
            assert!(
                mean.abs() < 0.006 && (variance - 0.25).abs() < 0.006,
                "{level}: {mean} {variance}"
            );
        }
    }

    #[test]
    fn full_scale_is_clipped_and_silence_stays() {
        let ints = dithered(&[vec![1.5, -1.5], vec![1.0, -1.0]], 24, 1);
        assert_eq!(ints[0], 8_388_607);
        assert_eq!(ints[2], -8_388_608);
        assert_eq!(dithered(&[vec![0.0; 9]], 16, 1), vec![0; 9]);
    }

    #[test]
    fn packed_integers_are_the_same_ones() {
        let channels: Vec<Vec<f32>> = [0.3_f32, -0.9]
            .map(|by| (0..STRETCH + 77).map(|n| by * libm::sinf(n as f32)).collect())
            .into();
        let ints = dithered(&channels, 24, 5);
        let mut packed = Vec::new();
        let mut unpacked = Vec::new();
        for number in 0..3 {
            pack_stretch(&channels, 24, 5, number, &mut packed);
            let words = packed.chunks_exact(3);
            unpacked.extend(words.map(|word| i32::from_le_bytes([0, word[0], word[1], word[2]]) >> 8));
        }
        assert_eq!(unpacked, ints);
        pack_stretch(&channels, 16, 5, 1, &mut packed);
        let ints = dithered(&channels, 16, 5);
        let words = packed.chunks_exact(2);
        let unpacked: Vec<i32> = words
            .map(|word| i32::from(i16::from_le_bytes([word[0], word[1]])))
            .collect();
        assert_eq!(unpacked, ints[2 * STRETCH..]);
    }
}
