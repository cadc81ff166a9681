//! Where a sound stands: a lag between the sides, the width of the side signal, pan and balance.

use std::f64::consts::{FRAC_PI_4, PI};

use super::Effect;
use super::oversample::kaiser;

/// Frames of the lag's interpolator on each side of the frame it asks for.
const REACH: usize = 12;

/// Taps of the interpolator.
const TAPS: usize = 2 * REACH;

/// A lag of one side behind the other.
///
/// The lag need not be a whole number of frames: the late side is read between frames by a windowed sinc of 24 taps. So
/// both sides come [`Effect::latency`] frames late, and a swept lag glides. A lag of a whole number of frames
/// changes no bit.
#[derive(Debug, Clone)]
pub struct Spread {
    rate: u32,
    late: usize,
    whole: usize,
    taps: [f32; TAPS],
    between: bool,
    /// The last frames of each channel, newest at `at`; a power of two long.
    past: Vec<Vec<f32>>,
    at: usize,
}

impl Spread {
    /// A lag in seconds for a rate in Hz: positive values make the right side late, negative ones the left. With one
    /// channel there is nothing to spread, and it only passes with the latency.
    pub fn new(seconds: f64, rate: u32, channels: usize) -> Spread {
        let mut spread = Spread {
            rate,
            late: 0,
            whole: 0,
            taps: [0.0; TAPS],
            between: false,
            past: vec![vec![0.0; TAPS.next_power_of_two()]; channels],
            at: 0,
        };
        spread.set(seconds);
        spread
    }

    /// Changes the lag from the next frame on; what is on its way stays.
    pub fn set(&mut self, seconds: f64) {
        let frames = seconds.abs() * f64::from(self.rate);
        let nearest = libm::round(frames);
        self.late = usize::from(seconds > 0.0);
        // A thousandth of a frame is beyond what the taps resolve.
        self.between = (frames - nearest).abs() > 1e-3;
        let whole = if self.between { libm::floor(frames) } else { nearest };
        self.whole = whole as usize;
        if self.between {
            self.taps = taps(frames - whole);
        }
        self.grow(self.whole + TAPS + 1);
    }

    fn grow(&mut self, frames: usize) {
        let room = frames.next_power_of_two();
        for past in &mut self.past {
            let old = past.len();
            if room > old {
                let mut longer = vec![0.0; room];
                for back in 0..old {
                    longer[self.at.wrapping_sub(back) & (room - 1)] = past[self.at.wrapping_sub(back) & (old - 1)];
                }
                *past = longer;
            }
        }
    }

    fn lagging(&self, past: &[f32]) -> f32 {
        let mask = past.len() - 1;
        let newest = self.at.wrapping_sub(self.whole);
        if !self.between {
            return past[newest.wrapping_sub(REACH) & mask];
        }
        let mut sum = 0.0;
        for (back, tap) in self.taps.iter().enumerate() {
            sum += tap * past[newest.wrapping_sub(back + 1) & mask];
        }
        sum
    }
}

/// Taps that read `share` of a frame before the frame at [`REACH`], the newest frame first.
fn taps(share: f64) -> [f32; TAPS] {
    let mut taps = [0.0; TAPS];
    let sin = libm::sin(PI * share);
    let mut sum = 0.0;
    for (index, tap) in taps.iter_mut().enumerate() {
        // The first tap reads the frame REACH - 1 frames newer than the one at the whole lag.
        let distance = index as f64 - (REACH as f64 - 1.0) - share;
        let sign = if (index + REACH) % 2 == 0 { 1.0 } else { -1.0 };
        *tap = sign * sin / (PI * distance) * kaiser(distance / REACH as f64, 7.0);
        sum += *tap;
    }
    taps.map(|tap| (tap / sum) as f32)
}

impl Effect for Spread {
    fn latency(&self) -> usize {
        REACH
    }

    fn run_in(&self) -> usize {
        self.whole + TAPS
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        let frames = block.first().map_or(0, |channel| channel.len());
        let stereo = self.past.len() > 1;
        for frame in 0..frames {
            self.at = self.at.wrapping_add(1);
            for (index, channel) in block.iter_mut().enumerate().take(self.past.len()) {
                let room = self.past[index].len();
                self.past[index][self.at & (room - 1)] = channel[frame];
                channel[frame] = if stereo && index == self.late {
                    self.lagging(&self.past[index])
                } else {
                    self.past[index][self.at.wrapping_sub(REACH) & (room - 1)]
                };
            }
        }
    }
}

/// The width of a stereo signal: its side signal (half of left minus right) times a factor.
#[derive(Debug, Clone)]
pub struct Width {
    factor: f32,
}

impl Width {
    /// A width: 0 makes mono, 1 changes nothing, more is wider.
    pub fn new(factor: f64) -> Width {
        Width { factor: factor as f32 }
    }

    /// Changes the width from the next frame on.
    pub fn set(&mut self, factor: f64) {
        self.factor = factor as f32;
    }
}

impl Effect for Width {
    fn run_in(&self) -> usize {
        0
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        if self.factor == 1.0 {
            return;
        }
        if let [left, right] = block {
            for (l, r) in left.iter_mut().zip(right.iter_mut()) {
                let (half_l, half_r) = (0.5 * *l, 0.5 * *r);
                let (middle, side) = (half_l + half_r, self.factor * (half_l - half_r));
                *l = (middle + side).clamp(f32::MIN, f32::MAX);
                *r = (middle - side).clamp(f32::MIN, f32::MAX);
            }
        }
    }
}

/// What a mono signal is multiplied by for each side at a pan from -1 (left) to 1 (right): equal power, -3.01 dB on both
/// sides at the centre.
pub fn pan_gains_mono(pan: f64) -> (f64, f64) {
    let angle = (pan.clamp(-1.0, 1.0) + 1.0) * FRAC_PI_4;
    // Sines both, so that hard left and hard right are the same with the sides changed.
    (libm::sin(2.0 * FRAC_PI_4 - angle), libm::sin(angle))
}

/// What the sides of a stereo signal are multiplied by at a balance from -1 (left) to 1 (right): 1 on both at the centre;
/// away from it the near side stays and the far one falls along the quarter of a cosine.
pub fn balance_gains(pan: f64) -> (f64, f64) {
    let pan = pan.clamp(-1.0, 1.0);
    let far = libm::sin((1.0 - pan.abs()) * 2.0 * FRAC_PI_4);
    if pan > 0.0 { (far, 1.0) } else { (1.0, far) }
}
