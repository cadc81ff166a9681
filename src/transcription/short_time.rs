//! Magnitudes of a recording in bands, every few milliseconds.

use std::ops::Range;

use rayon::prelude::*;
use realfft::RealFftPlanner;

use super::RATE;
use crate::base::stages;

/// Frames that one task transforms.
const STRETCH: usize = 256;

/// A short-time Fourier transform, summed into bands.
pub(super) struct ShortTime {
    /// Samples of a window, a power of two.
    pub points: usize,
    /// Samples from one frame to the next.
    pub hop: usize,
    /// The lines of the spectrum that each band has; neighbours touch.
    pub bands: Vec<Range<usize>>,
}

impl ShortTime {
    /// Bands that are so many to an octave; where a band is narrower than a line it is left out.
    pub(super) fn by_octaves(points: usize, hop: usize, hertz: (f64, f64), an_octave: u32) -> ShortTime {
        let bands = (libm::log2(hertz.1 / hertz.0) * f64::from(an_octave)) as u32;
        let edge = |band: u32| hertz.0 * libm::exp2(f64::from(band) / f64::from(an_octave));
        let edges: Vec<f64> = (0..=bands).map(edge).collect();
        ShortTime::between(points, hop, &edges)
    }

    /// Bands between edges in Hz, in rising order.
    pub(super) fn between(points: usize, hop: usize, edges: &[f64]) -> ShortTime {
        let line = |hertz: &f64| libm::round(hertz / f64::from(RATE) * points as f64) as usize;
        let mut lines: Vec<usize> = edges.iter().map(line).filter(|line| *line > 0).collect();
        lines.dedup();
        let bands = lines.windows(2).map(|pair| pair[0]..pair[1].min(points / 2 + 1));
        ShortTime {
            points,
            hop,
            bands: bands.collect(),
        }
    }

    /// Frames of a recording of so many samples: one is centred on every hop's first sample.
    pub(super) fn frames(&self, samples: usize) -> usize {
        samples / self.hop + 1
    }

    /// Something of each band in each frame, frame after frame: `of` has the magnitudes of a band's lines.
    ///
    /// Windows are Hann's; what lies outside the recording is silence.
    pub(super) fn each_band(&self, samples: &[f32], of: impl Fn(&[f32]) -> f32 + Sync) -> Vec<Vec<f32>> {
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(self.points);
        let shape: Vec<f32> = (0..self.points)
            .map(|n| 0.5 - 0.5 * libm::cosf(std::f32::consts::TAU * n as f32 / self.points as f32))
            .collect();
        let frames: Vec<usize> = (0..self.frames(samples.len())).collect();
        let stretches = stages::all("short-time spectra", frames.par_chunks(STRETCH), |stretch| {
            let (mut windowed, mut out) = (fft.make_input_vec(), fft.make_output_vec());
            let mut frame = |number: &usize| {
                let begin = number * self.hop;
                for ((n, sample), shape) in windowed.iter_mut().enumerate().zip(&shape) {
                    let at = (begin + n).checked_sub(self.points / 2).and_then(|at| samples.get(at));
                    *sample = shape * at.copied().unwrap_or(0.0);
                }
                // The lengths are the plan's own.
                let _ = fft.process(&mut windowed, &mut out);
                let magnitudes: Vec<f32> = out.iter().map(|line| libm::hypotf(line.re, line.im)).collect();
                self.bands
                    .iter()
                    .map(|band| of(&magnitudes[band.clone()]))
                    .collect::<Vec<f32>>()
            };
            stretch.iter().map(&mut frame).collect::<Vec<_>>()
        });
        stretches.into_iter().flatten().collect()
    }
}

/// The mean of a band's magnitudes.
pub(super) fn mean(magnitudes: &[f32]) -> f32 {
    magnitudes.iter().sum::<f32>() / magnitudes.len().max(1) as f32
}

/// The value that a share of all lies below; 0 of none.
pub(super) fn percentile(values: impl IntoIterator<Item = f32>, share: f64) -> f32 {
    let mut values: Vec<f32> = values.into_iter().collect();
    if values.is_empty() {
        return 0.0;
    }
    let at = libm::round(share * (values.len() - 1) as f64) as usize;
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}
