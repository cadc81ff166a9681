//! What was found, piece by piece, for people's page and for programs.

use std::path::Path;

use serde::Serialize;

use super::shot::{Shot, of_take};
use crate::kit::audio::pitch::{BELIEVED, PitchEstimate};
use crate::kit::{GUESS, Kit, Piece, Reading};
use crate::text::{Problem, shown_json};

/// What was found in a folder.
pub(super) struct Report<'a> {
    /// The folder, as it was named.
    pub folder: &'a Path,
    /// True where it has a `kit.toml`.
    pub written: bool,
    /// Its kit.
    pub kit: &'a Kit,
    /// Its files in the order of their numbers.
    pub shots: &'a [Shot],
}

/// `--json`: the folder.
#[derive(Serialize)]
struct KitFields {
    folder: String,
    kit_toml: bool,
    pieces: Vec<PieceFields>,
    problems: Vec<String>,
}

#[derive(Serialize)]
struct PieceFields {
    name: String,
    group: &'static str,
    takes: usize,
    layers: usize,
    files: Vec<FileFields>,
    confidence: f64,
    words: Vec<String>,
    distance: Option<f64>,
    takes_confidence: Option<f64>,
}

#[derive(Serialize)]
struct FileFields {
    file: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    right: Option<String>,
    seconds: Option<f64>,
    rate: Option<u32>,
    bits: Option<u16>,
    channels: Option<usize>,
    peak_db: Option<f64>,
    lufs: Option<f64>,
    root: Option<f64>,
    root_confidence: Option<f64>,
    late_ms: Option<f64>,
    odd: Vec<String>,
}

/// One piece with what was found of it.
pub(super) struct OfPiece<'a> {
    /// The piece.
    pub piece: &'a Piece,
    /// What names tell.
    pub reading: Reading,
    /// Its files in the order of its layers.
    pub shots: Vec<&'a Shot>,
}

impl OfPiece<'_> {
    /// True where it is taken for a piece of percussion, and not surely.
    pub(super) fn is_guess(&self) -> bool {
        self.reading.piece.is_some() && self.reading.confidence < GUESS
    }
}

impl Report<'_> {
    /// The pieces in the kit's order.
    pub(super) fn pieces(&self) -> Vec<OfPiece<'_>> {
        let listed = self.kit.index().listed().iter().enumerate();
        listed
            .map(|(at, piece)| {
                let takes = piece.layers.iter().flat_map(|layer| &layer.zones);
                OfPiece {
                    piece,
                    reading: self.kit.reading(at).cloned().unwrap_or_default(),
                    shots: takes.filter_map(|take| of_take(self.shots, *take)).collect(),
                }
            })
            .collect()
    }

    /// A file's path from the folder, with forward slashes.
    pub(super) fn file(&self, shot: &Shot) -> String {
        self.within(&shot.path)
    }

    /// A path from the folder, with forward slashes.
    pub(super) fn within(&self, path: &Path) -> String {
        let within = path.strip_prefix(self.folder).unwrap_or(path);
        let parts = within.components().map(|part| part.as_os_str().to_string_lossy());
        parts.collect::<Vec<_>>().join("/")
    }

    /// The folder's own name.
    pub(super) fn name(&self) -> String {
        name_of(self.folder)
    }

    /// What the kit is called: as its `kit.toml` says, else as its folder.
    pub(super) fn title(&self) -> String {
        let first = self.shots.first().and_then(|shot| self.kit.about(shot.take));
        first.map_or_else(|| self.name(), |about| about.title.clone())
    }

    /// A recording's root as a MIDI key, and how surely it is heard: what names and files tell, else what is heard well.
    pub(super) fn root(&self, shot: &Shot) -> (Option<f64>, Option<f64>) {
        let facts = shot.found.as_ref().ok().map(|found| &found.facts);
        let heard: Option<PitchEstimate> = facts.and_then(|facts| facts.heard);
        let believed = heard.filter(|heard| heard.confidence >= BELIEVED);
        // Many writers put 60 for want of knowledge.
        let own = facts.and_then(|facts| facts.root).filter(|root| *root != 60.0);
        let told = self.kit.index().root(shot.take).or(own);
        (
            told.or(believed.map(|heard| heard.key)),
            heard.map(|heard| heard.confidence),
        )
    }

    /// What is odd about the folder and about the pitches of its files.
    pub(super) fn notices(&self) -> impl Iterator<Item = &Problem> {
        self.kit.skipped().iter().chain(self.kit.notices())
    }

    /// The same as one JSON object.
    pub(super) fn json(&self) -> String {
        let pieces = self.pieces().into_iter().map(|of| PieceFields {
            name: of.piece.name.clone(),
            group: self.group(&of).name(),
            takes: of.shots.len(),
            layers: of.piece.layers.len(),
            files: of.shots.iter().map(|shot| self.told_file(shot)).collect(),
            confidence: of.reading.confidence,
            words: of.reading.words,
            distance: of.reading.distance,
            takes_confidence: of.reading.takes_confidence,
        });
        let unread = self.shots.iter().filter_map(|shot| shot.found.as_ref().err());
        let told = KitFields {
            folder: self.folder.display().to_string(),
            kit_toml: self.written,
            pieces: pieces.collect(),
            problems: unread.chain(self.notices()).map(ToString::to_string).collect(),
        };
        shown_json(serde_json::to_string(&told).expect("figures and names are always JSON"))
    }

    fn told_file(&self, shot: &Shot) -> FileFields {
        let found = shot.found.as_ref().ok();
        let facts = found.map(|found| &found.facts);
        let (root, root_confidence) = self.root(shot);
        FileFields {
            file: self.file(shot),
            right: shot.right.as_deref().map(|right| self.within(right)),
            seconds: facts.map(|facts| facts.seconds),
            rate: facts.map(|facts| facts.rate),
            bits: facts.map(|facts| facts.bits),
            channels: facts.map(|facts| facts.channels),
            peak_db: facts.and_then(|facts| facts.peak_db),
            lufs: found.and_then(|found| found.lufs),
            root,
            root_confidence,
            late_ms: facts.map(|facts| facts.care.late * 1000.0),
            odd: shot.odd.iter().map(super::problems::RecordingProblem::short).collect(),
        }
    }
}

/// A folder's own name.
pub(super) fn name_of(folder: &Path) -> String {
    let whole = folder.canonicalize();
    let name = whole.as_deref().unwrap_or(folder).file_name();
    name.map_or_else(|| "kit".into(), |name| name.to_string_lossy().into_owned())
}
