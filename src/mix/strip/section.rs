//! A second-order section: its coefficients, and what they do to a sine.

use std::f64::consts::TAU;

/// The five coefficients of a second-order section, divided by a0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    pub(super) b: [f64; 3],
    pub(super) a: [f64; 2],
}

impl Section {
    /// The section that leaves everything as it is.
    pub const PLAIN: Section = Section {
        b: [1.0, 0.0, 0.0],
        a: [0.0, 0.0],
    };

    pub(crate) fn over(b: [f64; 3], a: [f64; 3]) -> Section {
        Section {
            b: b.map(|coefficient| coefficient / a[0]),
            a: [a[1] / a[0], a[2] / a[0]],
        }
    }

    /// The factor by which it changes the amplitude of a steady sine of `hz` at a rate in Hz.
    pub fn gain_at(&self, hz: f64, rate: u32) -> f64 {
        let angle = TAU * hz / f64::from(rate);
        // Around 1, so that what is left where zeros or poles lie close to it is not lost in rounding.
        let (turn, half) = (libm::sin(angle), libm::sin(angle / 2.0));
        let size = |[c0, c1, c2]: [f64; 3]| {
            let re =
                (c0 + c1 + c2) - 2.0 * half * half * (c1 + 4.0 * c2 * libm::cos(angle / 2.0) * libm::cos(angle / 2.0));
            let im = turn * (c1 + 2.0 * c2 * libm::cos(angle));
            libm::hypot(re, im)
        };
        size(self.b) / size([1.0, self.a[0], self.a[1]])
    }

    /// The radius of its outermost pole.
    pub(super) fn radius(&self) -> f64 {
        let [a1, a2] = self.a;
        let apart = a1 * a1 / 4.0 - a2;
        let radius = if apart < 0.0 {
            a2.sqrt()
        } else {
            a1.abs() / 2.0 + apart.sqrt()
        };
        radius.min(0.999_999_9)
    }

    #[inline(always)]
    pub(super) fn step(&self, state: &mut [f64; 2], x: f64) -> f64 {
        let y = self.b[0] * x + state[0];
        state[0] = (self.b[1] * x + state[1]) - self.a[0] * y;
        state[1] = self.b[2] * x - self.a[1] * y;
        y
    }
}

/// To 32 bits, at the largest number and not at infinity where it's too large for them.
#[inline(always)]
pub(crate) fn narrow(value: f64) -> f32 {
    value.clamp(f64::from(f32::MIN), f64::from(f32::MAX)) as f32
}
