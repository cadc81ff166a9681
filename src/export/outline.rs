//! The outline of a waveform: how far it reaches up and down, column by column.

use std::ops::Range;

use crate::base::audio::Audio;

/// How far a signal reaches in each of so many columns of equal time: the lowest and the highest sample of all its
/// channels. `frames` is the time that the columns share; where the audio is shorter, they are at rest.
pub(crate) fn columns(audio: &Audio, frames: usize, columns: usize) -> Vec<(f32, f32)> {
    columns_of(audio, 0..frames, columns)
}

/// The same of some of its frames.
pub(crate) fn columns_of(audio: &Audio, frames: Range<usize>, columns: usize) -> Vec<(f32, f32)> {
    let edge = |column: usize| frames.start + (column as u128 * frames.len() as u128 / columns as u128) as usize;
    let reach = |column: usize| {
        let from = edge(column).min(audio.frames());
        let to = edge(column + 1).max(edge(column) + 1).min(audio.frames());
        let samples = audio.channels.iter().flat_map(|channel| &channel[from..to]);
        samples.fold((0f32, 0f32), |(low, high), sample| {
            (low.min(*sample), high.max(*sample))
        })
    };
    (0..columns).map(reach).collect()
}

/// An outline as the data of an SVG path, closed: a unit wide for each column, full scale being `peak` and reaching from
/// 0 (up) to `2 * half` (down).
pub(crate) fn path(columns: &[(f32, f32)], peak: f32, half: f32) -> String {
    use std::fmt::Write;
    let height = |sample: f32| (half - sample / peak.max(f32::MIN_POSITIVE) * half).round() as i32;
    let mut path = String::with_capacity(columns.len() * 16);
    for (x, (_, high)) in columns.iter().enumerate() {
        let _ = write!(path, "{}{x} {}", if x == 0 { 'M' } else { 'L' }, height(*high));
    }
    for (x, (low, high)) in columns.iter().enumerate().rev() {
        // A line that is no thicker than nothing would not be seen.
        let _ = write!(path, "L{x} {}", height(*low).max(height(*high) + 1));
    }
    path.push('Z');
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_reach_as_far_as_their_samples() {
        let audio = Audio {
            channels: vec![vec![0.0, 0.5, 0.0, 0.0], vec![0.0, 0.0, -0.25, 0.0]],
            rate: 48_000,
        };
        assert_eq!(columns(&audio, 4, 2), [(0.0, 0.5), (-0.25, 0.0)]);
        assert_eq!(columns(&audio, 8, 2), [(-0.25, 0.5), (0.0, 0.0)]);
        // More columns than frames: each shows the sample that it falls on.
        assert_eq!(columns(&audio, 4, 8)[2..4], [(0.0, 0.5), (0.0, 0.5)]);
        assert_eq!(path(&columns(&audio, 4, 2), 0.5, 10.0), "M0 0L1 10L1 15L0 10Z");
    }
}
