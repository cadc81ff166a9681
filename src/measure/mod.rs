//! Measures finished audio: loudness, peaks, range, seam, mono loss. It knows nothing else.
//!
//! Loudness is ITU-R BS.1770-5 and EBU R 128's, and held to the `ebur128` crate's by tests.

mod bands;
mod energies;
mod figures;
pub(crate) mod gating;
mod k_weighting;
mod matching;
mod one_shot;
mod peak;
mod running;
mod sides;
mod spectrum;
mod weighted;

pub(crate) use bands::{OCTAVES, difference_db, octave_bands};
pub use energies::Energies;
pub use figures::Figures;
pub use figures::figures;
pub(crate) use figures::figures_beside;
pub(crate) use matching::{Level, common};
pub(crate) use one_shot::{brightness, heard_for};
pub use peak::true_peak_db;
pub use running::BusFigures;
pub(crate) use running::{Heard, Meters};
pub(crate) use sides::Sides;
pub(crate) use spectrum::{SPECTRUM_RANGE, spectrum};
pub(crate) use weighted::weighted;

use crate::base::audio::Audio;

/// Seconds of the shortest programme whose loudness is defined: one gating block.
const BLOCK: f64 = 0.4;

/// Integrated loudness in LUFS; none for silence (all below the gate of -70 LUFS) or less than 400 ms.
///
/// One channel is counted as a mono file is: once, as in one front loudspeaker.
pub fn loudness(audio: &Audio) -> Option<f64> {
    Energies::of(audio)?.lufs(0.0)
}

/// Loudness of a one-shot in LUFS: as [`loudness`], one that is shorter than 400 ms with silence behind it up to there, which is
/// how loud a single stroke of it is. None for silence.
pub(crate) fn shot_loudness(audio: &Audio) -> Option<f64> {
    if audio.seconds() >= BLOCK {
        return loudness(audio);
    }
    let mut long = audio.clone();
    let frames = (BLOCK * f64::from(audio.rate)).ceil() as usize + 1;
    long.channels.iter_mut().for_each(|side| side.resize(frames, 0.0));
    loudness(&long)
}

#[cfg(test)]
mod tests;
