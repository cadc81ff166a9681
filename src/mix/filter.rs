//! Low cut, high cut and bells: second-order sections by the audio EQ cookbook.
//!
//! Formulas: R. Bristow-Johnson, "Cookbook formulae for audio equalizer biquad filter coefficients". Run as a transposed
//! direct form II with 64-bit state, which stays well-behaved while its settings are swept.

use std::f64::consts::{FRAC_1_SQRT_2, LN_2, TAU};

use super::Effect;
use crate::loopfile::Bell;

/// The highest cut or centre, as a share of the rate; the bilinear transform has no room above.
const HIGHEST: f64 = 0.49;

/// Frames from one look at the state to the next. Counted along the signal, so cuts into blocks don't show.
const LOOK: usize = 64;

/// State below this is taken for silence, long before it reaches the slow denormal numbers.
const SILENT: f64 = 1e-30;

/// What a [`Filter`] does to the spectrum.
#[derive(Debug, Clone, PartialEq)]
pub enum Curve {
    /// Takes away what lies below a frequency in Hz: second-order Butterworth, -3.01 dB there, 12 dB an octave.
    LowCut(f64),
    /// Takes away what lies above a frequency in Hz, likewise. At 0.49 of the rate or more it is off.
    HighCut(f64),
    /// Raises or lowers around a centre; see [`Bell`].
    Bell(Bell),
}

/// The five coefficients of a second-order section, divided by a0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    b: [f64; 3],
    a: [f64; 2],
}

impl Section {
    /// The section that leaves everything as it is.
    pub const PLAIN: Section = Section {
        b: [1.0, 0.0, 0.0],
        a: [0.0, 0.0],
    };

    /// The section that has a curve at a rate in Hz.
    ///
    /// Frequencies are kept between 0.1 Hz and 0.49 of the rate; a high cut above is off, and so is a low cut
    /// at or below 0 Hz.
    pub fn new(curve: &Curve, rate: u32) -> Section {
        let rate = f64::from(rate);
        let angle = |hz: f64| TAU * (hz / rate).clamp(0.1 / rate, HIGHEST);
        match curve {
            Curve::LowCut(hz) if *hz <= 0.0 => Section::PLAIN,
            Curve::HighCut(hz) if *hz >= HIGHEST * rate => Section::PLAIN,
            Curve::LowCut(hz) => {
                let (alpha, cos) = butterworth(angle(*hz));
                let half = (1.0 + cos) / 2.0;
                Section::over([half, -2.0 * half, half], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
            }
            Curve::HighCut(hz) => {
                let (alpha, cos) = butterworth(angle(*hz));
                let half = (1.0 - cos) / 2.0;
                Section::over([half, 2.0 * half, half], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
            }
            Curve::Bell(bell) => Section::bell(bell, angle(bell.at)),
        }
    }

    fn bell(bell: &Bell, angle: f64) -> Section {
        let gain = libm::exp10(bell.gain_db / 40.0);
        let (sin, cos) = (libm::sin(angle), libm::cos(angle));
        let alpha = sin * libm::sinh(LN_2 / 2.0 * bell.width * angle / sin);
        Section::over(
            [1.0 + alpha * gain, -2.0 * cos, 1.0 - alpha * gain],
            [1.0 + alpha / gain, -2.0 * cos, 1.0 - alpha / gain],
        )
    }

    fn over(b: [f64; 3], a: [f64; 3]) -> Section {
        Section {
            b: b.map(|coefficient| coefficient / a[0]),
            a: [a[1] / a[0], a[2] / a[0]],
        }
    }

    /// The factor by which it changes the amplitude of a steady sine of `hz` at a rate in Hz.
    pub fn gain_at(&self, hz: f64, rate: u32) -> f64 {
        let angle = TAU * hz / f64::from(rate);
        let size = |c: [f64; 3]| {
            let re = c[0] + c[1] * libm::cos(angle) + c[2] * libm::cos(2.0 * angle);
            let im = c[1] * libm::sin(angle) + c[2] * libm::sin(2.0 * angle);
            libm::hypot(re, im)
        };
        size(self.b) / size([1.0, self.a[0], self.a[1]])
    }

    /// Frames after which its response has fallen below -120 dB, from the radius of its outermost pole.
    pub fn run_in(&self) -> usize {
        let [a1, a2] = self.a;
        let apart = a1 * a1 / 4.0 - a2;
        let radius = if apart < 0.0 {
            a2.sqrt()
        } else {
            a1.abs() / 2.0 + apart.sqrt()
        };
        if radius <= 0.0 {
            return 2;
        }
        // 20 dB more than asked, since poles that lie close together first rise before they fall.
        let frames = libm::log(1e-7) / libm::log(radius.min(0.999_999_9));
        libm::ceil(frames) as usize + 2
    }

    #[inline(always)]
    fn step(&self, state: &mut [f64; 2], x: f64) -> f64 {
        let y = self.b[0] * x + state[0];
        state[0] = (self.b[1] * x + state[1]) - self.a[0] * y;
        state[1] = self.b[2] * x - self.a[1] * y;
        y
    }
}

/// The cookbook's alpha for Q = 1/√2, and the angle's cosine.
fn butterworth(angle: f64) -> (f64, f64) {
    (libm::sin(angle) * FRAC_1_SQRT_2, libm::cos(angle))
}

/// A low cut, a high cut or a bell on one strip.
#[derive(Debug, Clone)]
pub struct Filter {
    section: Section,
    rate: u32,
    state: Vec<[f64; 2]>,
    until_look: usize,
}

impl Filter {
    /// A filter for a rate in Hz and a number of channels, at rest.
    pub fn new(curve: &Curve, rate: u32, channels: usize) -> Filter {
        Filter {
            section: Section::new(curve, rate),
            rate,
            state: vec![[0.0; 2]; channels],
            until_look: LOOK,
        }
    }

    /// Changes what it does from the next frame on; its state stays.
    pub fn set(&mut self, curve: &Curve) {
        self.section = Section::new(curve, self.rate);
    }

    /// Has done so many frames; now and then it looks for a tail that nobody hears.
    fn look(&mut self, frames: usize) {
        self.until_look -= frames;
        if self.until_look > 0 {
            return;
        }
        self.until_look = LOOK;
        for value in self.state.iter_mut().flatten() {
            if value.abs() < SILENT {
                *value = 0.0;
            }
        }
    }

    /// True while it changes nothing.
    fn rests(&self) -> bool {
        self.section == Section::PLAIN && self.state.iter().flatten().all(|value| *value == 0.0)
    }
}

/// Sends a block through filters, one after another: the same bits as one by one, but two of them at a time go through it side by
/// side, since a filter mostly waits for its own last frame.
pub fn chain<'a>(filters: impl Iterator<Item = &'a mut Filter>, block: &mut [&mut [f32]]) {
    let mut filters = filters.filter(|filter| !filter.rests());
    while let Some(one) = filters.next() {
        match filters.next() {
            Some(other) => through([one, other], block),
            None => through([one], block),
        }
    }
}

fn states<const N: usize>(filters: &[&mut Filter; N], channel: usize) -> [[f64; 2]; N] {
    filters.each_ref().map(|filter| filter.state[channel])
}

fn set_states<const N: usize>(filters: &mut [&mut Filter; N], channel: usize, states: [[f64; 2]; N]) {
    for (filter, state) in filters.iter_mut().zip(states) {
        filter.state[channel] = state;
    }
}

/// Sends a block through some filters in one loop.
fn through<const N: usize>(mut filters: [&mut Filter; N], block: &mut [&mut [f32]]) {
    let frames = block.first().map_or(0, |channel| channel.len());
    let sections = filters.each_ref().map(|filter| filter.section);
    let step = |states: &mut [[f64; 2]; N], sample: &mut f32| {
        for (section, state) in sections.iter().zip(states) {
            *sample = narrow(section.step(state, f64::from(*sample)));
        }
    };
    let mut from = 0;
    while from < frames {
        let until_look = filters.iter().map(|filter| filter.until_look).min();
        let to = until_look.map_or(frames, |until| frames.min(from + until));
        match &mut *block {
            // Both sides in one loop: each waits for its own last frame, so the two overlap.
            [left, right] => {
                let (mut of_left, mut of_right) = (states(&filters, 0), states(&filters, 1));
                for (l, r) in left[from..to].iter_mut().zip(&mut right[from..to]) {
                    step(&mut of_left, l);
                    step(&mut of_right, r);
                }
                set_states(&mut filters, 0, of_left);
                set_states(&mut filters, 1, of_right);
            }
            channels => {
                for (number, channel) in channels.iter_mut().enumerate() {
                    let mut own = states(&filters, number);
                    channel[from..to].iter_mut().for_each(|sample| step(&mut own, sample));
                    set_states(&mut filters, number, own);
                }
            }
        }
        filters.iter_mut().for_each(|filter| filter.look(to - from));
        from = to;
    }
}

impl Effect for Filter {
    fn run_in(&self) -> usize {
        self.section.run_in()
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        if self.rests() {
            return;
        }
        through([self], block);
    }
}

/// To 32 bits, at the largest number and not at infinity where it's too large for them.
#[inline(always)]
pub(super) fn narrow(value: f64) -> f32 {
    value.clamp(f64::from(f32::MIN), f64::from(f32::MAX)) as f32
}

#[cfg(test)]
#[path = "filter_tests.rs"]
mod tests;
