//! Plain loops on the widest arithmetic that the processor at hand has.

use pulp::{Arch, Simd, WithSimd};

/// Work that is compiled once for each width of arithmetic.
///
/// Only what is inlined is widened. That is sure where `work`, and all that it calls, is `#[inline(always)]`; a closure is inlined
/// if it is small.
pub(crate) trait Work {
    /// What comes of it.
    type Made;

    /// Does it.
    fn work(self) -> Self::Made;
}

impl<T, F: FnOnce() -> T> Work for F {
    type Made = T;

    #[inline(always)]
    fn work(self) -> T {
        self()
    }
}

/// Does some work on eight numbers at once where the processor can, on four elsewhere. Nothing is reordered or fused, so every
/// width gives the same bits.
#[inline(always)]
pub(crate) fn wide<W: Work>(work: W) -> W::Made {
    Arch::new().dispatch(Widened(work))
}

struct Widened<W>(W);

impl<W: Work> WithSimd for Widened<W> {
    type Output = W::Made;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> W::Made {
        self.0.work()
    }
}

#[cfg(test)]
mod tests {
    use super::{Work, wide};

    struct Bend<'a>(&'a [f32]);

    impl Work for Bend<'_> {
        type Made = Vec<f32>;

        #[inline(always)]
        fn work(self) -> Vec<f32> {
            self.0.iter().map(|x| 0.3 * x * x + x).collect()
        }
    }

    #[test]
    fn gives_the_same_bits() {
        let signal: Vec<f32> = (0..1000).map(|n| libm::sinf(n as f32)).collect();
        assert_eq!(wide(Bend(&signal)), Bend(&signal).work());
        assert_eq!(
            wide(|| signal.iter().fold(0.0, |sum, x| sum + x)),
            signal.iter().sum::<f32>()
        );
    }
}
