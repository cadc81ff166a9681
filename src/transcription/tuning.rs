//! How far a take is out of tune: one offset for all of it.

use std::f64::consts::TAU;

/// The offset in semitones, from -0.5 to 0.5, that pitches have from equal temperament at A4 = 440 Hz: their circular mean, each
/// with its weight.
pub(super) fn offset(pitches: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (cosines, sines) = pitches.fold((0.0, 0.0), |(cosines, sines), (pitch, weight)| {
        let angle = TAU * pitch;
        (cosines + weight * libm::cos(angle), sines + weight * libm::sin(angle))
    });
    libm::atan2(sines, cosines) / TAU
}
