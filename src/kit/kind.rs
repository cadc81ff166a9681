//! Kinds of pieces: further ones are numbered.

/// The kind of a piece and its number: `kick-3` is the third `kick`, `kick` the first.
pub(crate) fn kind(name: &str) -> (&str, u64) {
    let numbered = name.rsplit_once('-').and_then(|(kind, number)| {
        let plain = !kind.is_empty() && !number.starts_with('0') && number.bytes().all(|byte| byte.is_ascii_digit());
        Some((kind, number.parse().ok().filter(|number| plain && *number > 1)?))
    });
    numbered.unwrap_or((name, 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_behind_a_name_tells_the_kind() {
        assert_eq!(kind("kick"), ("kick", 1));
        assert_eq!(kind("tom-high-12"), ("tom-high", 12));
        for name in ["wind-1", "osc-007", "-2", "3", "side-stick", "bell-c4"] {
            assert_eq!(kind(name), (name, 1));
        }
    }
}
