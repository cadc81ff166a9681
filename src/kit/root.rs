//! What is said of the pitch at which a recording was made, before and after listening.

use super::audio::pitch::{BELIEVED, PitchEstimate};

/// Middle C: hits without a pitch play the zone that is nearest to it.
pub(super) const MIDDLE: f64 = 60.0;

/// What is said of a recording's pitch, as MIDI numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum RootSource {
    Nothing,
    /// In `kit.toml`.
    Written(f64),
    /// By a note in the file's name, C4 being 60.
    Named(i32),
    /// By a MIDI number in the file's name.
    Numbered(i32),
}

impl RootSource {
    /// The key, as far as it is known without listening.
    pub(super) fn key(self) -> Option<f64> {
        match self {
            RootSource::Nothing => None,
            RootSource::Written(key) => Some(key),
            RootSource::Named(key) | RootSource::Numbered(key) => Some(f64::from(key)),
        }
    }
}

/// What a file turned out to be.
#[derive(Debug, Clone, Copy)]
pub(super) struct Judged {
    /// The MIDI key, whole or not.
    pub key: Option<f64>,
    /// What listening found.
    pub heard: Option<PitchEstimate>,
}

/// Of some takes those that were recorded nearest to a pitch, the upper ones of two that are equally near; all where no root
/// is known.
pub(super) fn nearest_takes(takes: &[usize], key: f64, root: impl Fn(usize) -> Option<f64>) -> Vec<usize> {
    let known = takes.iter().filter_map(|take| root(*take));
    let Some(nearest) = known.min_by(|a, b| (a - key).abs().total_cmp(&(b - key).abs()).then(b.total_cmp(a))) else {
        return takes.to_vec();
    };
    // Turns of one zone may have been measured a little apart.
    let same = |take: &usize| root(*take).is_some_and(|root| (root - nearest).abs() < 0.5);
    takes.iter().copied().filter(same).collect()
}

/// What is nearer to a name than this, in semitones, is the note that the name says.
pub(super) const IN_TUNE: f64 = 0.05;

/// A recording of a piece, as it is judged.
pub(super) struct Zone {
    pub take: usize,
    pub said: RootSource,
    pub judged: Judged,
}

impl Zone {
    /// The key that its name names.
    pub(super) fn named(&self) -> Option<f64> {
        match self.said {
            RootSource::Named(key) => Some(f64::from(key)),
            _ => None,
        }
    }

    /// The key that is heard well.
    pub(super) fn believed(&self) -> Option<f64> {
        let heard = self.judged.heard.filter(|heard| heard.confidence >= BELIEVED)?;
        Some(heard.key)
    }

    /// Where a name's key and an octave put it; in tune as it is heard. Where ears overrule names they say it, or what the others have
    /// in common does.
    pub(super) fn key(&self, named: f64, octaves: i32, overruled: Option<f64>) -> f64 {
        let key = named + overruled.unwrap_or(f64::from(12 * octaves));
        match self.believed() {
            Some(heard) if overruled.is_some() || (IN_TUNE..1.0).contains(&(heard - key).abs()) => heard,
            _ => key,
        }
    }
}
