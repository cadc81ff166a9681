//! `[accents]`: what the whole band, or some of it, plays harder.

use std::collections::{BTreeMap, BTreeSet};

use super::ReadPart;
use crate::loopfile::marks::{ACCENT, PLAIN, PLAIN_MARK};
use crate::loopfile::rhythm;
use crate::loopfile::{BandAccents, Exact, HitPart, Manner, Stroke, Swing, Time, Words, swung};
use crate::schema::AccentLine;
use crate::text::{Place, Problem};

/// What an accent makes of a velocity: as much as `X` is over `x`. No velocity goes past 127.
const RAISED: f64 = ACCENT / PLAIN;

/// An accent of the band.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Accent {
    /// The length of its step, in bars.
    pub step: Exact,
    /// How far the parts play as one there, from 0 to 1.
    pub together: f64,
    /// Where the file says that the part strikes there, whatever it has written; none where it does not.
    pub strikes: Option<Place>,
}

/// Reads the hits of all parts, with the band's accents on them.
///
/// Accents are read as a part's hits are, so everything that can be written there can be written here. Each line is
/// read by itself: a bar has the accents of the last line that names it, for that line's parts. Those are given too.
pub(crate) fn read_with(
    accents: &[AccentLine],
    mut parts: Vec<HitPart>,
    time: &Time,
    bars: u32,
    problems: &mut Vec<Problem>,
) -> (Vec<ReadPart>, Vec<BandAccents>) {
    let count = parts.len();
    let names: Vec<String> = parts.iter().map(|part| part.name.text.clone()).collect();
    parts.extend(accents.iter().map(line_alone));
    let mut read = rhythm::read(&parts, time, bars, problems);
    let lines = read.split_off(count);
    let mut last: Vec<Option<usize>> = vec![None; bars as usize];
    for (number, line) in lines.iter().enumerate() {
        let unnamed: BTreeSet<u32> = line.unnamed_bars.iter().copied().collect();
        for (bar, last) in last.iter_mut().enumerate() {
            if !unnamed.contains(&(bar as u32 + 1)) {
                *last = Some(number);
            }
        }
    }
    let mut band = Vec::new();
    for (number, line) in lines.iter().enumerate() {
        let heard = |at: &Exact| last.get(at.to_integer() as usize) == Some(&Some(number));
        let strokes = line.strokes.iter().filter(|stroke| heard(&stroke.at));
        let accent = |stroke: &Stroke| Accent {
            step: stroke.step,
            together: accents[number].together,
            strikes: None,
        };
        let places: BTreeMap<Exact, Accent> = strokes.map(|stroke| (stroke.at, accent(stroke))).collect();
        band.push(BandAccents {
            parts: accents[number]
                .parts
                .as_ref()
                .map(|parts| parts.iter().map(|part| part.text.clone()).collect()),
            places: places.keys().copied().collect(),
        });
        for (part, name) in read.iter_mut().zip(&names) {
            let meant = |parts: &Vec<Words>| parts.iter().any(|part| part.text == *name);
            if accents[number].parts.as_ref().is_none_or(meant) {
                let strikes = accents[number].strike.iter().find(|part| part.text == *name);
                let own = |accent: &Accent| Accent {
                    strikes: strikes.map(Words::whole),
                    ..accent.clone()
                };
                part.accents
                    .extend(places.iter().map(|(at, accent)| (*at, own(accent))));
            }
        }
    }
    for part in &mut read {
        raise(&mut part.strokes, &part.accents);
    }
    band.retain(|line| !line.places.is_empty());
    (read, band)
}

/// Where a part strikes whatever it has written: places and lengths in bars, in the order of time.
pub(crate) fn strikes(accents: &BTreeMap<Exact, Accent>) -> impl Iterator<Item = (Exact, Exact)> {
    let strikes = accents.iter().filter(|(_, accent)| accent.strikes.is_some());
    strikes.map(|(at, accent)| (*at, accent.step))
}

/// Lets a part of hits strike its own piece at the accents that say so, in place of what it has within their steps.
pub(crate) fn strike(part: &mut ReadPart) {
    let struck: Vec<(Exact, Exact)> = strikes(&part.accents).collect();
    let gives_way = |at: Exact| {
        let next = struck.partition_point(|(place, _)| *place <= at);
        next.checked_sub(1)
            .is_some_and(|last| at < struck[last].0 + struck[last].1)
    };
    part.strokes.retain(|stroke| !gives_way(stroke.at));
    part.strokes.extend(struck.iter().map(|(at, step)| Stroke {
        at: *at,
        step: *step,
        piece: 0,
        velocity: PLAIN,
        plain: true,
        shift: 0.0,
        pitch: None,
        sounds: None,
        word: None,
        expression: None,
        mark: PLAIN_MARK,
        manner: Manner::Single,
        scale: RAISED,
    }));
    part.strokes.sort_by_key(|stroke| stroke.at);
}

/// Accents what stands on some places.
pub(crate) fn raise(strokes: &mut [Stroke], places: &BTreeMap<Exact, Accent>) {
    let meant = strokes.iter_mut().filter(|stroke| places.contains_key(&stroke.at));
    meant.for_each(|stroke| stroke.scale *= RAISED);
}

/// Half of the steps that what was played is counted to, in whole notes: of a sixteenth.
const NEAR: Exact = Exact::new_raw(1, 32);

/// Accents what was played on some places, or near: within half a sixteenth of one, or half of the accents' own step
/// where that is finer, the places swung as the loop swings. What lies half-way to the next step belongs to that one.
/// Before the first bar comes the last where the loop goes `round`.
pub(crate) fn raise_near(
    strokes: &mut [Stroke],
    places: &BTreeMap<Exact, Accent>,
    swing: Option<&Swing>,
    (time, round): (&Time, Option<u32>),
) {
    let mut windows: Vec<(Exact, Exact)> = Vec::new();
    for (place, accent) in places {
        let half = (accent.step / 2).min(NEAR / time.bar());
        let at = swing.map_or(*place, |swing| swung(*place, swing, time));
        windows.push((at - half, at + half));
        if let Some(bars) = round.filter(|_| at < half) {
            let end = Exact::from_integer(bars.into());
            windows.push((at - half + end, at + half + end));
        }
    }
    windows.sort();
    let widest = NEAR * 2 / time.bar();
    for stroke in strokes {
        let next = windows.partition_point(|(from, _)| *from <= stroke.at);
        let begun = windows[..next].iter().rev();
        let mut near = begun.take_while(|(from, _)| stroke.at < from + widest);
        if near.any(|(_, to)| stroke.at < *to) {
            stroke.scale *= RAISED;
        }
    }
}

/// A part without a name, which nothing can borrow from, that plays one line of accents.
fn line_alone(accent: &AccentLine) -> HitPart {
    let bars = &accent.line.bars;
    let nobody = bars.part(0..0);
    HitPart {
        name: nobody.clone(),
        piece: nobody,
        marks: Vec::new(),
        changed_marks: Vec::new(),
        lines: vec![accent.line.clone()],
    }
}
