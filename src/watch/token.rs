//! What only the page that was served can know.

use std::collections::hash_map::RandomState;
use std::hash::{BuildHasher, Hasher};

use sha2::{Digest, Sha256};

/// A token that nobody guesses, in hexadecimal digits: made from the random keys that the system gives to hash tables, 128 bits.
pub(super) fn fresh() -> String {
    let mut sum = Sha256::new();
    for _ in 0..8 {
        sum.update(RandomState::new().build_hasher().finish().to_le_bytes());
    }
    sum.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_are_alike() {
        let (one, other) = (fresh(), fresh());
        assert_eq!((one.len(), other.len()), (64, 64));
        assert_ne!(one, other);
    }
}
