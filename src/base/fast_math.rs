//! Logarithm and power to base 2 by polynomials on a float's own exponent: the same bits on every machine, and quick
//! enough to call for every frame.

/// Factors from decibels to powers of two: log2(10) / 20.
pub(crate) const LOG2_OF_DB: f64 = std::f64::consts::LOG2_10 / 20.0;

/// log2 of a positive, normal number, within 1e-7.
///
/// The mantissa is brought to 1/√2 … √2, and ln m = 2·artanh((m-1)/(m+1)) summed to the seventh power
/// (Abramowitz and Stegun, 4.1.27). [memory]
#[inline(always)]
pub(crate) fn log2(value: f32) -> f64 {
    // The bits of 1/√2: what lies above them, in exponents, is the whole part.
    let bits = value.to_bits().wrapping_sub(0x3F35_04F3);
    let whole = (bits as i32) >> 23;
    let mantissa = f32::from_bits((bits & 0x007F_FFFF).wrapping_add(0x3F35_04F3));
    let m = f64::from(mantissa);
    let t = (m - 1.0) / (m + 1.0);
    let square = t * t;
    let series = 1.0 + square * (1.0 / 3.0 + square * (1.0 / 5.0 + square * (1.0 / 7.0)));
    f64::from(whole) + 2.0 * std::f64::consts::LOG2_E * t * series
}

/// 2 to the power of `value`, within a few parts in ten million; `value` is kept at -126 or more and must be below 127.
///
/// The Taylor series of exp to the sixth power on -1/2 … 1/2, scaled by the exponent's bits. Exactly 1 at 0.
#[inline(always)]
pub(crate) fn exp2(value: f32) -> f32 {
    const LN2: f32 = std::f32::consts::LN_2;
    // Adding 1.5·2^23 leaves no room for fractions: the sum's low bits are the nearest whole number.
    const ROUNDER: f32 = 12_582_912.0;
    let value = if value > -126.0 { value } else { -126.0 };
    let rounded = value + ROUNDER;
    let whole = rounded.to_bits().wrapping_sub(ROUNDER.to_bits());
    let t = (value - (rounded - ROUNDER)) * LN2;
    let power =
        1.0 + t * (1.0 + t * (1.0 / 2.0 + t * (1.0 / 6.0 + t * (1.0 / 24.0 + t * (1.0 / 120.0 + t * (1.0 / 720.0))))));
    power * f32::from_bits(whole.wrapping_add(127) << 23)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn log2_keeps_close_to_the_library() {
        for step in 0..20_000 {
            let value = libm::exp2f((step as f32 - 10_000.0) / 80.0);
            let error = log2(value) - libm::log2(f64::from(value));
            assert!(error.abs() < 1e-7, "{value}: {error}");
        }
        assert_eq!(log2(1.0), 0.0);
    }

    #[test]
    fn exp2_keeps_close_to_the_library() {
        for step in 0..20_000 {
            let value = (step as f32 - 10_000.0) / 80.0;
            let right = libm::exp2(f64::from(value));
            let error = f64::from(exp2(value)) / right - 1.0;
            assert!(error.abs() < 5e-7, "{value}: {error}");
        }
        assert_eq!(exp2(0.0), 1.0);
        assert_eq!(exp2(-1.0), 0.5);
        assert!(exp2(f32::NEG_INFINITY) < 1e-37);
    }
}
