//! What `transcribe` says of what it heard.

use crate::export::transcribed::Writing;
use crate::text::count_of;
use crate::text::width::wrapped;
use crate::transcription::Transcript;

/// Columns of a comment.
const WIDTH: usize = 78;
/// Hits up to this confidence are counted as doubtful.
const DOUBTFUL: f64 = 0.5;

/// Tempo, beats and hits in a sentence or two.
pub(super) fn heard(transcript: &Transcript, writing: &Writing) -> String {
    let counted = writing.sounds.iter().filter_map(|sound| {
        let hits = transcript.hits.iter().filter(|hit| hit.sound == *sound).count();
        (hits > 0).then(|| format!("{sound} {hits}"))
    });
    let doubtful = transcript.hits.iter().filter(|hit| hit.confidence <= DOUBTFUL).count();
    let doubtful = match doubtful {
        0 => String::new(),
        some => format!(", {some} of them doubtful"),
    };
    // Adding nothing makes -0 a plain 0.
    let first = libm::round(writing.first * 1000.0) / 1000.0 + 0.0;
    let confidence = transcript.tempo_confidence.unwrap_or_default();
    let time = format!(
        "{} at {} BPM (confidence {confidence:.2}), beat 1 at {first:.3} s",
        count_of(writing.bars as usize, "bar"),
        writing.time.tempo,
    );
    if !transcript.notes.is_empty() {
        return format!("{time}; {}", of_notes(transcript));
    }
    format!(
        "{time}; {}{doubtful}: {}",
        count_of(transcript.hits.len(), "hit"),
        counted.collect::<Vec<_>>().join(", "),
    )
}

/// Notes, key and tuning.
fn of_notes(transcript: &Transcript) -> String {
    let notes = &transcript.notes;
    let doubtful = notes.iter().filter(|note| note.confidence <= DOUBTFUL).count();
    let doubtful = match doubtful {
        0 => String::new(),
        some => format!(", {some} of them doubtful"),
    };
    let key = transcript.key.as_ref().map_or(String::new(), |key| format!(", {key}"));
    let cents = transcript.tuning_cents.unwrap_or_default();
    let tuning = match libm::round(cents) {
        0.0 => String::new(),
        cents => format!(", {cents:+} cents from A4 = 440 Hz"),
    };
    format!("{}{doubtful}{key}{tuning}", count_of(notes.len(), "note"))
}

/// Lines of a loop file under comments that say what was heard.
pub(super) fn lines(heard: &str, parts: &str) -> String {
    let comments: Vec<String> = wrapped(heard, WIDTH).iter().map(|line| format!("# {line}\n")).collect();
    comments.concat() + parts.trim_end()
}
