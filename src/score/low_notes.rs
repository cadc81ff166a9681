//! Notes that are too low: beyond hearing, or far below what was recorded.

use crate::harmony::frequency;
use crate::kit::Index;
use crate::kit::audio::pitch::note_name;
use crate::loopfile::{Loop, Part};
use crate::text::{Problem, spelled};

/// The lowest tone that is heard, in Hz: there the contours of ISO 226 begin.
const LOWEST: f64 = 20.0;
/// From so many semitones on a note is far below its lowest recording, which then plays at a quarter of its speed [practice].
const FAR: f64 = 24.0;

/// The lowest note of each part, where it is too low.
pub(crate) fn low_notes(song: &Loop, kit: &Index) -> Vec<Problem> {
    song.parts
        .iter()
        .filter(|part| !part.double)
        .filter_map(|part| low_note(part, kit))
        .collect()
}

fn low_note(part: &Part, kit: &Index) -> Option<Problem> {
    let pitched = part.strokes.iter().filter_map(|stroke| Some((stroke.pitch?, stroke)));
    let (pitch, stroke) = pitched.min_by_key(|(pitch, _)| *pitch)?;
    let (key, hz) = (f64::from(pitch), frequency(f64::from(pitch)));
    let layers = kit
        .find(&part.pieces[stroke.piece].piece)
        .map_or(&[][..], |piece| &kit.pieces[piece].layers);
    let roots = layers
        .iter()
        .flat_map(|layer| &layer.zones)
        .filter_map(|take| kit.root(*take));
    let below = roots.min_by(f64::total_cmp).map_or(0.0, |root| root - key);
    let plays = format!(
        "`{}` plays {} in {}",
        part.name,
        note_name(key),
        spelled(&[u32::try_from(stroke.at.floor().to_integer()).unwrap_or(0) + 1])
    );
    let (what, help) = if hz < LOWEST {
        (
            format!("{plays}, a tone of {hz:.1} Hz: below {LOWEST:.0} Hz nothing is audible"),
            "write it an octave higher, or more",
        )
    } else if below >= FAR {
        (
            format!("{plays}, {below:.0} semitones below its lowest recording"),
            "write it an octave higher, or give the piece a lower zone",
        )
    } else {
        return None;
    };
    let place = stroke.word.as_ref().map_or(&part.place, |word| &word.place);
    Some(Problem::at(place, what).help(help))
}
