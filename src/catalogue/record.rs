//! What is kept of a preview that was made.

use serde::{Deserialize, Serialize};

/// A preview: what the index tells of it, and by what its files are known again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Record {
    /// What it was made from, as a sum.
    pub made_from: String,
    /// Its files, in the order of the list's formats.
    pub files: Vec<Written>,
    /// What the index tells of it.
    pub told: Told,
    /// How far it reaches up and down, column by column, from 0 to 9: two digits a column.
    pub outline: String,
}

/// A file of a preview.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Written {
    /// Its path within the catalogue, with slashes.
    pub file: String,
    /// Its length.
    pub bytes: u64,
    /// SHA-256 of its bytes in hexadecimal.
    pub sha256: String,
}

/// What the index tells of a preview. Figures are rounded, so that they are the same on all machines.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Told {
    /// The file that the index plays.
    pub file: String,
    /// What the loop is called.
    pub title: String,
    /// Its collection.
    pub collection: String,
    /// The loop file, relative to the list.
    #[serde(rename = "loop")]
    pub loop_file: String,
    /// The folders of its kit, relative to the list where they are.
    pub kit: String,
    /// The mix; none for the loop as written.
    pub mix: Option<String>,
    /// What varies: `KEY=VALUE`, with spaces between; none where nothing does.
    pub vary: Option<String>,
    /// In BPM.
    pub tempo: f64,
    /// The key of the music, where the loop says one.
    pub key: Option<String>,
    /// Such as `4/4`.
    pub metre: String,
    /// Bars in all.
    pub bars: u32,
    /// Its length.
    pub seconds: f64,
    /// Integrated loudness, LUFS.
    pub lufs: Option<f64>,
    /// True peak, dBTP.
    pub true_peak_db: Option<f64>,
    /// Loudness range, LU.
    pub lra: Option<f64>,
    /// Spectral centroid, Hz.
    pub brightness: Option<f64>,
    /// Hits and notes a beat, all audible parts together.
    pub density: f64,
    /// The share of a pair that the first half takes, in percent: 50 is straight; none where parts differ.
    pub swing: Option<f64>,
    /// How syncopated kick and snare are, a bar; none where that can't be said.
    pub syncopation: Option<f64>,
    /// The parts that are heard.
    pub parts: Vec<String>,
    /// The terms on which its one-shots may be used, each once.
    pub licences: Vec<String>,
    /// SHA-256 of what is played: part, piece, time, velocity, pitch and length of every hit.
    pub sha256_score: String,
    /// SHA-256 of `file`.
    pub sha256_audio: String,
}
