//! Performances on the grid of a loop's counts.

use std::collections::BTreeMap;

use crate::loopfile::{Exact, Loop, Stroke, Time};

/// Trip-lets must fit a count so many times better than sixteenths to be taken for them: squares of distances.
const CLEARLY: f64 = 4.0;

/// Puts strokes on the nearest sixteenth or trip-let of the loop's counts; how far off they were becomes their shift.
///
/// Each count has one grid: sixteenths unless trip-lets fit clearly better. (In metres over 2 the steps of a count are
/// eighths, over 8 there are two, as players count them.) What is nearest to the loop's end stays on its last step. The
/// strokes keep their order. Notes end on the grid too, a step after they begin at the least.
pub(crate) fn gridded(strokes: &[Stroke], time: &Time, bars: u32) -> Vec<Stroke> {
    let counts = Exact::from_integer(time.counts.into());
    let end = Exact::from_integer(bars.into()) * counts;
    let straight = Exact::from_integer((16 / i128::from(time.unit)).clamp(1, 4));
    let triplets = Exact::from_integer(3);
    let mut counted: BTreeMap<i128, Vec<Exact>> = BTreeMap::new();
    for stroke in strokes {
        let at = stroke.at * counts;
        counted.entry(at.to_integer()).or_default().push(at);
    }
    let cost = |places: &[Exact], steps: Exact| {
        let away = |at: &Exact| {
            let apart = near(*at, steps) - at;
            (*apart.numer() as f64 / *apart.denom() as f64).powi(2)
        };
        places.iter().map(away).sum::<f64>()
    };
    let grid: BTreeMap<i128, Exact> = counted
        .iter()
        .map(|(count, places)| {
            let fits = cost(places, triplets) * CLEARLY < cost(places, straight);
            (*count, if fits { triplets } else { straight })
        })
        .collect();
    let put = |stroke: &Stroke| {
        let at = stroke.at * counts;
        let steps = grid.get(&at.to_integer()).copied().unwrap_or(straight);
        let place = near(at, steps).min(end - steps.recip());
        let ends = near(at + stroke.step * counts, steps).max(place + steps.recip());
        let step = match stroke.pitch {
            Some(_) => (ends - place) / counts,
            None => stroke.step,
        };
        Stroke {
            at: place / counts,
            step,
            shift: stroke.shift + seconds((at - place) / counts, time),
            ..stroke.clone()
        }
    };
    strokes.iter().map(put).collect()
}

fn near(at: Exact, steps: Exact) -> Exact {
    (at * steps).round() / steps
}

fn seconds(bars: Exact, time: &Time) -> f64 {
    time.seconds(bars * time.bar())
}

/// A loop whose performances are put on the grid, for a chart.
pub fn on_the_grid(song: &Loop) -> Loop {
    let mut song = song.clone();
    for part in song.parts.iter_mut().filter(|part| part.performance.is_some()) {
        part.strokes = gridded(&part.strokes, &song.time, song.bars);
    }
    song
}
