//! Names: sums of cache keys.

use std::any::type_name;
use std::fmt::{self, Debug, Write};

use sha2::{Digest, Sha256};

/// Stands for everything that determines a thing: the first 128 bits of the SHA-256 (FIPS 180-4) of its cache key.
///
/// Two keys of one name would take some 2^64 keys to come by, so a name does for its key and the key need not be kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CacheKey(u128);

impl CacheKey {
    /// The name of a cache key: the same for equal keys of one type, and another for every other key.
    ///
    /// What is summed is the key as derived `Debug` writes it: all fields of all that is in it, strings in quotes, numbers to the
    /// last bit. So a key must not hold anything whose `Debug` leaves something out. (Keys derive `PartialEq` too: the compiler takes a
    /// field that `Debug` alone reads for unread.)
    pub fn of<K: Debug>(key: &K) -> CacheKey {
        let mut sum = Sum(Sha256::new());
        write!(sum, "{} {key:?}", type_name::<K>()).expect("a sum takes all that is written to it");
        let whole: [u8; 32] = sum.0.finalize().into();
        let (first, _) = whole.split_first_chunk().expect("16 bytes are fewer than 32");
        CacheKey(u128::from_be_bytes(*first))
    }
}

/// A sum of what is written to it.
struct Sum(Sha256);

impl Write for Sum {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0.update(text);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn equal_keys_have_one_name_and_others_another() {
        let name = CacheKey::of(&(1.5_f64, vec![2]));
        assert_eq!(CacheKey::of(&(1.5_f64, vec![2])), name);
        assert_ne!(CacheKey::of(&(1.5_f64, vec![3])), name);
        #[derive(Debug, PartialEq)]
        struct Other(f64, Vec<i32>);
        assert_ne!(CacheKey::of(&Other(1.5, vec![2])), name, "another type is another key");
        assert_ne!(
            CacheKey::of(&vec!["a, b"]),
            CacheKey::of(&vec!["a", "b"]),
            "quotes keep strings apart"
        );
    }

    proptest! {
        #[test]
        fn numbers_are_told_apart_to_the_last_bit(bits in any::<u64>(), bit in 0..52) {
            let (one, other) = (f64::from_bits(bits), f64::from_bits(bits ^ (1_u64 << bit)));
            prop_assume!(!one.is_nan() && !other.is_nan());
            prop_assert_ne!(CacheKey::of(&one), CacheKey::of(&other));
        }
    }
}
