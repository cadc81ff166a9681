//! Measures finished audio: loudness, peaks, range, seam, mono loss. It knows nothing else.
//!
//! Loudness is ITU-R BS.1770-5 and EBU R 128's, by the `ebur128` crate.

mod bands;
mod energies;
mod figures;
mod matching;
mod one_shot;
mod peak;
mod spectrum;

pub use bands::{OCTAVES, difference_db, octave_bands, width_percent};
pub use energies::Energies;
pub use figures::{Figures, figures, figures_beside};
pub use matching::{Level, common};
pub use one_shot::{brightness, heard_for};
pub use peak::{sample_peak_db, true_peak_db};
pub use spectrum::{SPECTRUM_RANGE, spectrum};

use ebur128::{EbuR128, Mode};
use rayon::prelude::*;

use crate::audio::Audio;

/// Seconds of the shortest programme whose loudness is defined: one gating block.
const BLOCK: f64 = 0.4;

/// What BS.1770-5 takes off, so that a sine of 997 Hz in one channel reads its own level, in LU.
const OFFSET: f64 = 0.691;

/// Seconds of the shortest programme whose loudness range is defined: one window of short-term loudness and a step.
const RANGE: f64 = 3.1;

/// Integrated loudness in LUFS; none for silence (all below the gate of -70 LUFS) or less than 400 ms.
///
/// One channel is counted as a mono file is: once, as in one front loudspeaker.
pub fn loudness(audio: &Audio) -> Option<f64> {
    if audio.seconds() < BLOCK {
        return None;
    }
    let blocks: Vec<Vec<f64>> = audio
        .channels
        .par_iter()
        .map(|side| blocks(side, audio.rate))
        .collect::<Option<_>>()?;
    let (first, others) = blocks.split_first()?;
    let sum = |at: usize| first[at] + others.iter().map(|channel| channel[at]).sum::<f64>();
    gated(&(0..first.len()).map(sum).collect::<Vec<_>>())
}

/// The weighted energy of a channel in each gating block of 400 ms, one every 100 ms; none where the meter can't take its rate.
///
/// Channels are weighted apart, on a core each: the gate alone needs their sum. A block is the mean of its quarters, so that each
/// frame is squared once.
fn blocks(side: &[f32], rate: u32) -> Option<Vec<f64>> {
    Some(blocks_of(&tenths(side, rate)?))
}

fn blocks_of(quarters: &[f64]) -> Vec<f64> {
    quarters.windows(4).map(|four| four.iter().sum::<f64>() / 4.0).collect()
}

/// The weighted energy of a channel in each 100 ms.
fn tenths(side: &[f32], rate: u32) -> Option<Vec<f64>> {
    let mut meter = EbuR128::new(1, rate, Mode::M).ok()?;
    side.chunks_exact((rate / 10).max(1) as usize)
        .map(|stretch| {
            meter.add_frames_planar_f32(&[stretch]).ok()?;
            let level = meter.loudness_window(100).ok()?;
            Some(libm::exp10((level + OFFSET) / 10.0))
        })
        .collect()
}

/// Integrated loudness in LUFS of blocks of weighted energy: what lies above -70 LUFS, and of that what lies above 10 LU below its
/// mean (ITU-R BS.1770-5, annex 1).
fn gated(energies: &[f64]) -> Option<f64> {
    let mean_above = |gate: f64| {
        let above: Vec<f64> = energies.iter().copied().filter(|energy| *energy >= gate).collect();
        (!above.is_empty()).then(|| above.iter().sum::<f64>() / above.len() as f64)
    };
    let heard = mean_above(libm::exp10((-70.0 + OFFSET) / 10.0))?;
    let mean = mean_above((heard / 10.0).max(libm::exp10((-70.0 + OFFSET) / 10.0)))?;
    Some(10.0 * libm::log10(mean) - OFFSET).filter(|lufs| lufs.is_finite())
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
    let range = fed(audio, Mode::LRA)?
        .loudness_range()
        .ok()
        .filter(|range| range.is_finite())?;
    // What is always equally loud has no range, and neither has what is never heard.
    (range > 0.0 || loudness(audio).is_some()).then_some(range)
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
