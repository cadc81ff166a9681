//! What may not be meant in the notes of a loop: notes outside of its key, parts a semitone apart, a bass that leaves
//! the chord on the one.

use std::collections::{BTreeMap, BTreeSet};

use super::hints::spelled;
use crate::harmony::{Chord, Key, Letter, Spelling};
use crate::loopfile::{Exact, Loop, Part};
use crate::text::Problem;

/// Notes below this key, G2, are taken for the bass.
const BASS: i32 = 43;

/// Looks over what a loop's parts sound together.
pub fn harmony_hints(song: &Loop) -> Vec<Problem> {
    let mut hints = outside(song);
    hints.extend(rubs(song));
    hints.extend(off_the_chord(song));
    hints
}

fn bar(at: Exact) -> u32 {
    u32::try_from(at.floor().to_integer()).unwrap_or(0) + 1
}

/// The name of a pitch, as sharps.
fn name(pitch: i32) -> Spelling {
    let plain = |letter: &Letter| letter.semitones() == pitch.rem_euclid(12);
    match Letter::ALL.iter().find(|letter| plain(letter)) {
        Some(letter) => Spelling::new(*letter, 0),
        None => {
            let below = Letter::ALL
                .iter()
                .rfind(|letter| letter.semitones() < pitch.rem_euclid(12));
            Spelling::new(*below.unwrap_or(&Letter::C), 1)
        }
    }
}

/// The chord that the chart has at a place.
fn chord_at(song: &Loop, at: Exact) -> Option<&Chord> {
    let next = song.chords.partition_point(|change| change.at <= at);
    song.chords.get(next.checked_sub(1)?)?.chord.as_ref()
}

fn has(chord: &Chord, note: Spelling) -> bool {
    let mut tones = chord.tones.iter().map(|tone| tone.spelling).chain(chord.bass);
    tones.any(|tone| tone.pitch_class() == note.pitch_class())
}

/// Notes that neither the key nor the chord of their place has, a hint for each part.
fn outside(song: &Loop) -> Vec<Problem> {
    let Some(key) = song.key.as_ref().and_then(|key| Key::parse(key).ok()) else {
        return Vec::new();
    };
    let mut hints = Vec::new();
    for part in &song.parts {
        let mut foreign: BTreeMap<i32, BTreeSet<u32>> = BTreeMap::new();
        for stroke in &part.strokes {
            let Some(pitch) = stroke.pitch else { continue };
            let written = chord_at(song, stroke.at).is_some_and(|chord| has(chord, name(pitch)));
            if !key.has(name(pitch)) && !written {
                foreign.entry(pitch.rem_euclid(12)).or_default().insert(bar(stroke.at));
            }
        }
        for (pitch, bars) in foreign {
            let bars: Vec<u32> = bars.into_iter().collect();
            let what = format!(
                "`{}` plays {} in {}, outside of {key}",
                part.name,
                name(pitch),
                spelled(&bars)
            );
            hints.push(Problem::at(&part.place, what));
        }
    }
    hints
}

/// Parts whose notes stand a semitone apart on one beat, but for two tones of the chord that the chart has there: a major
/// seventh rubs against its root because the chord is meant to.
fn rubs(song: &Loop) -> Vec<Problem> {
    let counts = Exact::from_integer(song.time.counts.into());
    let on_beats = |part: &Part| -> BTreeSet<(Exact, i32)> {
        let strokes = part.strokes.iter().filter(|stroke| (stroke.at * counts).is_integer());
        strokes.filter_map(|stroke| Some((stroke.at, stroke.pitch?))).collect()
    };
    let parts: Vec<(&Part, BTreeSet<(Exact, i32)>)> = song.parts.iter().map(|part| (part, on_beats(part))).collect();
    let mut hints = Vec::new();
    for (number, (part, notes)) in parts.iter().enumerate() {
        for (other, others) in &parts[..number] {
            let meant = |at: Exact, pitches: [i32; 2]| {
                chord_at(song, at).is_some_and(|chord| pitches.iter().all(|pitch| has(chord, name(*pitch))))
            };
            let rubs = |(at, pitch): &&(Exact, i32)| {
                let near = [pitch - 1, pitch + 1]
                    .into_iter()
                    .filter(|near| others.contains(&(*at, *near)));
                near.into_iter().any(|near| !meant(*at, [*pitch, near]))
            };
            let bars: BTreeSet<u32> = notes.iter().filter(rubs).map(|(at, _)| bar(*at)).collect();
            if !bars.is_empty() {
                let bars: Vec<u32> = bars.into_iter().collect();
                let (name, other, bars) = (&part.name, &other.name, spelled(&bars));
                let what = format!("`{name}` and `{other}` are a semitone apart on a beat in {bars}");
                hints.push(Problem::at(&part.place, what));
            }
        }
    }
    hints
}

/// Bass notes on the one that their chord has not.
fn off_the_chord(song: &Loop) -> Vec<Problem> {
    let mut hints = Vec::new();
    for part in &song.parts {
        let downbeats = part.strokes.iter().filter(|stroke| stroke.at.is_integer());
        let foreign = downbeats.filter(|stroke| {
            let Some(pitch) = stroke.pitch.filter(|pitch| *pitch < BASS) else {
                return false;
            };
            chord_at(song, stroke.at).is_some_and(|chord| !has(chord, name(pitch)))
        });
        let bars: BTreeSet<u32> = foreign.map(|stroke| bar(stroke.at)).collect();
        if !bars.is_empty() {
            let bars: Vec<u32> = bars.into_iter().collect();
            let what = format!(
                "`{}` begins {} with a note that the chord has not",
                part.name,
                spelled(&bars)
            );
            hints.push(Problem::at(&part.place, what));
        }
    }
    hints
}
