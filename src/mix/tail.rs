//! A room's decay: how long each octave rings, and noise that rings so.

use rand::Rng;
use rand_pcg::Pcg32;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

/// Octaves that decay for themselves: all up to 1 kHz, then those of 2, 4, 8 and 16 kHz.
const BANDS: usize = 5;

/// Half the width of the crossover from band to band, in octaves.
const CROSSOVER: f64 = 1.0 / 6.0;

/// The share of `decay` that the damping takes at 8 kHz when it is full.
const FULL_DAMPING: f64 = 0.8;

/// ln(1000): an amplitude that falls by it has fallen 60 dB.
const SIXTY_DB: f64 = 6.907_755_278_982_137;

/// How long each band takes to fall 60 dB.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Decays {
    /// Seconds, from the lowest band up.
    seconds: [f64; BANDS],
}

impl Decays {
    /// `decay` seconds in the octaves up to 1 kHz and `decay * (1 - 0.8 * damping)` at 8 kHz, linear in octaves
    /// between and above, but at 16 kHz never less than half of what it is at 8.
    pub fn new(decay: f64, damping: f64) -> Decays {
        let at = |octaves_over_1k: f64| decay * (1.0 - FULL_DAMPING * damping * octaves_over_1k / 3.0);
        Decays {
            seconds: [decay, at(1.0), at(2.0), at(3.0), at(4.0).max(at(3.0) / 2.0)],
        }
    }

    /// Seconds until the slowest band has fallen by `db`.
    pub fn seconds_to_fall(&self, db: f64) -> f64 {
        self.seconds[0] * db / 60.0
    }

    /// The mean, over the frequencies below half of `rate`, of the energy of a steady flat sound that decays so.
    pub fn energy(&self, rate: f64) -> f64 {
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
    pub fn apply(&self, excitation: &[f32], start: usize, rate: f64) -> Vec<f32> {
        let mut out = vec![0.0; excitation.len()];
        if self.seconds.iter().all(|seconds| *seconds == self.seconds[0]) {
            add_decaying(&mut out, excitation, 0, start, rate, self.seconds[0]);
            return out;
        }
        // Half a second a block, with room at its ends for what the crossovers smear: they are without delay, and
        // reach a few milliseconds either way.
        let points = ((rate / 2.0) as usize).next_power_of_two();
        let margin = points / 32;
        let hop = points - 2 * margin;
        let mut planner = RealFftPlanner::<f32>::new();
        let (forward, inverse) = (planner.plan_fft_forward(points), planner.plan_fft_inverse(points));
        let shares = shares(points, rate);
        let mut time = forward.make_input_vec();
        let mut spectrum = forward.make_output_vec();
        let mut band_spectrum = forward.make_output_vec();
        let mut scratch = vec![Complex::default(); forward.get_scratch_len().max(inverse.get_scratch_len())];
        for at in (0..excitation.len()).step_by(hop) {
            for (point, sample) in time.iter_mut().enumerate() {
                let frame = (at + point).checked_sub(margin);
                *sample = frame.and_then(|frame| excitation.get(frame)).map_or(0.0, |e| *e);
            }
            forward
                .process_with_scratch(&mut time, &mut spectrum, &mut scratch)
                .expect("buffers made to measure");
            for (share, seconds) in shares.iter().zip(self.seconds) {
                let elapsed = at.saturating_sub(start) as f64 / rate;
                if elapsed * 60.0 > 140.0 * seconds {
                    continue;
                }
                for ((band, whole), share) in band_spectrum.iter_mut().zip(&spectrum).zip(share) {
                    *band = whole * share;
                }
                inverse
                    .process_with_scratch(&mut band_spectrum, &mut time, &mut scratch)
                    .expect("buffers made to measure");
                let len = hop.min(out.len() - at);
                add_decaying(
                    &mut out[at..at + len],
                    &time[margin..margin + len],
                    at,
                    start,
                    rate,
                    seconds,
                );
            }
        }
        out
    }
}

/// Where a band ends, in Hz: half an octave above its centre; the last one never does.
fn upper_edge(band: usize) -> f64 {
    if band + 1 == BANDS {
        return f64::INFINITY;
    }
    1000.0 * libm::exp2(band as f64 + 0.5)
}

/// Each band's share of each bin, scaled for an unscaled inverse transform. The shares of a bin sum to 1.
fn shares(points: usize, rate: f64) -> [Vec<f32>; BANDS] {
    let below = |band: usize, hertz: f64| {
        let octaves = (libm::log2(hertz / upper_edge(band)) / CROSSOVER).clamp(-1.0, 1.0);
        0.5 - 0.5 * libm::sin(octaves * std::f64::consts::FRAC_PI_2)
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
pub(super) fn noise(stream: u64) -> impl FnMut() -> f32 {
    let mut random = Pcg32::new(0x9e37_79b9_7f4a_7c15, stream);
    // Four draws of 16 bits, from 0 to 65,535 each: the variance of one is (65,536² - 1)/12.
    let scale = 1.0 / (4.0 * (65_536.0 * 65_536.0 - 1.0) / 12.0_f64).sqrt();
    move || {
        let (a, b) = (random.next_u32(), random.next_u32());
        let sum = (a & 0xffff) + (a >> 16) + (b & 0xffff) + (b >> 16);
        ((f64::from(sum) - 131_070.0) * scale) as f32
    }
}
