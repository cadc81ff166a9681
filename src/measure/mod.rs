//! Measures finished audio: loudness, peaks, range, seam, mono loss. It knows nothing else.
//!
//! Loudness is ITU-R BS.1770-5 and EBU R 128's, by the `ebur128` crate.

mod bands;
mod figures;
mod matching;
mod one_shot;
mod peak;
mod spectrum;

pub use bands::{OCTAVES, difference_db, octave_bands, width_percent};
pub use figures::{Figures, figures};
pub use matching::{Level, bring_to, common, level};
pub use one_shot::{brightness, heard_for};
pub use peak::{sample_peak_db, true_peak_db};
pub use spectrum::{SPECTRUM_RANGE, spectrum};

use ebur128::{EbuR128, Mode};

use crate::audio::Audio;

/// Seconds of the shortest programme whose loudness is defined: one gating block.
const BLOCK: f64 = 0.4;

/// Seconds of the shortest programme whose loudness range is defined: one window of short-term loudness and a step.
const RANGE: f64 = 3.1;

/// Integrated loudness in LUFS; none for silence (all below the gate of -70 LUFS) or less than 400 ms.
///
/// One channel is counted as a mono file is: once, as in one front loudspeaker.
pub fn loudness(audio: &Audio) -> Option<f64> {
    if audio.seconds() < BLOCK {
        return None;
    }
    let meter = fed(audio, Mode::I)?;
    meter.loudness_global().ok().filter(|lufs| lufs.is_finite())
}

/// Loudness of a one-shot in LUFS: as [`loudness`], one that is shorter than 400 ms with silence behind it up to there, which is
/// how loud a single stroke of it is. None for silence.
pub fn shot_loudness(audio: &Audio) -> Option<f64> {
    if audio.seconds() >= BLOCK {
        return loudness(audio);
    }
    let mut long = audio.clone();
    let frames = (BLOCK * f64::from(audio.rate)).ceil() as usize + 1;
    long.channels.iter_mut().for_each(|side| side.resize(frames, 0.0));
    loudness(&long)
}

/// Loudness range in LU by EBU Tech 3342; none for silence or less than about three seconds.
pub fn loudness_range(audio: &Audio) -> Option<f64> {
    if audio.seconds() < RANGE {
        return None;
    }
    let meter = fed(audio, Mode::LRA | Mode::I)?;
    meter.loudness_global().ok().filter(|lufs| lufs.is_finite())?;
    meter.loudness_range().ok().filter(|range| range.is_finite())
}

/// Integrated loudness and true peak together, on two cores where there are two: what a render reports.
pub fn loudness_and_true_peak(audio: &Audio) -> (Option<f64>, Option<f64>) {
    rayon::join(|| loudness(audio), || true_peak_db(audio))
}

/// A meter that has heard the audio; none where the meter can't take its rate or channels.
fn fed(audio: &Audio, mode: Mode) -> Option<EbuR128> {
    let channels = u32::try_from(audio.channels.len()).ok().filter(|count| *count > 0)?;
    let mut meter = EbuR128::new(channels, audio.rate, mode).ok()?;
    let planes: Vec<&[f32]> = audio.channels.iter().map(Vec::as_slice).collect();
    meter.add_frames_planar_f32(&planes).ok()?;
    Some(meter)
}

#[cfg(test)]
mod tests;
