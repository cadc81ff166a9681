//! The two codings of telephony: 14 or 13 bits in 8, by ITU-T G.711.

/// A byte of A-law as a sample.
pub(crate) fn a_law(byte: u8) -> f32 {
    // Every second bit is stored inverted.
    let byte = byte ^ 0x55;
    let (segment, step) = (byte >> 4 & 7, i32::from(byte & 15) << 4);
    let size = match segment {
        0 => step + 8,
        segment => (step + 0x108) << (segment - 1),
    };
    signed(size, byte & 0x80 != 0)
}

/// A byte of mu-law as a sample.
pub(crate) fn mu_law(byte: u8) -> f32 {
    let byte = !byte;
    let (segment, step) = (byte >> 4 & 7, i32::from(byte & 15) << 3);
    // 132 is the bias that makes every segment twice as wide as the one before.
    signed(((step + 132) << segment) - 132, byte & 0x80 == 0)
}

/// A size out of 16 bits, with its sign.
fn signed(size: i32, positive: bool) -> f32 {
    let size = size as f32 / 32_768.0;
    if positive { size } else { -size }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ends_of_both_laws_are_those_of_the_standard() {
        // ITU-T G.711, tables 1a and 2a, scaled to 16 bits [memory]: A-law ends at 4032 of 4096, mu-law at 8031 of 8159.
        assert_eq!(a_law(0xAA) * 32_768.0, 32_256.0);
        assert_eq!(a_law(0x2A) * 32_768.0, -32_256.0);
        assert_eq!(a_law(0xD5) * 32_768.0, 8.0);
        assert_eq!(mu_law(0x80) * 32_768.0, 32_124.0);
        assert_eq!(mu_law(0x00) * 32_768.0, -32_124.0);
        assert_eq!(mu_law(0xFF), 0.0);
    }
}
