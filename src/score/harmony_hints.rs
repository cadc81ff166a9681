//! What may not be meant in the notes of a loop: notes outside of its key, parts a semitone apart, a bass that leaves
//! the chord on the one, comping that is held on while the chord changes.

use std::collections::BTreeMap;

use super::harmony_places::{BASS, HarmonyHint, bar, has, name, place};
use super::harmony_suggestions::suggestions;
use crate::harmony::Key;
use crate::loopfile::{ChordChange, Ending, Exact, Loop, Part, Stroke, Way};
use crate::text::Problem;

/// Looks over what a loop's parts sound together; says at most one thing of a place, and nothing where the loop does not want
/// to hear of it.
pub(crate) fn harmony_hints(song: &Loop) -> Vec<Problem> {
    if !song.harmony_hints {
        return Vec::new();
    }
    let mut hints = outside(song);
    hints.extend(rubs(song));
    hints.extend(off_the_chord(song));
    hints.extend(song.parts.iter().filter_map(|part| held_over(song, part)));
    for suggestion in suggestions(song) {
        if hints.iter().all(|hint| hint.place != suggestion.place) {
            hints.push(suggestion);
        }
    }
    hints
}

/// Notes that neither the key nor the chord of their place has, a hint for each part.
fn outside(song: &Loop) -> Vec<Problem> {
    let Some(key) = song.key.as_ref().and_then(|key| Key::parse(key).ok()) else {
        return Vec::new();
    };
    let mut hints = Vec::new();
    for part in &song.parts {
        let mut foreign: BTreeMap<i32, HarmonyHint> = BTreeMap::new();
        for stroke in &part.strokes {
            let Some(pitch) = stroke.pitch else { continue };
            let written = song.chord_at(stroke.at).is_some_and(|chord| has(chord, name(pitch)));
            if !key.has(name(pitch)) && !written {
                foreign.entry(pitch.rem_euclid(12)).or_default().add(stroke);
            }
        }
        for odd in foreign.into_values() {
            let named = odd.first.and_then(|stroke| song.named(stroke, Some(&key)));
            let Some(note) = named else { continue };
            let (name, note, bars) = (&part.name, note.spelling, odd.spelled());
            let what = format!("`{name}` plays {note} in {bars}, outside of {key}");
            hints.push(Problem::at(place(part, odd.first), what));
        }
    }
    hints
}

/// Parts whose notes stand a semitone apart on one beat, but for two tones of the chord that the chart has there: a major
/// seventh rubs against its root because the chord is meant to.
fn rubs(song: &Loop) -> Vec<Problem> {
    let counts = Exact::from_integer(song.time.counts.into());
    fn on_beats(part: &Part, counts: Exact) -> BTreeMap<(Exact, i32), &Stroke> {
        let strokes = part.strokes.iter().filter(|stroke| (stroke.at * counts).is_integer());
        strokes
            .filter_map(|stroke| Some(((stroke.at, stroke.pitch?), stroke)))
            .collect()
    }
    let parts: Vec<_> = song.parts.iter().map(|part| (part, on_beats(part, counts))).collect();
    let mut hints = Vec::new();
    for (number, (part, notes)) in parts.iter().enumerate() {
        for (other, others) in &parts[..number] {
            let meant = |at: Exact, pitches: [i32; 2]| {
                song.chord_at(at)
                    .is_some_and(|chord| pitches.iter().all(|pitch| has(chord, name(*pitch))))
            };
            let mut odd = HarmonyHint::default();
            for ((at, pitch), stroke) in notes {
                let near = [pitch - 1, pitch + 1];
                let rubs = |near: &i32| others.contains_key(&(*at, *near)) && !meant(*at, [*pitch, *near]);
                if near.iter().any(rubs) {
                    odd.add(stroke);
                }
            }
            if odd.first.is_some() {
                let (name, other, bars) = (&part.name, &other.name, odd.spelled());
                let what = format!("`{name}` and `{other}` are a semitone apart on a beat in {bars}");
                hints.push(Problem::at(place(part, odd.first), what));
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
            song.chord_at(stroke.at).is_some_and(|chord| !has(chord, name(pitch)))
        });
        let mut odd = HarmonyHint::default();
        foreign.for_each(|stroke| odd.add(stroke));
        if odd.first.is_some() {
            let what = format!(
                "`{}` begins {} with a note that the chord has not",
                part.name,
                odd.spelled()
            );
            hints.push(Problem::at(place(part, odd.first), what));
        }
    }
    hints
}

/// A comped chord that is held on where the chart has changed to one that lacks some of its tones. What is struck early for the
/// chord to come is not: its tones are that chord's.
fn held_over(song: &Loop, part: &Part) -> Option<Problem> {
    if part.way != Way::Comp || part.double {
        return None;
    }
    // Where the loop repeats, its first chord follows its last.
    let round = Exact::from_integer(song.bars.into());
    let later = song.chords.iter().filter(|_| song.ending == Ending::Repeat);
    let changes: Vec<(Exact, &ChordChange)> = song
        .chords
        .iter()
        .map(|change| (change.at, change))
        .chain(later.map(|change| (change.at + round, change)))
        .collect();
    let mut struck = Exact::ZERO;
    for stroke in &part.strokes {
        // An arpeggio goes on from the strike before.
        let goes_on = stroke.mark == '=';
        if !goes_on {
            struck = stroke.at;
        }
        let (Some(pitch), Some(word)) = (stroke.pitch, &stroke.word) else {
            continue;
        };
        // A stroke that is not held may last beyond a change that comes within its step.
        if !goes_on && word.held <= stroke.step {
            continue;
        }
        let first = changes.partition_point(|(at, _)| *at <= struck);
        let mut over = changes[first..]
            .iter()
            .take_while(|(at, _)| *at < stroke.at + word.held);
        let lacks = |change: &ChordChange| match &change.chord {
            Some(chord) => !has(chord, name(pitch)),
            None => change.silence,
        };
        let Some((at, change)) = over.find(|(_, change)| lacks(change)) else {
            continue;
        };
        let to = change
            .chord
            .as_ref()
            .map_or("N.C.".to_string(), |chord| chord.to_string());
        let here = bar(if *at >= round { at - round } else { *at });
        let what = format!("`{}` holds a chord on over the change to {to} in bar {here}", part.name);
        let help = "strike the new chord there, rest before it with `-`, or take it early with `<`";
        return Some(Problem::at(place(part, Some(stroke)), what).help(help));
    }
    None
}
