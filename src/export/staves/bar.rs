//! The events of one bar of one staff as shapes: which way stems go, what beams join, who steps aside for whom.

use std::collections::BTreeMap;
use std::ops::Range;

use super::pitch::{Accidentals, pitch};
use super::shape::{Heads, Shape};
use super::signs::sign;
use super::spacing::Extent;
use crate::notation::{Clef, Event, Head, Signature, Staff, WrittenNote};

/// One bar of one staff.
#[derive(Debug, Clone)]
pub(super) struct BarShapes<'a> {
    pub voices: Vec<Vec<Shape<'a>>>,
}

impl BarShapes<'_> {
    /// What takes space in it, in order of time.
    pub(super) fn extents(&self) -> Vec<Extent> {
        let shapes = self.voices.iter().flatten().filter(|shape| !shape.centred);
        let mut extents: Vec<Extent> = shapes
            .map(|shape| Extent {
                at: shape.event.at,
                left: shape.left,
                right: shape.right,
            })
            .collect();
        // Voices share their columns: one extent for both.
        extents.sort_by_key(|extent| extent.at);
        extents.dedup_by(|later, earlier| {
            let same = later.at == earlier.at;
            if same {
                earlier.left = earlier.left.max(later.left);
                earlier.right = earlier.right.max(later.right);
            }
            same
        });
        extents
    }
}

/// The stretches of a voice's events that beams join.
pub(super) fn beam_groups(events: &[&Event]) -> Vec<Range<usize>> {
    let mut groups = Vec::new();
    let mut begin = 0;
    while begin < events.len() {
        let mut end = begin + 1;
        while end < events.len() && events[end - 1].beams > 0 {
            end += 1;
        }
        if end - begin > 1 {
            groups.push(begin..end);
        }
        begin = end;
    }
    groups
}

/// The shapes of one bar of a staff. `key` is the bar's.
pub(super) fn shapes(staff: &Staff, bar: usize, key: Signature, degrees: bool) -> BarShapes<'_> {
    let measure = &staff.measures[bar];
    let shared = measure.voices.iter().filter(|voice| !voice.is_empty()).count() > 1;
    let mut heads = heads(staff, bar, key);
    let mut voices: Vec<Vec<Shape>> = Vec::new();
    for (voice, events) in measure.voices.iter().enumerate() {
        let ups = directions(staff, events, voice, shared);
        let shapes = events.iter().zip(ups).enumerate().map(|(place, (event, up))| {
            let heads = heads.remove(&(voice, place)).expect("every event has its heads");
            let mut shape = Shape::new(event, voice, shared, up, heads, degrees);
            shape.centred = events.len() == 1 && shape.rests();
            // Slashes that count beats stand in no loop's part, and have no stems.
            shape.stem &= !(staff.parts.is_empty() && event.notes.iter().any(|note| note.head == Head::Slash));
            shape
        });
        voices.push(shapes.collect());
    }
    step_aside(&mut voices);
    BarShapes { voices }
}

/// The heads of all events of a bar by voice and place, with the accidentals that they need in order of time.
fn heads(staff: &Staff, bar: usize, key: Signature) -> BTreeMap<(usize, usize), Heads<'_>> {
    let voices = &staff.measures[bar].voices;
    let mut order: Vec<(usize, usize)> = Vec::new();
    for (voice, events) in voices.iter().enumerate() {
        order.extend((0..events.len()).map(|place| (voice, place)));
    }
    order.sort_by_key(|(voice, place)| (voices[*voice][*place].at, *voice));
    let stands = |note: &WrittenNote| pitch(&note.pitch, staff.clef, &staff.drums);
    let measure_before = bar.checked_sub(1).map(|before| &staff.measures[before]);
    let events_before = measure_before.iter().flat_map(|measure| &measure.voices).flatten();
    let mut accidentals = Accidentals::new(key, events_before.flat_map(|event| &event.notes).map(stands));
    let mut all = BTreeMap::new();
    for (voice, place) in order {
        let event = &voices[voice][place];
        let before = before(staff, bar, voice, place);
        let mut graces = Vec::new();
        for grace in &event.graces {
            let small = grace.iter().map(|note| {
                let pitch = stands(note);
                (note.head, pitch, accidentals.needed(pitch, false))
            });
            graces.push(small.collect());
        }
        let notes = event.notes.iter().map(|note| {
            let pitch = stands(note);
            let tied = before.is_some_and(|event| is_tied_to(event, note));
            (note, pitch, accidentals.needed(pitch, tied))
        });
        let notes = notes.collect();
        all.insert((voice, place), Heads { notes, graces });
    }
    all
}

/// The event before one in its voice, over the barline too.
fn before(staff: &Staff, bar: usize, voice: usize, place: usize) -> Option<&Event> {
    match place.checked_sub(1) {
        Some(before) => staff.measures[bar].voices[voice].get(before),
        None => staff.measures[bar.checked_sub(1)?].voices.get(voice)?.last(),
    }
}

/// True where an event ties a note of its own to this one.
pub(super) fn is_tied_to(event: &Event, note: &WrittenNote) -> bool {
    let mut notes = event.notes.iter();
    notes.any(|other| other.tied && other.pitch == note.pitch)
}

/// Which way each event's stem goes: away from the farther side of the middle line, for all that one beam joins ("Behind
/// Bars", stem direction); two voices apart, and drums upwards.
fn directions(staff: &Staff, events: &[Event], voice: usize, shared: bool) -> Vec<bool> {
    if shared || staff.clef == Clef::Percussion {
        return vec![!shared || voice == 0; events.len()];
    }
    let up = |events: &[Event]| {
        let notes = events.iter().flat_map(|event| &event.notes);
        let heights = notes.map(|note| pitch(&note.pitch, staff.clef, &staff.drums).y - 2.0);
        let (above, below) = heights.fold((0.0, 0.0), |(above, below): (f64, f64), y| {
            (above.max(-y), below.max(y))
        });
        below > above
    };
    let mut ups: Vec<bool> = events.iter().map(|event| up(std::slice::from_ref(event))).collect();
    let all: Vec<&Event> = events.iter().collect();
    for group in beam_groups(&all) {
        let way = up(&events[group.clone()]);
        ups[group].fill(way);
    }
    ups
}

/// Where heads of two voices would lie on one another, the lower voice stands to the right ("Behind Bars", two parts on a
/// stave). Heads of one shape at one height are one head.
fn step_aside(voices: &mut [Vec<Shape>]) {
    let [upper, lower, ..] = voices else { return };
    for shape in lower {
        let Some(other) = upper.iter().find(|other| other.event.at == shape.event.at) else {
            continue;
        };
        let touch = other.heads.iter().any(|one| {
            shape.heads.iter().any(|two| {
                let apart = (one.y - two.y).abs();
                apart < 0.25 && one.sign != two.sign || (0.25..0.75).contains(&apart)
            })
        });
        if touch {
            let width = other
                .heads
                .iter()
                .map(|head| sign(head.sign).width())
                .fold(0.0, f64::max);
            shape.shift(width + 0.1);
        }
    }
}
