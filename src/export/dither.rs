//! The last step of integer audio: dither and rounding.

use rand::Rng;
use rand_pcg::Pcg32;
use rayon::prelude::*;

/// Frames that share a stream of chance, so that any number of threads gives the same dither.
const STRETCH: usize = 65_536;

/// Interleaves channels and rounds them to integers of so many bits, with triangular dither.
///
/// The dither is the sum of two even draws, two steps wide from end to end (TPDF; Lipshitz, Wannamaker, Vanderkooy,
/// JAES 1992 [memory]): the total error then has mean 0 and variance Δ²/4 whatever the signal. Silence that lasts
/// for a whole stretch in every channel stays silence. Values beyond full scale are clipped.
pub fn dithered(channels: &[Vec<f32>], bits: u32, seed: u64) -> Vec<i32> {
    let frames = channels.first().map_or(0, Vec::len);
    let mut out = vec![0; frames * channels.len()];
    out.par_chunks_mut(STRETCH * channels.len().max(1))
        .enumerate()
        .for_each(|(number, out)| {
            let from = number * STRETCH;
            let parts: Vec<&[f32]> = channels
                .iter()
                .map(|channel| &channel[from..frames.min(from + STRETCH)])
                .collect();
            if parts.iter().any(|part| part.iter().any(|sample| *sample != 0.0)) {
                round_stretch(&parts, bits, Pcg32::new(seed, number as u64), out);
            }
        });
    out
}

fn round_stretch(channels: &[&[f32]], bits: u32, mut chance: Pcg32, out: &mut [i32]) {
    let scale = f64::from(1u32 << (bits - 1));
    let (low, high) = (-scale, scale - 1.0);
    for (frame, out) in out.chunks_exact_mut(channels.len()).enumerate() {
        for (channel, out) in channels.iter().zip(out) {
            // Two draws of 16 bits from one of 32: fine enough beside a step of 1.
            let draw = chance.next_u32();
            let triangle = (f64::from(draw >> 16) + f64::from(draw & 0xffff) - 65_535.0) / 65_536.0;
            *out = (f64::from(channel[frame]) * scale + triangle).round().clamp(low, high) as i32;
        }
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
}
