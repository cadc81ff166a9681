//! The law by which loudness is gated (ITU-R BS.1770-5, annex 1), for the meter and for whoever estimates what it will say.

/// What the law takes off, so that a sine of 997 Hz in one channel reads its own level, in LU.
pub(crate) const OFFSET: f64 = 0.691;

/// Seconds from one gating block to the next.
pub(crate) const TENTH: f64 = 0.1;

/// Blocks that are quieter than this, in LUFS, do not count.
pub(crate) const SILENCE: f64 = -70.0;

/// The weighted energy in each gating block of 400 ms, one every 100 ms, of that in stretches of 100 ms: the mean of four, so that
/// each frame is squared once.
pub(crate) fn blocks(tenths: &[f64]) -> Vec<f64> {
    tenths.windows(4).map(|four| four.iter().sum::<f64>() / 4.0).collect()
}

/// The least energy that counts.
pub(crate) fn silence() -> f64 {
    libm::exp10((SILENCE + OFFSET) / 10.0)
}

/// Integrated loudness in LUFS of blocks of weighted energy: what lies above [`SILENCE`], and of that what lies above 10 LU below its
/// mean. None where nothing does.
pub(crate) fn gated(energies: &[f64]) -> Option<f64> {
    let mean_above = |gate: f64| {
        let above: Vec<f64> = energies.iter().copied().filter(|energy| *energy >= gate).collect();
        (!above.is_empty()).then(|| above.iter().sum::<f64>() / above.len() as f64)
    };
    let heard = mean_above(silence())?;
    let mean = mean_above((heard / 10.0).max(silence()))?;
    Some(10.0 * libm::log10(mean) - OFFSET).filter(|lufs| lufs.is_finite())
}
