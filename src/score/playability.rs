//! What a player's hands would strain at, and where two parts hit the same thing.

use std::collections::BTreeMap;

use crate::loopfile::{Exact, Loop, Manner, Part, swung};
use crate::text::Problem;

/// Single strokes of one player strain when they are closer than so many seconds [practice].
pub(super) const SINGLES: f64 = 0.065;
/// Doubles, two strokes of one hand with room around them, strain when they are closer than so many seconds [practice].
pub(super) const DOUBLES: f64 = 0.045;

/// Strokes of a part that follow one another faster than hands do. Grace notes and presses of a roll do not count.
///
/// Two strokes in a row are a double; three and more are single strokes. Notes are left out: a strummed chord is one
/// stroke of the hand, and fingers are many.
pub(super) fn too_fast(song: &Loop, part: &Part) -> Option<Problem> {
    let places = places(song, part);
    let gaps: Vec<f64> = places.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    let mut tightest: Option<(f64, u32)> = None;
    let mut first = 0;
    for run in gaps.chunk_by(|gap, next| *gap < SINGLES && *next < SINGLES) {
        let limit = if run.len() == 1 { DOUBLES } else { SINGLES };
        for (gap, place) in run.iter().zip(&places[first..]) {
            if *gap < limit && tightest.is_none_or(|(other, _)| *gap < other - 1e-6) {
                tightest = Some((*gap, place.1));
            }
        }
        first += run.len();
    }
    let (gap, bar) = tightest?;
    let what = format!(
        "`{}` has strokes {:.0} ms apart in bar {bar}: one player strains at singles closer than {:.0} ms and doubles closer than {:.0} ms",
        part.name,
        gap * 1000.0,
        SINGLES * 1000.0,
        DOUBLES * 1000.0
    );
    Some(Problem::at(&part.place, what).help("a roll of `b` or a slower tempo is easier on the hands"))
}

/// Seconds and bar, counted from 1, of each moment at which a part strikes.
fn places(song: &Loop, part: &Part) -> Vec<(f64, u32)> {
    let mut places = Vec::new();
    for stroke in part.strokes.iter().filter(|stroke| stroke.pitch.is_none()) {
        let mut add = |at: Exact| {
            let place = swung(at, &part.playing.swing, &song.time) * song.time.bar();
            let bar = stroke.at.to_integer() as u32 + 1;
            places.push((song.time.seconds(place) + stroke.shift, bar));
        };
        match stroke.manner {
            Manner::Press => continue,
            Manner::Two => {
                add(stroke.at);
                add(stroke.at + stroke.step / 2);
            }
            _ => add(stroke.at),
        }
    }
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    // What stands on one place together is a hit with more than one piece.
    places.dedup_by(|a, b| a.0 - b.0 < 1e-6);
    places
}

/// Parts that strike one piece, tuned alike, at the very same place and pitch: it sounds twice there.
pub(super) fn doubled(song: &Loop) -> Vec<Problem> {
    let mut struck: BTreeMap<(&str, u64, Option<i32>, Exact), usize> = BTreeMap::new();
    let mut met: BTreeMap<(usize, usize, &str), (u32, usize)> = BTreeMap::new();
    for (number, part) in song.parts.iter().enumerate() {
        for stroke in &part.strokes {
            let played = &part.pieces[stroke.piece];
            let piece = played.piece.as_str();
            let other = *struck
                .entry((piece, played.sound.tune.to_bits(), stroke.pitch, stroke.at))
                .or_insert(number);
            if other != number {
                let bar = stroke.at.to_integer() as u32 + 1;
                met.entry((other, number, piece)).or_insert((bar, 0)).1 += 1;
            }
        }
    }
    let told = met.into_iter().map(|((one, other, piece), (bar, times))| {
        let (one, other) = (&song.parts[one], &song.parts[other]);
        let more = match times {
            1 => String::new(),
            2 => ", and once more".into(),
            _ => format!(", and {} times more", times - 1),
        };
        let what = format!(
            "`{}` and `{}` both strike `{piece}` at one place in bar {bar}{more}",
            one.name, other.name
        );
        Problem::at(&other.place, what).help("it is twice as loud there; leave one of them out if that isn't meant")
    });
    told.collect()
}
