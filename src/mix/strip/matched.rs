//! Analogue second-order sections, matched by digital ones up to 0.4 of any rate.
//!
//! The bilinear transform bends the frequency axis: what lies near half the rate is narrower than asked for, or lifts everything.
//! Here poles and zeros are the analogue ones themselves, by z = e^s (the matched z-transform), so resonances lie where they
//! should at any rate. What is left to put right is a smooth curve of frequency: the ratio of the analogue power
//! to that of the matched section. M. Vicanek, "Matched Second Order Digital Filters", 2016, writes powers as polynomials of
//! φ = sin²(ω/2) and finds the section of such a polynomial; a second section corrects that ratio in his way.
//!
//! Frequencies are angles here, 2π·f/rate.

use std::f64::consts::{FRAC_1_SQRT_2, LN_2};

use super::section::Section;

/// The two frequencies at which a correction is exact, beside 0: 0.29 and 0.39 of the rate, as φ.
const PLACES: [f64; 2] = [0.624_344_943_582_427_3, 0.885_256_621_387_894_6];

/// The squares of their angles.
const SQUARES: [f64; 2] = [3.320_134_920_526_46, 6.004_667_317_622_765];

/// What both polynomials of a correction have in common at these places, where there is nothing to correct. Found by a search: so the
/// error is least over all bells, 0.02 dB.
const COMMON: [f64; 2] = [0.350, 0.1466];

/// A correction of less than this at these places, as a part of the power (0.01 dB), is left out.
const CLOSE: f64 = 0.0023;

/// An analogue quadratic s² + 2·`damping`·s + `square`, zeros or poles.
#[derive(Clone, Copy)]
struct Quadratic {
    damping: f64,
    square: f64,
}

/// The digital quadratic 1 + c1·z⁻¹ + c2·z⁻² with the matched roots.
#[derive(Clone, Copy)]
struct Matched {
    c1: f64,
    c2: f64,
    /// Its value at frequency 0, worked out without cancellation.
    sum: f64,
}

impl Quadratic {
    /// The poles of a Butterworth cut.
    fn butterworth(angle: f64) -> Quadratic {
        Quadratic {
            damping: angle * FRAC_1_SQRT_2,
            square: angle * angle,
        }
    }

    fn matched(self) -> Matched {
        let Quadratic { damping, square } = self;
        let apart = damping * damping - square;
        if apart < 0.0 {
            let (radius, turn) = (libm::exp(-damping), libm::sqrt(-apart));
            let (short, half) = (libm::expm1(-damping), libm::sin(turn / 2.0));
            return Matched {
                c1: -2.0 * radius * libm::cos(turn),
                c2: radius * radius,
                sum: short * short + 4.0 * radius * half * half,
            };
        }
        let fast = damping + libm::sqrt(apart);
        let slow = square / fast;
        let (far, near) = (libm::expm1(-fast), libm::expm1(-slow));
        Matched {
            c1: -(far + 1.0) - (near + 1.0),
            c2: (far + 1.0) * (near + 1.0),
            sum: far * near,
        }
    }

    /// Its power at an angle of which the square is given, as a part of that at 0.
    fn power(self, angle: f64) -> f64 {
        let off = self.square - angle;
        (off * off + 4.0 * self.damping * self.damping * angle) / (self.square * self.square)
    }
}

impl Matched {
    /// Its power at φ, as a part of that at 0.
    fn power(self, phi: f64) -> f64 {
        let Matched { c1, c2, sum } = self;
        let square = sum * sum;
        (square + phi * (16.0 * c2 * phi - 4.0 * (c1 + 4.0 * c2 + c1 * c2))) / square
    }

    /// Its coefficients, as large as they must be for a value at frequency 0.
    fn scaled(self, at_zero: f64) -> [f64; 3] {
        let scale = at_zero / self.sum;
        [scale, scale * self.c1, scale * self.c2]
    }
}

/// By how much a quadratic has more power than the matched one, at both places.
fn lost(quadratic: Quadratic, matched: Matched) -> [f64; 2] {
    std::array::from_fn(|n| quadratic.power(SQUARES[n]) / matched.power(PLACES[n]))
}

/// A bell: its section, and the one that corrects it. The analogue prototype is the cookbook's; see [`super::filter`].
pub(crate) fn bell(angle: f64, gain_db: f64, width: f64) -> [Section; 2] {
    let gain = libm::exp10(gain_db / 40.0);
    // 1 / 2Q.
    let spread = angle * libm::sinh(LN_2 / 2.0 * width);
    let quadratic = |damping| Quadratic {
        damping,
        square: angle * angle,
    };
    let (zeros, poles) = (quadratic(spread * gain), quadratic(spread / gain));
    let (above, below) = (zeros.matched(), poles.matched());
    let (of_zeros, of_poles) = (lost(zeros, above), lost(poles, below));
    let section = Section::over(above.scaled(1.0), below.scaled(1.0));
    [section, correction([0, 1].map(|n| of_zeros[n] / of_poles[n]))]
}

/// A low cut: its section, and the one that corrects it.
pub(crate) fn low_cut(angle: f64) -> [Section; 2] {
    let poles = Quadratic::butterworth(angle);
    let below = poles.matched();
    let of_poles = lost(poles, below);
    // Two zeros at frequency 0: there ω⁴ has the power 16·φ².
    let of_zeros = |n: usize| SQUARES[n] * SQUARES[n] / (16.0 * PLACES[n] * PLACES[n]);
    let scale = 1.0 / (angle * angle);
    let section = Section::over([scale, -2.0 * scale, scale], below.scaled(1.0));
    [section, correction([0, 1].map(|n| of_zeros(n) / of_poles[n]))]
}

/// A high cut, which has zeros to spare: they do the correcting, within 0.06 dB.
pub(crate) fn high_cut(angle: f64) -> [Section; 2] {
    let poles = Quadratic::butterworth(angle);
    let below = poles.matched();
    let zeros = section_of(lost(poles, below).map(|lost| 1.0 / lost));
    [Section::over(zeros, below.scaled(1.0)), Section::PLAIN]
}

/// The section whose power is 1 at frequency 0 and so much at both places. Its zeros do one half of it, its poles the other.
fn correction(powers: [f64; 2]) -> Section {
    if powers.iter().all(|power| (power - 1.0).abs() < CLOSE) {
        return Section::PLAIN;
    }
    let half = powers.map(libm::sqrt);
    let zeros = section_of([0, 1].map(|n| COMMON[n] * half[n]));
    let poles = section_of([0, 1].map(|n| COMMON[n] / half[n]));
    Section::over(zeros, poles)
}

/// The quadratic of z⁻¹ whose power is 1 at frequency 0 and so much at both places, with its zeros inside the unit circle: Vicanek, 2016,
/// from the power's polynomial 1 + p1·φ + p2·φ² by its values at φ = 0 and 1.
fn section_of(powers: [f64; 2]) -> [f64; 3] {
    let [one, other] = [0, 1].map(|n| (powers[n] - 1.0) / PLACES[n]);
    let p2 = (other - one) / (PLACES[1] - PLACES[0]);
    let p1 = one - p2 * PLACES[0];
    let at_half = libm::sqrt((1.0 + p1 + p2).max(0.0));
    let even = (1.0 + at_half) / 2.0;
    let first = (even + libm::sqrt((even * even - p2 / 4.0).max(0.0))) / 2.0;
    [first, (1.0 - at_half) / 2.0, p2 / (16.0 * first)]
}
