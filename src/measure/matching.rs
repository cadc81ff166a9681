//! Bringing sounds to one loudness.

/// What decides how loud a sound may become.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Level {
    /// Integrated loudness, LUFS.
    pub lufs: f64,
    /// True peak, dBTP.
    pub true_peak_db: f64,
}

/// The loudness that all can have with no peak over a ceiling: no more than the loudest has, and no more than the one
/// with the highest peaks for its loudness reaches. None without sounds.
pub(crate) fn common(levels: &[Level], ceiling_db: f64) -> Option<f64> {
    let loudest = levels.iter().map(|level| level.lufs).reduce(f64::max)?;
    let reach = |level: &Level| level.lufs + ceiling_db - level.true_peak_db;
    Some(levels.iter().map(reach).fold(loudest, f64::min))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_one_with_the_highest_peaks_sets_the_loudness() {
        let level = |lufs, true_peak_db| Level { lufs, true_peak_db };
        assert_eq!(common(&[], -1.0), None);
        // As loud as the loudest, where all can be.
        assert_eq!(common(&[level(-16.0, -1.0), level(-20.0, -9.0)], -1.0), Some(-16.0));
        // One is as loud as its peaks allow.
        assert_eq!(common(&[level(-14.0, -1.0), level(-18.0, -1.0)], -1.0), Some(-18.0));
        // One that is over the ceiling comes down, and all with it.
        assert_eq!(common(&[level(-16.0, -1.0), level(-16.0, 0.5)], -1.0), Some(-17.5));
    }
}
