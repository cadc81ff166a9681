//! What there is to know of a one-shot's file.

use serde::{Deserialize, Serialize};

use super::conditioning::Conditioning;
use super::decode::{Container, Decoded};
use super::pitch::{PitchEstimate, listen};
use crate::base::audio::{db_of_gain, gain_of_db};

/// Below this a channel is silent, dBFS.
const SILENT: f64 = -80.0;
/// So many samples in a row at full scale are a clipped top.
const RUN: usize = 3;

/// A one-shot's file in figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Facts {
    /// What it comes in.
    pub container: Container,
    /// Bits a sample.
    pub bits: u16,
    /// True for floats.
    pub float: bool,
    /// Frames per second.
    pub rate: u32,
    /// 1 or 2.
    pub channels: usize,
    /// Its length.
    pub seconds: f64,
    /// Its largest sample in dBFS; none where all are 0.
    pub peak_db: Option<f64>,
    /// The pitch that its file tells, as a MIDI number.
    pub root: Option<f64>,
    /// The pitch that is heard, with how surely; none where there is none to hear.
    pub heard: Option<PitchEstimate>,
    /// Tops of three samples or more at full scale.
    pub clipped: usize,
    /// True where it is below -80 dBFS throughout.
    pub silent: bool,
    /// The channel, 0 or 1, that is silent while the other sounds.
    pub dead: Option<usize>,
    /// What care would be taken of it: how late it begins, its offset, whether it breaks off.
    pub care: Conditioning,
    /// Frames that its file promises and does not have.
    pub missing: u64,
    /// True where something of it repeats while a note is held.
    pub held: bool,
}

impl Facts {
    /// The facts of a sound that is decoded already.
    pub(crate) fn of(decoded: &Decoded) -> Facts {
        let audio = &decoded.audio;
        let top = |side: &Vec<f32>| side.iter().fold(0.0f32, |most, sample| most.max(sample.abs()));
        let peaks: Vec<f64> = audio.channels.iter().map(|side| f64::from(top(side))).collect();
        let peak = peaks.iter().copied().fold(0.0, f64::max);
        let silent = |peak: f64| peak < gain_of_db(SILENT);
        let dead = peaks.iter().position(|side| silent(*side) && !silent(peak));
        Facts {
            container: decoded.container,
            bits: decoded.bits,
            float: decoded.float,
            rate: audio.rate,
            channels: audio.channels.len(),
            seconds: audio.seconds(),
            peak_db: (peak > 0.0).then(|| db_of_gain(peak)),
            root: decoded.root,
            heard: listen(audio),
            clipped: audio.channels.iter().map(|side| clipped(side, full(decoded))).sum(),
            silent: silent(peak),
            dead,
            care: Conditioning::of(audio),
            missing: decoded.missing,
            held: !decoded.loops.is_empty(),
        }
    }
}

impl Facts {
    /// The facts of a stereo recording whose sides lie in two files: what the left one says holds, figures are of both.
    pub(crate) fn joined(left: &Facts, right: &Facts) -> Facts {
        let surer = |of: &Facts| of.heard.map_or(0.0, |heard| heard.confidence);
        let dead = match (left.silent, right.silent) {
            (true, false) => Some(0),
            (false, true) => Some(1),
            _ => None,
        };
        Facts {
            channels: 2,
            seconds: left.seconds.max(right.seconds),
            peak_db: left.peak_db.into_iter().chain(right.peak_db).reduce(f64::max),
            heard: if surer(right) > surer(left) {
                right.heard
            } else {
                left.heard
            },
            clipped: left.clipped + right.clipped,
            silent: left.silent && right.silent,
            dead,
            missing: left.missing + right.missing,
            ..left.clone()
        }
    }
}

/// The largest sample above 0 that a coding holds; floats have no end, and what is over full scale clips later.
fn full(decoded: &Decoded) -> f32 {
    match decoded.bits {
        bits @ 2..=24 if !decoded.float => 1.0 - libm::exp2(1.0 - f64::from(bits)) as f32,
        _ => 1.0,
    }
}

/// How many runs of samples stay at full scale.
fn clipped(side: &[f32], full: f32) -> usize {
    side.chunk_by(|a, b| (a.abs() >= full) == (b.abs() >= full) && a.signum() == b.signum())
        .filter(|run| run.len() >= RUN && run[0].abs() >= full)
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clipped_tops_are_counted_and_a_single_full_sample_is_none() {
        let full = 1.0 - 1.0 / 32_768.0;
        let side = [0.0, full, full, full, 0.5, -1.0, -1.0, -1.0, -1.0, 0.0, full, full, 0.0];
        assert_eq!(clipped(&side, full), 2);
    }
}
