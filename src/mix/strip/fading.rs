//! How a release in whole numbers fades: bounds that hold whatever is rounded.
//!
//! Each frame a number n becomes ⌊k·n⌋, with k below 1. That is at most k·n and more than k·n - 1; and as it is less than n,
//! it comes to 0 in time.

/// A release that leaves so much of itself each frame.
pub(crate) struct Fading {
    kept: f64,
    /// 1/(1-k): what the roundings of all frames together take, and where a frame takes but one.
    tail: f64,
}

impl Fading {
    /// What a frame leaves, in 2^-32.
    pub(crate) fn by(kept: u64) -> Fading {
        let kept = kept as f64 / 4_294_967_296.0;
        Fading {
            kept,
            tail: 1.0 / (1.0 - kept),
        }
    }

    /// What is left of a number after so many frames, or less. A hundredth is taken off for the roundings of whoever found
    /// the number.
    pub(crate) fn at_least(&self, number: u32, frames: usize) -> f64 {
        0.99 * f64::from(number) * libm::pow(self.kept, frames as f64) - self.tail
    }

    /// What is left of a number after so many frames, or more. A hundredth and one are added for the roundings of whoever
    /// found the number.
    pub(crate) fn at_most(&self, number: u32, frames: usize) -> f64 {
        if number == 0 {
            return 0.0;
        }
        let (number, frames) = (1.01 * f64::from(number) + 1.0, frames as f64);
        let left = number * libm::pow(self.kept, frames);
        // From there on it is below the tail, and each frame takes one at the least.
        let slow = libm::ceil((libm::log(number / self.tail) / -libm::log(self.kept)).max(0.0));
        if frames < slow {
            return left;
        }
        left.min(number.min(self.tail) - (frames - slow)).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_left_lies_within_the_bounds(number in 0_u32.., seconds in 0.001_f64..0.2, rate in 8_000_u32..200_000) {
            let kept = (libm::exp(-1.0 / (seconds * f64::from(rate))) * 4_294_967_296.0) as u64;
            let (fading, mut left, mut frames) = (Fading::by(kept), number, 0);
            loop {
                let (least, most) = (fading.at_least(number, frames), fading.at_most(number, frames));
                prop_assert!(least <= f64::from(left) && f64::from(left) <= most, "{least} {left} {most} after {frames}");
                if left == 0 && most == 0.0 {
                    break;
                }
                let step = 1 + frames / 16;
                frames += step;
                (0..step).for_each(|_| left = ((u64::from(left) * kept) >> 32) as u32);
            }
            prop_assert!((frames as f64) < 21.0 * seconds * f64::from(rate) + 20.0, "{frames}");
        }
    }
}
