//! One file of the folder, looked at.

use std::collections::BTreeMap;
use std::path::PathBuf;

use sha2::{Digest, Sha256};

use super::problems::RecordingProblem;
use crate::base::audio::Audio;
use crate::export::outline;
use crate::kit::audio::pitch::BELIEVED;
use crate::kit::{Facts, Sides};
use crate::measure::{shot_loudness, spectrum};
use crate::text::Problem;

/// Bands of a spectrum in the picture: ten an octave.
const BANDS: usize = 100;

/// A file of the folder.
pub(super) struct Shot {
    /// Its number in the kit.
    pub take: usize,
    /// Where it lies; where its left side does, if it has two files.
    pub path: PathBuf,
    /// Where its right side lies, if that has a file of its own.
    pub right: Option<PathBuf>,
    /// What was found, or why it can't be read.
    pub found: Result<Found, Problem>,
    /// What is odd about it, the gravest first.
    pub odd: Vec<RecordingProblem>,
}

/// What there is to say of a file that can be read.
pub(super) struct Found {
    /// Its figures.
    pub facts: Facts,
    /// Loudness in LUFS, of a short one with silence behind it; none for silence.
    pub lufs: Option<f64>,
    /// What tells its sound from every other.
    sum: [u8; 32],
    /// Its outline and its spectrum, where it is to be drawn.
    pub drawn: Option<Drawn>,
}

/// What is drawn of a recording.
pub(super) struct Drawn {
    pub wave: Vec<(f32, f32)>,
    pub spectrum: Vec<f64>,
}

impl Shot {
    /// Decodes a recording and looks at it; where it is to be drawn, its waveform has so many columns.
    pub(super) fn of(sides: Sides, take: usize, columns: Option<usize>) -> Shot {
        let found = sides.decode().map(|decoded| {
            let audio = &decoded.audio;
            Found {
                facts: Facts::of(&decoded),
                lufs: shot_loudness(audio),
                sum: sum(audio),
                drawn: columns.map(|columns| Drawn {
                    wave: outline::columns(audio, audio.frames(), columns),
                    spectrum: spectrum(audio, BANDS),
                }),
            }
        });
        let odd = match &found {
            Ok(found) => RecordingProblem::of(&found.facts),
            Err(_) => vec![RecordingProblem::Unreadable],
        };
        Shot {
            take,
            path: sides.left,
            right: sides.right,
            found,
            odd,
        }
    }

    /// What there is to say of it on a line: length, peak, pitch, what is odd.
    pub(super) fn told(&self) -> String {
        let mut told = Vec::new();
        if let Ok(Found { facts, .. }) = &self.found {
            told.push(format!("{:.2} s", facts.seconds));
            told.extend(facts.peak_db.map(|peak| format!("{peak:.1} dBFS")));
            let heard = facts.heard.filter(|heard| heard.confidence >= BELIEVED);
            told.extend(heard.map(|heard| format!("sounds as {}", crate::kit::audio::pitch::note_name(heard.key))));
        }
        told.extend(self.odd.iter().map(RecordingProblem::short));
        told.join(", ")
    }
}

/// The sum of all samples, their number and their rate: what is the same to the ear, whatever its file says beside it.
fn sum(audio: &Audio) -> [u8; 32] {
    let mut sum = Sha256::new();
    sum.update(audio.rate.to_le_bytes());
    sum.update((audio.channels.len() as u64).to_le_bytes());
    let mut bytes = Vec::with_capacity(4 * 4096);
    for part in audio.channels.iter().flat_map(|side| side.chunks(4096)) {
        bytes.clear();
        bytes.extend(part.iter().flat_map(|sample| sample.to_le_bytes()));
        sum.update(&bytes);
    }
    sum.finalize().into()
}

/// Marks files whose sound another one before them has. Silence is odd enough by itself.
pub(super) fn find_twins(shots: &mut [Shot]) {
    let mut first: BTreeMap<[u8; 32], usize> = BTreeMap::new();
    for shot in shots {
        if let Ok(found) = &shot.found
            && !found.facts.silent
        {
            match first.get(&found.sum) {
                Some(twin) => shot.odd.push(RecordingProblem::Same(*twin)),
                None => drop(first.insert(found.sum, shot.take)),
            }
        }
        shot.odd.sort_by_key(RecordingProblem::kind);
    }
}

/// The shot of a recording, by its number; shots lie in the order of their numbers.
pub(super) fn of_take(shots: &[Shot], take: usize) -> Option<&Shot> {
    let at = shots.binary_search_by_key(&take, |shot| shot.take).ok()?;
    Some(&shots[at])
}
