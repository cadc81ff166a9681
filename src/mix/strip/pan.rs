//! Where a sound stands: a lag between the sides, the width of the side signal, pan and balance.

use std::f64::consts::FRAC_PI_4;

use crate::base::windowed_sinc::{kaiser, sinc};
use crate::mix::Effect;

/// Frames of the lag's interpolator on each side of the frame it asks for.
const REACH: usize = 12;

/// Taps of the interpolator.
const TAPS: usize = 2 * REACH;

/// Frames that are worked through at a time.
const CHUNK: usize = 256;

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
    /// The taps of a lag between frames.
    taps: Option<[f32; TAPS]>,
    /// Each channel's last `past` frames and then the chunk's.
    lines: Vec<Vec<f32>>,
    past: usize,
}

impl Spread {
    /// A lag in seconds for a rate in Hz: positive values make the right side late, negative ones the left. With one
    /// channel there is nothing to spread, and it only passes with the latency.
    pub fn new(seconds: f64, rate: u32, channels: usize) -> Spread {
        let mut spread = Spread {
            rate,
            late: 0,
            whole: 0,
            taps: None,
            lines: vec![vec![0.0; TAPS + CHUNK]; channels],
            past: TAPS,
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
        let between = (frames - nearest).abs() > 1e-3;
        let whole = if between { libm::floor(frames) } else { nearest };
        self.whole = whole as usize;
        self.taps = between.then(|| taps(frames - whole));
        let past = self.whole + TAPS;
        if past > self.past {
            // To the next power of two, so that a sweep seldom has to move what it remembers.
            let more = past.next_power_of_two() - self.past;
            for line in &mut self.lines {
                line.splice(0..0, std::iter::repeat_n(0.0, more));
            }
            self.past += more;
        }
    }

    fn chunk(&mut self, block: &mut [&mut [f32]], from: usize, n: usize) {
        let (stereo, past) = (self.lines.len() > 1, self.past);
        for (index, (line, channel)) in self.lines.iter_mut().zip(block.iter_mut()).enumerate() {
            let channel = &mut channel[from..from + n];
            line[past..past + n].copy_from_slice(channel);
            let lag = if stereo && index == self.late { self.whole } else { 0 };
            match &self.taps {
                Some(taps) if stereo && index == self.late => between(channel, &line[past - lag - TAPS..], taps),
                _ => channel.copy_from_slice(&line[past - lag - REACH..][..n]),
            }
            line.copy_within(n..n + past, 0);
        }
    }
}

/// Reads a line between its frames, `TAPS` frames behind the first.
fn between(out: &mut [f32], line: &[f32], taps: &[f32; TAPS]) {
    const WIDE: usize = 16;
    let mut base = 0;
    let mut wide = out.chunks_exact_mut(WIDE);
    for out in &mut wide {
        let mut sum = [0.0_f32; WIDE];
        for (k, tap) in taps.iter().enumerate() {
            let line = &line[TAPS - 1 - k + base..][..WIDE];
            for j in 0..WIDE {
                sum[j] += tap * line[j];
            }
        }
        for j in 0..WIDE {
            out[j] = (4.0 * sum[j]).clamp(f32::MIN, f32::MAX);
        }
        base += WIDE;
    }
    for (j, out) in wide.into_remainder().iter_mut().enumerate() {
        let mut sum = 0.0;
        for (k, tap) in taps.iter().enumerate() {
            sum += tap * line[TAPS - 1 - k + base + j];
        }
        *out = (4.0 * sum).clamp(f32::MIN, f32::MAX);
    }
}

/// Taps that read `share` of a frame before the frame at [`REACH`], the newest frame first. A quarter of what they weigh,
/// so that no sum of them overflows.
fn taps(share: f64) -> [f32; TAPS] {
    let mut taps = [0.0; TAPS];
    let mut sum = 0.0;
    for (index, tap) in taps.iter_mut().enumerate() {
        // The first tap reads the frame REACH - 1 frames newer than the one at the whole lag.
        let distance = index as f64 - (REACH as f64 - 1.0) - share;
        *tap = sinc(distance) * kaiser(distance / REACH as f64, 7.0);
        sum += *tap;
    }
    taps.map(|tap| (0.25 * tap / sum) as f32)
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
        let mut from = 0;
        while from < frames {
            let n = CHUNK.min(frames - from);
            self.chunk(block, from, n);
            from += n;
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
pub(crate) fn pan_gains_mono(pan: f64) -> (f64, f64) {
    let pan = pan.clamp(-1.0, 1.0);
    // Sines both, so that left and right are the same with the sides changed.
    (libm::sin((1.0 - pan) * FRAC_PI_4), libm::sin((1.0 + pan) * FRAC_PI_4))
}

/// What the sides of a stereo signal are multiplied by at a balance from -1 (left) to 1 (right): 1 on both at the centre;
/// away from it the near side stays and the far one falls along the quarter of a cosine.
pub(crate) fn balance_gains(pan: f64) -> (f64, f64) {
    let pan = pan.clamp(-1.0, 1.0);
    let far = libm::sin((1.0 - pan.abs()) * 2.0 * FRAC_PI_4);
    if pan > 0.0 { (far, 1.0) } else { (1.0, far) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::test_signals::{db, noise, run, sine};
    use proptest::prelude::*;

    #[test]
    fn pan_is_equal_power() {
        // -3.01 dB on each side at the centre, power constant within 0.01 dB across the arc. [practice]
        let (left, right) = pan_gains_mono(0.0);
        assert!((db(left) + 3.0103).abs() < 1e-3 && left == right);
        for step in -100..=100 {
            let pan = f64::from(step) / 100.0;
            let (left, right) = pan_gains_mono(pan);
            assert!((db(left * left + right * right) / 2.0).abs() < 1e-9);
            assert_eq!(pan_gains_mono(-pan), (right, left));
            let (left, right) = balance_gains(pan);
            assert_eq!(balance_gains(-pan), (right, left));
            assert_eq!(if pan < 0.0 { left } else { right }, 1.0);
            assert!(left.min(right) <= 1.0);
        }
        assert_eq!(pan_gains_mono(-1.0), (1.0, 0.0));
        assert_eq!(pan_gains_mono(2.0), (0.0, 1.0));
        assert_eq!(balance_gains(0.0), (1.0, 1.0));
        assert_eq!(balance_gains(1.0), (0.0, 1.0));
    }

    #[test]
    fn a_whole_lag_moves_one_side_by_so_many_frames_bit_for_bit() {
        let signal = vec![noise(0.5, 1, 2000), noise(0.5, 2, 2000)];
        for (seconds, left_lag, right_lag) in [(0.01, 0, 480), (-0.01, 480, 0), (0.0, 0, 0)] {
            let mut spread = Spread::new(seconds, 48_000, 2);
            let out = run(&mut spread, &signal, &[100]);
            for ((out, x), lag) in out.iter().zip(&signal).zip([left_lag, right_lag]) {
                let from = spread.latency() + lag;
                assert!(out[..from].iter().all(|x| *x == 0.0));
                assert_eq!(out[from..], x[..2000 - from]);
            }
        }
    }

    #[test]
    fn a_lag_between_frames_lies_where_it_should() {
        for share in [0.25, 0.5, 0.9] {
            for hz in [100.0, 5000.0, 15_000.0] {
                let lag = 20.0 + share;
                let x = sine(0.5, hz, 0.0, 48_000, 4000);
                let mut spread = Spread::new(lag / 48_000.0, 48_000, 2);
                let out = run(&mut spread, &[x.clone(), x], &[100]);
                let late = lag + spread.latency() as f64;
                let phase = -std::f64::consts::TAU * hz * late / 48_000.0;
                let right = sine(0.5, hz, phase, 48_000, 4000);
                let off = out[1][100..]
                    .iter()
                    .zip(&right[100..])
                    .fold(0.0_f32, |most, (a, b)| most.max((a - b).abs()));
                assert!(db(f64::from(off) / 0.5) < -66.0, "{share} {hz}: {off}");
            }
        }
    }

    #[test]
    fn a_swept_lag_glides() {
        let x = sine(0.5, 300.0, 0.0, 48_000, 9600);
        let mut spread = Spread::new(0.001, 48_000, 2);
        let mut right = Vec::new();
        for (index, part) in x.chunks(24).enumerate() {
            // From 1 ms up to 3 ms and back: half a frame more or less each time.
            spread.set(0.003 - 0.002 * (1.0 - index as f64 / 200.0).abs());
            right.extend(run(&mut spread, &[part.to_vec(), part.to_vec()], &[24]).remove(1));
        }
        let step = right[200..]
            .windows(2)
            .fold(0.0_f32, |most, pair| most.max((pair[1] - pair[0]).abs()));
        // The sine's own steepest step is 0.0196; where the lag shrinks, half a frame more of it goes by.
        assert!(step < 0.0196 * 1.5, "{step}");
    }

    #[test]
    fn width_scales_the_side_alone() {
        let signal = vec![noise(0.5, 1, 500), noise(0.5, 2, 500)];
        assert_eq!(run(&mut Width::new(1.0), &signal, &[64]), signal);
        let mono = run(&mut Width::new(0.0), &signal, &[64]);
        assert_eq!(mono[0], mono[1]);
        let wide = run(&mut Width::new(1.5), &signal, &[64]);
        for frame in 0..500 {
            let sides = |channels: &[Vec<f32>]| {
                (
                    channels[0][frame] + channels[1][frame],
                    channels[0][frame] - channels[1][frame],
                )
            };
            let ((middle, side), (was_middle, was_side)) = (sides(&wide), sides(&signal));
            assert!((middle - was_middle).abs() < 1e-6 && (side - 1.5 * was_side).abs() < 1e-6);
        }
    }

    proptest! {
        #[test]
        fn cuts_into_blocks_change_no_bit(blocks in prop::collection::vec(1_usize..300, 1..6), seconds in -0.03_f64..0.03) {
            let signal = vec![noise(0.8, 1, 3000), noise(0.8, 2, 3000)];
            let whole = run(&mut Spread::new(seconds, 48_000, 2), &signal, &[3000]);
            prop_assert!(run(&mut Spread::new(seconds, 48_000, 2), &signal, &blocks) == whole);
        }

        #[test]
        fn stays_finite_and_silent(seconds in -0.1_f64..0.1, factor in 0.0_f64..4.0) {
            let mut signal = vec![noise(f64::from(f32::MAX), 1, 300), noise(f64::from(f32::MAX), 2, 300)];
            for channel in &mut signal {
                channel.extend([0.0; 6000]);
            }
            let mut spread = Spread::new(seconds, 48_000, 2);
            let run_in = spread.run_in();
            let out = run(&mut Width::new(factor), &run(&mut spread, &signal, &[100]), &[100]);
            prop_assert!(out.iter().flatten().all(|x| x.is_finite()));
            prop_assert!(out.iter().all(|channel| channel[300 + run_in..].iter().all(|x| *x == 0.0)));
        }
    }
}
