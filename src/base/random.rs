//! Chance: streams of numbers that the same names always bring.
//!
//! Each part, each kind of chance in it and each bar has a stream of its own, so a change to one part, or to one
//! bar of it, never moves the dice of another.

use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;

/// A stream of chance.
pub(crate) struct Chance(Pcg32);

impl Chance {
    /// The stream for one kind of chance in one bar (counted from 1) of one part.
    pub(crate) fn new(seed: u64, part: &str, kind: &str, bar: u32) -> Chance {
        let state = named(&[&seed.to_le_bytes(), part.as_bytes()]);
        let stream = named(&[kind.as_bytes(), &bar.to_le_bytes()]);
        Chance(Pcg32::new(state, stream))
    }

    /// A number from 0 to below 1, evenly.
    pub(crate) fn share(&mut self) -> f64 {
        f64::from(self.0.next_u32()) / 4_294_967_296.0
    }

    /// A number from -1 to 1, evenly.
    pub(crate) fn either_way(&mut self) -> f64 {
        2.0 * self.share() - 1.0
    }

    /// A whole number from 0 to below `count`, evenly.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        ((self.share() * count as f64) as usize).min(count.saturating_sub(1))
    }
}

/// FNV-1a, 64 bits (Fowler, Noll, Vo; RFC 9923), each word closed by its length so that no two lists of words run together.
fn named(words: &[&[u8]]) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let mut eat = |byte: u8| hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    for word in words {
        word.iter().copied().for_each(&mut eat);
        (word.len() as u32).to_le_bytes().into_iter().for_each(&mut eat);
    }
    hash
}

#[cfg(test)]
mod tests {
    use super::Chance;

    #[test]
    fn streams_repeat_and_differ_by_name() {
        let draw = |seed, part, kind, bar| Chance::new(seed, part, kind, bar).share();
        assert_eq!(draw(1, "snare", "velocity", 1), draw(1, "snare", "velocity", 1));
        let others = [
            draw(2, "snare", "velocity", 1),
            draw(1, "kick", "velocity", 1),
            draw(1, "snare", "tune", 1),
            draw(1, "snare", "velocity", 2),
        ];
        assert!(others.iter().all(|other| *other != draw(1, "snare", "velocity", 1)));
    }

    #[test]
    fn draws_are_even() {
        let mut chance = Chance::new(3, "hat", "test", 1);
        let draws: Vec<f64> = (0..40_000).map(|_| chance.share()).collect();
        let mean = draws.iter().sum::<f64>() / draws.len() as f64;
        let variance = draws.iter().map(|draw| (draw - mean).powi(2)).sum::<f64>() / draws.len() as f64;
        // A uniform law on 0 to 1 has mean 1/2 and variance 1/12.
        assert!(
            (mean - 0.5).abs() < 0.01 && (variance - 1.0 / 12.0).abs() < 0.002,
            "{mean} {variance}"
        );
    }
}
