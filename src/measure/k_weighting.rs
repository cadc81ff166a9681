//! Weighting by frequency as loudness asks for, several signals side by side.

use std::f64::consts::PI;

use crate::base::simd::Work;

/// Signals that go side by side.
pub(crate) const LANES: usize = 8;
/// Frames that are woven together at a time: so few that they stay in the nearest cache.
const WOVEN: usize = 64;

/// The two filters of ITU-R BS.1770-5, annex 1, on several signals at once: the shelf of a head, then the high pass.
///
/// The standard gives coefficients for 48 kHz. These are the bilinear transforms of the analogue filters that lie behind them,
/// so that they hold for any rate; at 48 kHz they are pyloudnorm's (recomputed by `tests/reference/constants.py`).
pub(crate) struct Weighting {
    shelf: Coefficients,
    high_pass: Coefficients,
    states: [[f64; LANES]; 4],
}

/// b0, b1, b2, a1, a2 of a section of second order.
type Coefficients = [f64; 5];

impl Weighting {
    /// At rest, for a rate in Hz.
    pub(crate) fn new(rate: u32) -> Weighting {
        let rate = f64::from(rate.max(1));
        // The shelf: 1682 Hz, 4.0 dB.
        let (k, q) = (libm::tan(PI * 1_681.974_450_955_533 / rate), 0.707_175_236_955_419_6);
        let high = libm::exp10(3.999_843_853_973_347 / 20.0);
        let band = libm::pow(high, 0.499_666_774_154_541_6);
        let whole = 1.0 + k / q + k * k;
        let shelf = [
            (high + band * k / q + k * k) / whole,
            2.0 * (k * k - high) / whole,
            (high - band * k / q + k * k) / whole,
            2.0 * (k * k - 1.0) / whole,
            (1.0 - k / q + k * k) / whole,
        ];
        // The high pass: 38 Hz.
        let (k, q) = (libm::tan(PI * 38.135_470_876_024_44 / rate), 0.500_327_037_323_877_3);
        let whole = 1.0 + k / q + k * k;
        let high_pass = [
            1.0,
            -2.0,
            1.0,
            2.0 * (k * k - 1.0) / whole,
            (1.0 - k / q + k * k) / whole,
        ];
        Weighting {
            shelf,
            high_pass,
            states: [[0.0; LANES]; 4],
        }
    }

    /// The sum of squares of some more frames of each signal, weighted.
    #[inline(always)]
    fn powers(&mut self, signals: [&[f32]; LANES]) -> [f64; LANES] {
        let [b0, b1, b2, a1, a2] = self.shelf;
        let [_, _, _, c1, c2] = self.high_pass;
        let [mut s1, mut s2, mut t1, mut t2] = self.states;
        let mut sums = [0.0; LANES];
        let frames = signals[0].len();
        let mut woven = [[0.0_f32; LANES]; WOVEN];
        for from in (0..frames).step_by(WOVEN) {
            let rows = &mut woven[..WOVEN.min(frames - from)];
            for (lane, signal) in signals.iter().enumerate() {
                let places = rows.iter_mut().zip(&signal[from..]);
                places.for_each(|(row, x)| row[lane] = *x);
            }
            for row in rows {
                for lane in 0..LANES {
                    let x = f64::from(row[lane]);
                    let y = b0 * x + s1[lane];
                    s1[lane] = b1 * x - a1 * y + s2[lane];
                    s2[lane] = b2 * x - a2 * y;
                    let z = y + t1[lane];
                    t1[lane] = t2[lane] - 2.0 * y - c1 * z;
                    t2[lane] = y - c2 * z;
                    sums[lane] += z * z;
                }
            }
        }
        // Tails that nobody hears would slow the arithmetic down.
        let state = |state: [f64; LANES]| state.map(|x| if x.abs() < 1e-30 { 0.0 } else { x });
        self.states = [s1, s2, t1, t2].map(state);
        sums
    }
}

/// Some more frames of each signal for a weighting.
pub(crate) struct Weighing<'a> {
    /// The weighting.
    pub weighting: &'a mut Weighting,
    /// The frames, of each signal as many.
    pub signals: [&'a [f32]; LANES],
}

impl Work for Weighing<'_> {
    type Made = [f64; LANES];

    #[inline(always)]
    fn work(self) -> [f64; LANES] {
        self.weighting.powers(self.signals)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ITU-R BS.1770-5, tables 1 and 2: the coefficients at 48 kHz; recomputed by `tests/reference/constants.py`.
    #[test]
    fn is_the_standards_at_its_own_rate() {
        let weighting = Weighting::new(48_000);
        let tables = [
            (
                weighting.shelf,
                [
                    1.535_124_859_586_97,
                    -2.691_696_189_406_38,
                    1.198_392_810_852_85,
                    -1.690_659_293_182_41,
                    0.732_480_774_215_85,
                ],
            ),
            (
                weighting.high_pass,
                [1.0, -2.0, 1.0, -1.990_047_454_833_98, 0.990_072_250_366_21],
            ),
        ];
        for (own, standard) in tables {
            for (own, standard) in own.iter().zip(standard) {
                assert!((own - standard).abs() < 1e-9, "{own} {standard}");
            }
        }
    }
}
