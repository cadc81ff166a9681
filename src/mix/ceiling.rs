//! The ceiling: a look-ahead limiter on true peaks.
//!
//! True peaks are those between the frames too, found by reading the signal at eighths of a frame (ITU-R BS.1770-5 annex 2
//! asks for quarters). The gain that a peak needs is held over a window, released, and then averaged over that window
//! by two running means (so its weights are a triangle): a mean of gains that are each low enough is low
//! enough, and the signal waits until the mean has seen the whole peak. All of it in log2, so a deep cut is as smooth in dB as
//! a slight one. After P. Hämäläinen, "Smoothing of the control signal without clipped output in digital peak
//! limiters", DAFx 2002. [memory]
//!
//! Gains are whole numbers, in 2^-24 of a doubling: running means of them never drift, and where nothing is over the
//! signal passes bit for bit.

use super::Effect;
use super::compress::keep;
use super::fast::{LOG2_OF_DB, exp2, log2};
use super::hold::Hold;
use super::peaks::{Between, GROUP, REACH};

/// Seconds that each of the two running means spans: together the look-ahead.
const MEAN: f64 = 0.0015;

/// Seconds in which the gain comes back to 37 % of its reduction in dB: short enough not to pump between hits, long
/// enough not to bend a bass note.
const RELEASE: f64 = 0.08;

/// Frames around a peak that get its whole gain, so that the reading between frames sees hardly any slope.
const GUARD: usize = 8;

/// Whole numbers to a doubling.
const ONE: f64 = 16_777_216.0;

/// dB by which what is over goes below the ceiling: for what lies between the eighths of a frame and for the slope.
const UNDER_DB: f64 = 0.1;

/// Frames that are worked through at a time.
const CHUNK: usize = 9 * GROUP;

/// A running mean's sum: the last so many values.
#[derive(Debug, Clone)]
struct Sum {
    values: Vec<u64>,
    at: usize,
    sum: u64,
}

impl Sum {
    fn new(window: usize) -> Sum {
        Sum {
            values: vec![0; window],
            at: 0,
            sum: 0,
        }
    }

    #[inline(always)]
    fn push(&mut self, value: u64) -> u64 {
        self.sum = self.sum + value - self.values[self.at];
        self.values[self.at] = value;
        self.at += 1;
        if self.at == self.values.len() {
            self.at = 0;
        }
        self.sum
    }
}

/// A look-ahead limiter on true peaks; all channels get the same gain.
#[derive(Debug, Clone)]
pub struct Ceiling {
    rate: u32,
    ceiling: f32,
    between: Between,
    hold: Hold,
    kept: f64,
    released: u32,
    means: [Sum; 2],
    deepest: u64,
    /// Each channel's last frames and then the chunk's.
    lines: Vec<Vec<f32>>,
    past: usize,
    peaks: Vec<f32>,
    gains: Vec<f32>,
}

impl Ceiling {
    /// A limiter at a ceiling in dBTP for a rate in Hz and a number of channels, at rest.
    pub fn new(ceiling_db: f64, rate: u32, channels: usize) -> Ceiling {
        let mean = (libm::round(MEAN * f64::from(rate)) as usize).max(1);
        let window = 2 * mean - 1;
        let past = (REACH + window - 1 + GUARD).max(2 * REACH);
        let mut ceiling = Ceiling {
            rate,
            ceiling: 1.0,
            between: Between::new(),
            hold: Hold::new(window + 2 * GUARD + 1),
            kept: keep(RELEASE, rate),
            released: 0,
            means: [Sum::new(mean), Sum::new(mean)],
            deepest: 0,
            lines: vec![vec![0.0; past + CHUNK + GROUP]; channels],
            past,
            peaks: vec![0.0; CHUNK],
            gains: Vec::new(),
        };
        ceiling.set(ceiling_db);
        ceiling
    }

    /// Changes the ceiling for peaks that come from here on; its state stays.
    pub fn set(&mut self, ceiling_db: f64) {
        self.ceiling = (libm::exp10(ceiling_db / 20.0) as f32).max(f32::MIN_POSITIVE);
    }

    /// The factor by which each frame of the last block was multiplied, counted on the delayed signal: those that left.
    pub fn gains(&self) -> &[f32] {
        &self.gains
    }

    /// The largest gain reduction so far in dB, 0 or more.
    pub fn deepest_db(&self) -> f64 {
        self.deepest as f64 / self.unit() / LOG2_OF_DB
    }

    /// Forgets the largest gain reduction, for instance after the run-in.
    pub fn reset_deepest(&mut self) {
        self.deepest = 0;
    }

    /// What the second running sum gives for one doubling.
    fn unit(&self) -> f64 {
        let mean = self.means[0].values.len() as f64;
        ONE * mean * mean
    }

    /// Turns the chunk's peaks into its gains.
    fn follow(&mut self, n: usize) {
        let under = UNDER_DB * LOG2_OF_DB - log2(self.ceiling);
        let scale = -1.0 / self.unit();
        let quiet = self.peaks[..n].iter().all(|peak| *peak <= self.ceiling);
        if quiet && self.released == 0 && self.hold.most() == 0 && self.means[1].sum == 0 && self.means[0].sum == 0 {
            self.gains.extend(std::iter::repeat_n(1.0, n));
            return;
        }
        for peak in &self.peaks[..n] {
            let need = if *peak > self.ceiling {
                libm::ceil((log2(*peak) + under) * ONE) as u32
            } else {
                0
            };
            let held = self.hold.push(need);
            let fallen = (f64::from(self.released) * self.kept) as u32;
            self.released = held.max(fallen);
            let first = self.means[0].push(u64::from(self.released));
            let sum = self.means[1].push(first);
            self.deepest = self.deepest.max(sum);
            self.gains.push(exp2((sum as f64 * scale) as f32));
        }
    }

    fn chunk(&mut self, block: &mut [&mut [f32]], from: usize, n: usize) {
        for (line, channel) in self.lines.iter_mut().zip(block.iter()) {
            line[self.past..self.past + n].copy_from_slice(&channel[from..from + n]);
        }
        self.between
            .peaks(&self.lines, self.past - REACH, self.ceiling, &mut self.peaks[..n]);
        self.follow(n);
        let gains = &self.gains[from..from + n];
        let late = self.latency();
        for (line, channel) in self.lines.iter_mut().zip(block.iter_mut()) {
            let delayed = &line[self.past - late..];
            for ((out, x), gain) in channel[from..from + n].iter_mut().zip(delayed).zip(gains) {
                *out = x * gain;
            }
            line.copy_within(n..n + self.past, 0);
        }
    }
}

impl Effect for Ceiling {
    fn latency(&self) -> usize {
        let window = 2 * self.means[0].values.len() - 1;
        REACH + window - 1 + GUARD
    }

    fn run_in(&self) -> usize {
        // Seven releases, as for the compressor, and the windows.
        let release = libm::ceil(7.0 * RELEASE * f64::from(self.rate)) as usize;
        release + self.hold.window() + self.latency()
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        let frames = block.first().map_or(0, |channel| channel.len());
        self.gains.clear();
        let mut from = 0;
        while from < frames {
            let n = CHUNK.min(frames - from);
            self.chunk(block, from, n);
            from += n;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::signals::{beat, db, noise, run, sine, true_peak};
    use proptest::prelude::*;

    fn limited(signal: &[Vec<f32>], ceiling_db: f64, rate: u32) -> Vec<Vec<f32>> {
        let mut signal = signal.to_vec();
        for channel in &mut signal {
            channel.extend([0.0; 2000]);
        }
        let signal = &signal;
        run(&mut Ceiling::new(ceiling_db, rate, signal.len()), signal, &[480])
    }

    fn awkward() -> Vec<(&'static str, Vec<f32>)> {
        let mut squares = vec![0.0_f32; 24_000];
        for (frame, x) in squares.iter_mut().enumerate() {
            if frame % 6000 < 3000 {
                *x = if frame / 47 % 2 == 0 { 0.9 } else { -0.9 };
            }
        }
        let mut impulses = vec![0.0_f32; 24_000];
        for (index, x) in impulses.iter_mut().step_by(1511).enumerate() {
            *x = if index % 2 == 0 { 2.0 } else { -1.0 };
        }
        let mut alternating = vec![0.0_f32; 12_000];
        for (frame, x) in alternating.iter_mut().enumerate().skip(3000).take(6000) {
            *x = if frame % 2 == 0 { 0.7 } else { -0.7 };
        }
        vec![
            ("square bursts", squares),
            (
                "a quarter of the rate at 45 degrees",
                sine(1.41, 12_000.0, std::f64::consts::FRAC_PI_4, 48_000, 12_000),
            ),
            ("a beat 9 dB over", beat(2.8)),
            ("white noise", noise(1.0, 3, 24_000)),
            ("loud white noise", noise(4.0, 5, 24_000)),
            ("impulses", impulses),
            ("half the rate, cut off hard", alternating),
            ("19 kHz", sine(1.3, 19_000.0, 0.3, 48_000, 12_000)),
            ("a bass note", sine(1.5, 55.0, 0.3, 48_000, 24_000)),
        ]
    }

    #[test]
    fn no_true_peak_goes_over() {
        for (name, signal) in awkward() {
            for ceiling_db in [0.0, -1.0, -6.0, -20.0] {
                let out = limited(&[signal.clone()], ceiling_db, 48_000);
                let over = db(true_peak(&out[0])) - ceiling_db;
                println!("{name} at {ceiling_db}: {over:+.3} dB");
            }
        }
    }
}
