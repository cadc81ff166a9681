//! What is told of a preview: figures of what it plays and of how it sounds.

use std::collections::BTreeSet;
use std::path::{Component, Path};

use sha2::{Digest, Sha256};

use super::plan::Entry;
use super::record::{Told, Written};
use crate::export::outline::columns;
use crate::files::hexadecimal;
use crate::loopfile::{Loop, Swing};
use crate::measure::{self, Figures, brightness};
use crate::project::{KnownCredits, Project, Score};
use crate::render::{Order, Rendered};
use crate::score;
use crate::text::Problems;

/// Columns of a preview's outline.
const COLUMNS: usize = 80;

/// Tells of a preview; `around` is the folder of its list, `files` are what was written.
///
/// # Errors
/// As [`Project::score`].
pub(super) fn told(
    around: &Path,
    entry: &Entry,
    (project, order): (&Project, &Order),
    (finished, files): (&Rendered, &[Written]),
    credits: &KnownCredits,
) -> Result<Told, Problems> {
    let score = project.score(order)?;
    let (first, figures) = (project.first(), figures(finished));
    let kits: BTreeSet<String> = project
        .loops()
        .iter()
        .flat_map(|(song, _)| &song.kits)
        .map(|kit| within(around, kit))
        .collect();
    let file = files.first();
    Ok(Told {
        file: file.map_or(String::new(), |file| file.file.clone()),
        title: project.title().into_owned(),
        collection: entry.name.split('/').next().unwrap_or_default().to_string(),
        loop_file: within(around, &entry.file),
        kit: kits.into_iter().collect::<Vec<_>>().join(", "),
        mix: entry.mix.clone(),
        vary: Some(entry.varied()).filter(|words| !words.is_empty()),
        tempo: first.time.tempo,
        key: first.key.clone(),
        metre: format!("{}/{}", first.time.counts, first.time.unit),
        bars: project.bars() * order.rounds,
        seconds: rounded(finished.audio.seconds(), 3),
        lufs: finished.lufs.map(|lufs| rounded(lufs, 2)),
        true_peak_db: finished.true_peak_db.map(|peak| rounded(peak, 2)),
        lra: figures.lra.map(|range| rounded(range, 2)),
        brightness: brightness(&finished.audio).map(|hz| rounded(hz, 0)),
        density: rounded(density(&score), 2),
        swing: swing(project).map(|percent| rounded(percent, 1)),
        syncopation: syncopation(&score).map(|strength| rounded(strength, 2)),
        parts: parts(project),
        licences: licences(project, order, credits)?,
        sha256_score: sum(&score),
        sha256_audio: file.map_or(String::new(), |file| file.sha256.clone()),
    })
}

fn figures(finished: &Rendered) -> Figures {
    let sides = measure::Sides::of(&finished.audio);
    measure::figures_beside(
        &finished.audio,
        &sides,
        finished.energies.as_ref(),
        finished.true_peak_db,
    )
}

fn rounded(number: f64, digits: i32) -> f64 {
    let scale = 10f64.powi(digits);
    (number * scale).round() / scale
}

/// A path relative to a folder, where it lies in it, as it is written on every system.
fn within(folder: &Path, path: &Path) -> String {
    let path = path.strip_prefix(folder).unwrap_or(path);
    let mut parts: Vec<String> = Vec::new();
    for part in path.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir if parts.last().is_some_and(|last| last != "..") => drop(parts.pop()),
            part => parts.push(part.as_os_str().to_string_lossy().into_owned()),
        }
    }
    parts.join("/").replacen("//", "/", 1)
}

/// Hits and notes a beat.
fn density(score: &Score) -> f64 {
    let beats: f64 = score
        .passages
        .iter()
        .map(|passage| (passage.ends - passage.begins) * passage.song.time.tempo / 60.0)
        .sum();
    if beats > 0.0 {
        score.hits().count() as f64 / beats
    } else {
        0.0
    }
}

/// The swing of all parts in percent, where it is one.
fn swing(project: &Project) -> Option<f64> {
    let loops = project.loops();
    let mut swings = loops
        .iter()
        .flat_map(|(song, _)| &song.parts)
        .map(|part| &part.playing.swing);
    let first: &Swing = swings.next()?;
    swings
        .all(|swing| swing.share == first.share)
        .then(|| 100.0 * *first.share.numer() as f64 / *first.share.denom() as f64)
}

/// How syncopated a bar is; of a form all sections have to have it.
fn syncopation(score: &Score) -> Option<f64> {
    let (mut strength, mut bars) = (0, 0);
    for passage in &score.passages {
        let cycle = &passage.cycle;
        strength += score::syncopation(passage.song, cycle.first..cycle.first + cycle.bars)? * cycle.times;
        bars += cycle.bars * cycle.times;
    }
    (bars > 0).then(|| f64::from(strength) / f64::from(bars))
}

/// The parts that are heard, each once.
fn parts(project: &Project) -> Vec<String> {
    let mut parts: Vec<String> = Vec::new();
    for (song, _) in project.loops() {
        for name in heard(song) {
            if !parts.iter().any(|other| other == name) {
                parts.push(name.to_string());
            }
        }
    }
    parts
}

fn heard(song: &Loop) -> impl Iterator<Item = &str> {
    let heard = song.heard();
    let parts = song
        .parts
        .iter()
        .enumerate()
        .filter(move |(number, part)| heard.parts[*number] && !part.strokes.is_empty());
    parts.map(|(_, part)| part.name.as_str())
}

/// The terms on which what sounds may be used, each once; what says none has none.
fn licences(project: &Project, order: &Order, credits: &KnownCredits) -> Result<Vec<String>, Problems> {
    let cast = project.cast_knowing(order, credits)?;
    let licences: BTreeSet<String> = cast
        .keys()
        .filter_map(|credit| credit.licence.clone())
        .map(|said| said.text)
        .collect();
    Ok(licences.into_iter().collect())
}

/// The sum of what is played.
fn sum(score: &Score) -> String {
    let mut sum = Sha256::new();
    for hit in score.hits() {
        let (at, length) = (hit.at.to_bits(), hit.length.map(f64::to_bits));
        sum.update(format!(
            "{:?}\n",
            (hit.part, hit.piece, at, hit.velocity.to_bits(), hit.pitch, length)
        ));
    }
    hexadecimal(&sum.finalize())
}

/// How far audio reaches up and down in [`COLUMNS`] columns, from 0 to 9 of its own peak: two digits a column.
pub(super) fn outline(finished: &Rendered) -> String {
    let audio = &finished.audio;
    let columns = columns(audio, audio.frames().max(1), COLUMNS);
    let peak = columns.iter().fold(0f32, |peak, (low, high)| peak.max(-low).max(*high));
    let digit = |reach: f32| (9.0 * reach / peak.max(f32::MIN_POSITIVE)).round() as u32;
    let digits = columns.iter().flat_map(|(low, high)| [digit(*high), digit(-low)]);
    digits.filter_map(|digit| char::from_digit(digit.min(9), 10)).collect()
}
