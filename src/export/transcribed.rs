//! What was heard in a recording, as lines of a loop file.

use super::tablature;
use crate::loopfile::{Exact, Manner, Stroke, Time, mark_for};
use crate::notation::gridded;
use crate::text::quoted;
use crate::transcription::Transcript;

/// Parts of a bar that a moment is rounded to: a few microseconds.
const FINEST: f64 = 1_048_576.0;

/// How a transcript is written down.
#[derive(Debug, Clone)]
pub(crate) struct Writing {
    /// Tempo and metre.
    pub time: Time,
    /// The second of bar 1, beat 1.
    pub first: f64,
    /// Bars of the loop.
    pub bars: u32,
    /// Hits keep the times at which they were played; else they lie on the grid.
    pub feel: bool,
}

impl Writing {
    /// Where a moment lies, in bars; never before the first.
    fn at(&self, seconds: f64) -> Exact {
        let bars = (seconds - self.first) / self.time.bar_seconds();
        Exact::new(libm::round(bars.max(0.0) * FINEST) as i128, FINEST as i128)
    }

    /// Bars from bar 1 to the one in which a moment lies.
    pub(crate) fn bars_to(time: &Time, first: f64, seconds: f64) -> u32 {
        // What is a sixteenth of a beat early is meant for the next bar, where nothing begins that would ask for one.
        let slack = time.bar_seconds() / f64::from(time.counts) / 16.0;
        let bars = ((seconds - first + slack) / time.bar_seconds()).floor() + 1.0;
        bars.max(1.0) as u32
    }
}

/// The sounds of a transcript's hits, each once, in the order of their names.
fn sounds(transcript: &Transcript) -> Vec<&str> {
    let mut sounds: Vec<&str> = transcript.hits.iter().map(|hit| hit.sound.as_str()).collect();
    sounds.sort_unstable();
    sounds.dedup();
    sounds
}

/// Its hits as parts of a loop file, one a sound.
pub(crate) fn hits(transcript: &Transcript, writing: &Writing) -> String {
    let sounds = sounds(transcript);
    let strokes = transcript.hits.iter().map(|hit| Stroke {
        at: writing.at(hit.seconds),
        step: Exact::ZERO,
        piece: sounds.iter().position(|sound| *sound == hit.sound).unwrap_or(0),
        velocity: hit.velocity,
        plain: false,
        shift: 0.0,
        pitch: None,
        sounds: None,
        word: None,
        expression: None,
        mark: mark_for(hit.velocity),
        manner: Manner::Single,
        scale: 1.0,
    });
    let end = Exact::from_integer(writing.bars.into());
    let strokes: Vec<Stroke> = strokes.filter(|stroke| stroke.at < end).collect();
    let mut strokes = gridded(&strokes, &writing.time, writing.bars);
    if !writing.feel {
        strokes.iter_mut().for_each(|stroke| stroke.shift = 0.0);
        // Of two on one place the harder stays.
        strokes.sort_by(|a, b| {
            let hard = b.velocity.total_cmp(&a.velocity);
            a.at.cmp(&b.at).then(a.piece.cmp(&b.piece)).then(hard)
        });
        strokes.dedup_by_key(|stroke| (stroke.at, stroke.piece));
    }
    let pieces: Vec<(&str, &str)> = sounds.iter().map(|sound| (*sound, *sound)).collect();
    tablature::parts(&pieces, &strokes, &writing.time, writing.bars)
}

/// A whole loop file that plays some parts on a kit.
pub(crate) fn loop_file(title: &str, kit: &str, writing: &Writing, parts: &str) -> String {
    format!(
        "[loop]\ntitle = {}\nkit = {}\ntempo = {}\nbars = {}\n\n{parts}",
        quoted(title),
        quoted(kit),
        rounded(writing.time.tempo),
        writing.bars,
    )
}

/// A tempo as it is written: to a thousandth.
pub(crate) fn rounded(tempo: f64) -> f64 {
    libm::round(tempo * 1000.0) / 1000.0
}
