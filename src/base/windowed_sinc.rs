//! The parts of a windowed sinc, by which a signal is read between its frames.

use std::f64::consts::PI;

/// sin(πx) / (πx).
pub(crate) fn sinc(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { libm::sin(PI * x) / (PI * x) }
}

/// Kaiser's window at `place` from -1 to 1, 0 beyond; `beta` sets how deep its stop band is.
///
/// J. F. Kaiser, "Nonrecursive digital filter design using the I0-sinh window function", ISCAS 1974: for a stop band of
/// A dB, beta is 0.1102·(A - 8.7) where A is above 50; as in scipy (recomputed by `tests/reference/constants.py`).
pub(crate) fn kaiser(place: f64, beta: f64) -> f64 {
    let inside = 1.0 - place * place;
    if inside < 0.0 {
        return 0.0;
    }
    bessel_i0(beta * inside.sqrt()) / bessel_i0(beta)
}

/// The same window for many places.
pub(crate) struct KaiserWindow {
    /// The power series of its Bessel function by 1 - place², whose sum at 1 is 1.
    series: Vec<f64>,
}

impl KaiserWindow {
    pub(crate) fn new(beta: f64) -> KaiserWindow {
        let whole = bessel_i0(beta);
        let terms = bessel_i0_terms(beta);
        KaiserWindow {
            series: terms.map(|term| term / whole).collect(),
        }
    }

    pub(crate) fn at(&self, place: f64) -> f64 {
        let inside = 1.0 - place * place;
        if inside < 0.0 {
            return 0.0;
        }
        self.series.iter().rev().fold(0.0, |sum, term| sum * inside + term)
    }
}

/// The modified Bessel function of the first kind and order zero, by its power series.
pub(crate) fn bessel_i0(x: f64) -> f64 {
    bessel_i0_terms(x).sum()
}

/// The terms of its series until they no longer count: (x/2)^2k / k!².
fn bessel_i0_terms(x: f64) -> impl Iterator<Item = f64> {
    let quarter = x * x / 4.0;
    let (mut sum, mut term, mut k) = (0.0, 1.0, 0.0);
    std::iter::from_fn(move || {
        let this = term;
        sum += this;
        k += 1.0;
        term *= quarter / (k * k);
        (this > sum * 1e-17).then_some(this)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bessel_and_kaiser_have_their_values() {
        // Abramowitz and Stegun, table 9.8: I0(1) = 1.2660658778, I0(5) = 27.239871823; recomputed by `tests/reference/constants.py`.
        assert!((bessel_i0(1.0) - 1.266_065_877_8).abs() < 1e-9);
        assert!((bessel_i0(5.0) - 27.239_871_823).abs() < 1e-8);
        assert_eq!(kaiser(0.0, 6.0), 1.0);
        assert!((kaiser(1.0, 5.0) * bessel_i0(5.0) - 1.0).abs() < 1e-12);
        assert_eq!(kaiser(1.01, 5.0), 0.0);
        for beta in [0.0, 5.0, 13.0] {
            for step in -101..=101 {
                let (place, many) = (f64::from(step) / 100.0, KaiserWindow::new(beta));
                assert!((many.at(place) - kaiser(place, beta)).abs() < 1e-14, "{beta}, {place}");
            }
        }
    }
}
