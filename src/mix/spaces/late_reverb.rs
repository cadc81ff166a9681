//! A room's decay: how long each octave rings, and noise that rings so.

use std::f64::consts::FRAC_PI_2;
use std::sync::Arc;

use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

/// Octaves that decay for themselves: all up to 1 kHz, then those of 2, 4, 8 and 16 kHz.
const BANDS: usize = 5;

/// Half the width of the crossover from band to band, in octaves.
const CROSSOVER: f64 = 1.0 / 12.0;

/// The share of `decay` that the damping takes at 8 kHz when it is full.
const FULL_DAMPING: f64 = 0.8;

/// A band that has fallen so far, in dB, is left out.
const FORGOTTEN: f64 = 140.0;

/// ln(1000): an amplitude that falls by it has fallen 60 dB.
const SIXTY_DB: f64 = 6.907_755_278_982_137;

/// How long each band takes to fall 60 dB.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Decays {
    /// Seconds, from the lowest band up.
    seconds: [f64; BANDS],
}

impl Decays {
    /// `decay` seconds in the octaves up to 1 kHz and `decay * (1 - 0.8 * damping)` at 8 kHz, linear in octaves
    /// between and above, but at 16 kHz never less than half of what it is at 8.
    pub(crate) fn new(decay: f64, damping: f64) -> Decays {
        let at = |octaves_over_1k: f64| decay * (1.0 - FULL_DAMPING * damping * octaves_over_1k / 3.0);
        Decays {
            seconds: [decay, at(1.0), at(2.0), at(3.0), at(4.0).max(at(3.0) / 2.0)],
        }
    }

    /// Seconds until the slowest band has fallen by `db`.
    pub(crate) fn seconds_to_fall(&self, db: f64) -> f64 {
        self.seconds[0] * db / 60.0
    }

    /// The mean decay in seconds over all frequencies up to 24 kHz.
    pub(crate) fn mean(&self) -> f64 {
        self.energy(48_000.0) * 2.0 * SIXTY_DB
    }

    /// The mean, over the frequencies below half of `rate`, of the energy of a steady flat sound that decays so.
    pub(crate) fn energy(&self, rate: f64) -> f64 {
        let mut from = 0.0;
        let mut sum = 0.0;
        for (band, seconds) in self.seconds.iter().enumerate() {
            let to = upper_edge(band).min(rate / 2.0);
            sum += (to - from) * seconds / (2.0 * SIXTY_DB);
            from = to;
        }
        sum / (rate / 2.0)
    }

    /// Lets an excitation decay from frame `start` on, each band in its own time; what lies before it is left.
    pub(crate) fn apply(&self, excitation: &[f32], start: usize, bank: &Bank) -> Vec<f32> {
        let rate = bank.rate;
        let mut out = vec![0.0; excitation.len()];
        if self.seconds.iter().all(|seconds| *seconds == self.seconds[0]) {
            add_decaying(&mut out, excitation, 0, start, rate, self.seconds[0]);
            return out;
        }
        let mut bench = bank.bench();
        for at in (0..excitation.len()).step_by(bank.hop) {
            bank.take(excitation, at, &mut bench);
            let elapsed = at.saturating_sub(start) as f64 / rate;
            let len = bank.hop.min(out.len() - at);
            for (band, seconds) in self.seconds.into_iter().enumerate() {
                if elapsed * 60.0 < FORGOTTEN * seconds {
                    let steady = &bank.band(band, &mut bench)[..len];
                    add_decaying(&mut out[at..at + len], steady, at, start, rate, seconds);
                }
            }
        }
        out
    }
}

/// Parts a sound into the bands, block by block, so that the bands sum to the sound.
pub(crate) struct Bank {
    rate: f64,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    shares: [Vec<f32>; BANDS],
    /// Frames at either end of a block for what the crossovers smear: they are without delay, and reach a few
    /// milliseconds either way.
    margin: usize,
    hop: usize,
}

/// What one task works on.
struct Bench {
    time: Vec<f32>,
    whole: Vec<Complex<f32>>,
    band: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

impl Bank {
    /// A bank for a rate in Hz; blocks are of about a sixth of a second.
    pub(crate) fn new(rate: f64) -> Bank {
        let points = ((rate / 8.0) as usize).next_power_of_two();
        let margin = points / 8;
        let mut planner = RealFftPlanner::new();
        Bank {
            rate,
            forward: planner.plan_fft_forward(points),
            inverse: planner.plan_fft_inverse(points),
            shares: shares(points, rate),
            margin,
            hop: points - 2 * margin,
        }
    }

    fn bench(&self) -> Bench {
        let scratch = self.forward.get_scratch_len().max(self.inverse.get_scratch_len());
        Bench {
            time: self.forward.make_input_vec(),
            whole: self.forward.make_output_vec(),
            band: self.forward.make_output_vec(),
            scratch: vec![Complex::default(); scratch],
        }
    }

    /// Takes the block whose first frame is `at`.
    fn take(&self, sound: &[f32], at: usize, bench: &mut Bench) {
        let before = self.margin.saturating_sub(at);
        let first = (at + before).saturating_sub(self.margin);
        let run = (sound.len() - first).min(bench.time.len() - before);
        bench.time[..before].fill(0.0);
        bench.time[before..before + run].copy_from_slice(&sound[first..first + run]);
        bench.time[before + run..].fill(0.0);
        self.forward
            .process_with_scratch(&mut bench.time, &mut bench.whole, &mut bench.scratch)
            .expect("buffers made to measure");
    }

    /// One band of the block taken last.
    fn band<'b>(&self, band: usize, bench: &'b mut Bench) -> &'b [f32] {
        let shares = &self.shares[band];
        for ((part, whole), share) in bench.band.iter_mut().zip(&bench.whole).zip(shares) {
            *part = whole * share;
        }
        self.inverse
            .process_with_scratch(&mut bench.band, &mut bench.time, &mut bench.scratch)
            .expect("buffers made to measure");
        &bench.time[self.margin..self.margin + self.hop]
    }
}

/// Where a band ends, in Hz; the last one never does.
///
/// That would be half an octave over its centre, but that octave filters let their lower neighbour through, which
/// rings longer: where decays part most, the faster band gets some of its neighbour's octave.
fn upper_edge(band: usize) -> f64 {
    const OCTAVES_OVER_1K: [f64; BANDS] = [0.5, 1.4, 2.1, 3.5, f64::INFINITY];
    1000.0 * libm::exp2(OCTAVES_OVER_1K[band])
}

/// Each band's share of each bin, scaled for an unscaled inverse transform. The shares of a bin sum to 1.
fn shares(points: usize, rate: f64) -> [Vec<f32>; BANDS] {
    let below = |band: usize, hertz: f64| {
        let ratio = hertz / upper_edge(band);
        if ratio < 0.5 {
            return 1.0;
        } else if ratio > 2.0 {
            return 0.0;
        }
        let octaves = (libm::log2(ratio) / CROSSOVER).clamp(-1.0, 1.0);
        0.5 - 0.5 * libm::sin(octaves * FRAC_PI_2)
    };
    std::array::from_fn(|band| {
        (0..=points / 2)
            .map(|bin| {
                let hertz = bin as f64 * rate / points as f64;
                let under = if band == 0 { 0.0 } else { below(band - 1, hertz) };
                ((below(band, hertz) - under) / points as f64) as f32
            })
            .collect()
    })
}

/// Adds frames `from ..` of a steady sound, decaying since frame `start`.
fn add_decaying(out: &mut [f32], steady: &[f32], from: usize, start: usize, rate: f64, seconds: f64) {
    const RUN: usize = 64;
    let fall = -SIXTY_DB / (seconds * rate);
    let run: [f32; RUN] = std::array::from_fn(|frame| libm::exp(fall * frame as f64) as f32);
    for (number, (out, steady)) in out.chunks_mut(RUN).zip(steady.chunks(RUN)).enumerate() {
        let elapsed = (from + number * RUN) as f64 - start as f64;
        // Before `start` nothing has decayed yet; what a run that straddles it gains is a fraction of a dB.
        let level = libm::exp(fall * elapsed.max(0.0)) as f32;
        for ((out, steady), fallen) in out.iter_mut().zip(steady).zip(&run) {
            *out += steady * level * fallen;
        }
    }
}

/// Noise of variance 1 and very nearly normal: the sum of four even draws, the same on every machine.
pub(crate) fn noise(stream: u64) -> impl FnMut() -> f32 {
    let mut random = Pcg32::new(0x9e37_79b9_7f4a_7c15, stream);
    // Four draws of 16 bits, from 0 to 65,535 each: the variance of one is (65,536² - 1)/12.
    let scale = 1.0 / (4.0 * (65_536.0 * 65_536.0 - 1.0) / 12.0_f64).sqrt();
    move || {
        let (a, b) = (random.next_u32(), random.next_u32());
        let sum = (a & 0xffff) + (a >> 16) + (b & 0xffff) + (b >> 16);
        ((f64::from(sum) - 131_070.0) * scale) as f32
    }
}
