//! A folder of one-shots, analysed.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use crate::kit::audio::pitch::listen;
use crate::kit::{Kit, Sides};
use crate::measure::{brightness, heard_for, shot_loudness, true_peak_db};
use crate::text::{Problem, Problems};

/// A file of a folder of one-shots, and what its name and its audio say.
#[derive(Debug, Clone)]
pub struct OneShot {
    /// The piece that plays it.
    pub piece: String,
    /// How surely its name and folders, or else its sound, identify the piece: from 0 to 1.
    pub confidence: f64,
    /// The file; that of the left side, where its two sides have files of their own.
    pub file: PathBuf,
    /// The file of its right side, where it has one.
    pub right: Option<PathBuf>,
    /// Its figures; a problem where it can't be read.
    pub figures: Result<OneShotFigures, Problem>,
}

/// Figures of a one-shot.
#[derive(Debug, Clone, PartialEq)]
pub struct OneShotFigures {
    /// Its length.
    pub seconds: f64,
    /// Seconds from the first sample within 60 dB of its peak to the last; none for silence.
    pub audible_seconds: Option<f64>,
    /// Sample rate, Hz.
    pub rate: u32,
    /// 1 or 2.
    pub channels: usize,
    /// True peak, dBTP; none for silence.
    pub true_peak_db: Option<f64>,
    /// Loudness (ITU-R BS.1770) with silence behind a short one, LUFS; none for silence.
    pub lufs: Option<f64>,
    /// Spectral centroid, Hz; none for silence.
    pub brightness_hz: Option<f64>,
    /// The pitch as a MIDI note number with fractions (69 is 440 Hz), and how surely, from 0 to 1; none without one.
    pub pitch: Option<(f64, f64)>,
}

/// Finds out which pieces a folder of one-shots holds, and decodes and measures every file.
///
/// # Errors
/// A folder that is not there or holds no audio, a `kit.toml` with problems. A file that can't be read is a problem of its own.
pub fn analyse(folder: impl AsRef<Path>) -> Result<Vec<OneShot>, Problems> {
    let kit = Kit::open(&[folder.as_ref().to_path_buf()], &[])?;
    let pieces = kit.index().listed().iter().enumerate();
    let shots = pieces.flat_map(|(number, piece)| {
        let takes = piece.layers.iter().flat_map(|layer| &layer.zones);
        takes.map(move |take| (number, piece, *take))
    });
    let shots: Vec<_> = shots.collect();
    Ok(shots
        .into_par_iter()
        .map(|(number, piece, take)| OneShot {
            piece: piece.name.clone(),
            confidence: kit.reading(number).map_or(0.0, |reading| reading.confidence),
            file: kit.file(take).to_path_buf(),
            right: kit.sides(take).right,
            figures: figures(&kit.sides(take)),
        })
        .collect())
}

fn figures(sides: &Sides) -> Result<OneShotFigures, Problem> {
    let audio = sides.decode()?.audio;
    Ok(OneShotFigures {
        seconds: audio.seconds(),
        audible_seconds: heard_for(&audio),
        rate: audio.rate,
        channels: audio.channels.len(),
        true_peak_db: true_peak_db(&audio),
        lufs: shot_loudness(&audio),
        brightness_hz: brightness(&audio),
        pitch: listen(&audio).map(|heard| (heard.key, heard.confidence)),
    })
}
