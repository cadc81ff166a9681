//! Lengths as they are drawn.

use super::Value;
use crate::loopfile::Exact;

/// The value of a length; none where it takes a tie.
pub(crate) fn drawn(length: Exact) -> Option<Value> {
    let plain = |length: Exact, dots| match (*length.numer(), *length.denom()) {
        (1, part) if part > 0 && (part & (part - 1)) == 0 => u32::try_from(part).ok().map(|part| Value { part, dots }),
        (2, 1) => Some(Value { part: 0, dots }),
        _ => None,
    };
    plain(length, 0).or_else(|| plain(length * Exact::new(2, 3), 1))
}

/// Flags that a note of a value has: one for an eighth.
pub(super) fn flags(value: Value) -> u8 {
    value.part.max(4).ilog2() as u8 - 2
}
