//! Chance for the dither: draws of PCG32, four side by side.
//!
//! The generator (M. E. O'Neill, "PCG: A Family of Simple Fast Space-Efficient Statistically Good Algorithms for Random
//! Number Generation", 2014 [memory]) waits for its own last multiplication. Four steps at once are a multiplication too
//! (F. Brown, "Random number generation with arbitrary stride", 1994 [memory]), so four runs, a step apart, give the same draws
//! without waiting for one another.

/// Draws that are made side by side.
pub(super) const LANES: usize = 4;

const MULTIPLIER: u64 = 6_364_136_223_846_793_005;

/// A stream of draws.
pub(super) struct Draws {
    states: [u64; LANES],
    /// Of so many steps at once.
    multiplier: u64,
    increment: u64,
}

impl Draws {
    /// The same draws as `rand_pcg`'s `Pcg32::new`.
    pub(super) fn new(seed: u64, stream: u64) -> Draws {
        let increment = (stream << 1) | 1;
        let step = |state: u64| state.wrapping_mul(MULTIPLIER).wrapping_add(increment);
        let mut next = step(seed.wrapping_add(increment));
        let states = std::array::from_fn(|_| {
            let state = next;
            next = step(state);
            state
        });
        let of_all = (0..LANES).fold((1_u64, 0_u64), |(multiplier, sum), _| {
            (multiplier.wrapping_mul(MULTIPLIER), step(sum))
        });
        Draws {
            states,
            multiplier: of_all.0,
            increment: of_all.1,
        }
    }

    /// The next ones.
    #[inline(always)]
    pub(super) fn four(&mut self) -> [u32; LANES] {
        let states = self.states;
        self.states = states.map(|state| state.wrapping_mul(self.multiplier).wrapping_add(self.increment));
        states.map(|state| {
            let mixed = (((state >> 18) ^ state) >> 27) as u32;
            mixed.rotate_right((state >> 59) as u32)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_pcg::Pcg32;
    use rand_pcg::rand_core::Rng;

    #[test]
    fn are_those_of_one_after_another() {
        for (seed, stream) in [(0, 0), (7, 1), (u64::MAX, 33), (0x0123_4567_89ab_cdef, u64::MAX)] {
            let (mut draws, mut chance) = (Draws::new(seed, stream), Pcg32::new(seed, stream));
            for _ in 0..100 {
                assert_eq!(draws.four(), std::array::from_fn(|_| chance.next_u32()));
            }
        }
    }
}
