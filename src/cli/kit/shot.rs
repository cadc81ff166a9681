//! One file of the folder, looked at.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use super::problems::RecordingProblem;
use crate::export::outline;
use crate::kit::Sides;
use crate::kit::audio::pitch::BELIEVED;
use crate::kit::findings::Findings;
use crate::kit::findings::fingerprint::Fingerprint;
use crate::measure::spectrum;
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
    /// What listening found.
    findings: Arc<Findings>,
    /// Its outline and its spectrum, where it is to be drawn.
    pub drawn: Option<Drawn>,
}

impl std::ops::Deref for Found {
    type Target = Findings;

    fn deref(&self) -> &Findings {
        &self.findings
    }
}

/// What is drawn of a recording.
pub(super) struct Drawn {
    pub wave: Vec<(f32, f32)>,
    pub spectrum: Vec<f64>,
}

impl Shot {
    /// A file and what was found in it. Where it is to be drawn it is decoded anew, and its waveform has so many columns.
    pub(super) fn of(sides: Sides, take: usize, found: Result<Arc<Findings>, Problem>, columns: Option<usize>) -> Shot {
        let drawing = |columns: usize| {
            let audio = sides.decode().ok()?.audio;
            Some(Drawn {
                wave: outline::columns(&audio, audio.frames(), columns),
                spectrum: spectrum(&audio, BANDS),
            })
        };
        let found = found.map(|findings| Found {
            findings,
            drawn: columns.and_then(drawing),
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

    /// What it is like; none of one that can't be read or is silent.
    pub(super) fn like(&self) -> Option<&Fingerprint> {
        self.found.as_ref().ok()?.fingerprint.as_ref()
    }

    /// What there is to say of it on a line: length, peak, pitch, what is odd.
    pub(super) fn told(&self) -> String {
        let mut told = Vec::new();
        if let Ok(found) = &self.found {
            let facts = &found.facts;
            told.push(format!("{:.2} s", facts.seconds));
            told.extend(facts.peak_db.map(|peak| format!("{peak:.1} dBFS")));
            let heard = facts.heard.filter(|heard| heard.confidence >= BELIEVED);
            told.extend(heard.map(|heard| format!("sounds as {}", crate::kit::audio::pitch::note_name(heard.key))));
        }
        told.extend(self.odd.iter().map(RecordingProblem::short));
        told.join(", ")
    }
}

/// Marks files whose sound another one before them has. Silence is odd enough by itself.
pub(super) fn find_twins(shots: &mut [Shot]) {
    let mut first: BTreeMap<[u8; 16], usize> = BTreeMap::new();
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
