//! A performance as lines of a loop file, to be edited: marks where it lies on the grid, counted hits where it does not.

use std::collections::BTreeMap;

use crate::loopfile::{Exact, Part, Stroke, Time, syllable_at};
use crate::notation::gridded;
pub use crate::notation::on_the_grid;
use crate::text::quoted;

/// Hits closer to the grid than this are on it, in seconds.
const ON_THE_GRID: f64 = 0.001;

/// The parts that a performance becomes, one a piece, as text of a loop file.
///
/// They play as the performance does to half a tenth of a ms: straight and without drift, whatever the loop's feel says.
/// Velocities become those of the nearest marks.
pub(crate) fn written(part: &Part, time: &Time, bars: u32) -> String {
    let pieces: Vec<(&str, &str)> = match part.pieces.as_slice() {
        [one] => vec![(&part.name, &one.piece)],
        many => many.iter().map(|one| (&*one.piece, &*one.piece)).collect(),
    };
    parts(&pieces, &gridded(&part.strokes, time, bars), time, bars)
}

/// Parts, each a name and its piece, that play strokes which are on the grid already, as text of a loop file.
pub(crate) fn parts(pieces: &[(&str, &str)], strokes: &[Stroke], time: &Time, bars: u32) -> String {
    let mut page = String::new();
    for (number, (name, piece)) in pieces.iter().enumerate() {
        page.push_str(&format!("[[part]]\nname = {}\n", quoted(name)));
        if name != piece {
            page.push_str(&format!("piece = {}\n", quoted(piece)));
        }
        page.push_str("swing = \"off\"\nloose = \"off\"\n[part.hits]\n");
        for (bars, line) in lines(strokes.iter().filter(|stroke| stroke.piece == number), time, bars) {
            page.push_str(&format!("{} = {line}\n", quoted(&spelled(&bars))));
        }
        page.push('\n');
    }
    page
}

/// One piece's hits, put on the grid before: bars that are alike, counted from 1, with what they play, as TOML.
pub(crate) fn lines<'a>(strokes: impl Iterator<Item = &'a Stroke>, time: &Time, bars: u32) -> Vec<(Vec<u32>, String)> {
    let mut by_bar: Vec<Vec<&Stroke>> = vec![Vec::new(); bars as usize];
    for stroke in strokes {
        if let Some(bar) = by_bar.get_mut(stroke.at.to_integer() as usize) {
            bar.push(stroke);
        }
    }
    let mut lines: Vec<(Vec<u32>, String)> = Vec::new();
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    for (number, strokes) in (1..).zip(&by_bar) {
        let line = match marks(strokes, time) {
            Some(marks) => quoted(&marks),
            None => counted(strokes, time),
        };
        match known.get(&line) {
            Some(place) => lines[*place].0.push(number),
            None => {
                known.insert(line.clone(), lines.len());
                lines.push((vec![number], line));
            }
        }
    }
    lines
}

/// A bar as marks, a group a count; none where a hit is off the grid, two stand on one place, or trip-lets are among
/// sixteenths.
fn marks(strokes: &[&Stroke], time: &Time) -> Option<String> {
    let counts = i128::from(time.counts);
    let places: Vec<Exact> = strokes.iter().map(|stroke| stroke.at.fract() * counts).collect();
    let steps = [1, 2, 3, 4]
        .into_iter()
        .find(|steps| places.iter().all(|place| (place * *steps).is_integer()))?;
    let mut signs = vec!['-'; (counts * steps) as usize];
    for (stroke, place) in strokes.iter().zip(places) {
        let sign = signs.get_mut((place * steps).to_integer() as usize)?;
        if *sign != '-' || stroke.shift.abs() > ON_THE_GRID {
            return None;
        }
        *sign = stroke.mark;
    }
    let groups = signs
        .chunks(steps as usize)
        .map(|group| group.iter().collect::<String>());
    // Single marks would be a group each; they read better together.
    let between = if steps == 1 { "" } else { " " };
    Some(groups.collect::<Vec<_>>().join(between))
}

/// A bar counted aloud.
fn counted(strokes: &[&Stroke], time: &Time) -> String {
    let hit = |stroke: &&Stroke| {
        let place = stroke.at.fract() * i128::from(time.counts);
        let count = place.to_integer() + 1;
        let (syllable, _) = syllable_at(place.fract()).unwrap_or_default();
        let ms = libm::round(stroke.shift * 10_000.0) / 10.0;
        let shift = if ms == 0.0 { String::new() } else { format!(" {ms:+}ms") };
        quoted(&format!("{count}{syllable} {}{shift}", stroke.mark))
    };
    format!("[{}]", strokes.iter().map(hit).collect::<Vec<_>>().join(", "))
}

/// Bars as a loop file names them: `1-4,8`.
pub(super) fn spelled(bars: &[u32]) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for bar in bars {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == *bar => *last = *bar,
            _ => runs.push((*bar, *bar)),
        }
    }
    let run = |(first, last): &(u32, u32)| match first == last {
        true => first.to_string(),
        false => format!("{first}-{last}"),
    };
    runs.iter().map(run).collect::<Vec<_>>().join(",")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loopfile::Manner;

    const TIME: Time = Time {
        tempo: 120.0,
        beat: Exact::new_raw(1, 4),
        counts: 4,
        unit: 4,
    };

    /// Strokes at ticks of 960 a quarter.
    fn strokes(ticks: &[i128]) -> Vec<Stroke> {
        let stroke = |tick: &i128| Stroke {
            at: Exact::new(*tick, 3840),
            step: Exact::ZERO,
            piece: 0,
            velocity: 96.0,
            plain: false,
            shift: 0.0,
            pitch: None,
            sounds: None,
            word: None,
            expression: None,
            mark: 'x',
            manner: Manner::Single,
            scale: 1.0,
        };
        ticks.iter().map(stroke).collect()
    }

    fn said(ticks: &[i128], bars: u32) -> Vec<(Vec<u32>, String)> {
        lines(gridded(&strokes(ticks), &TIME, bars).iter(), &TIME, bars)
    }

    #[test]
    fn what_lies_on_the_grid_is_marks() {
        assert_eq!(said(&[0, 240, 2880], 1), [(vec![1], "\"xx-- ---- ---- x---\"".into())]);
        assert_eq!(said(&[0, 320, 640, 1920], 1), [(vec![1], "\"xxx --- x-- ---\"".into())]);
        assert_eq!(said(&[0, 1920], 1), [(vec![1], "\"x-x-\"".into())]);
        assert_eq!(
            said(&[0, 7680], 3),
            [(vec![1, 3], "\"x---\"".into()), (vec![2], "\"----\"".into())]
        );
    }

    #[test]
    fn the_rest_is_counted() {
        // A tick is half a second over 960.
        assert_eq!(
            said(&[23, 1440, 2866], 1),
            [(vec![1], "[\"1 x +12ms\", \"2& x\", \"4 x -7.3ms\"]".into())]
        );
        // Trip-lets and sixteenths in one bar; a grace note beside its main note.
        assert_eq!(said(&[320, 1200], 1), [(vec![1], "[\"1t x\", \"2e x\"]".into())]);
        assert_eq!(said(&[900, 960], 1), [(vec![1], "[\"2 x -31.3ms\", \"2 x\"]".into())]);
        // Early for the next round: it stays behind the last step.
        assert_eq!(said(&[3830], 1), [(vec![1], "[\"4a x +119.8ms\"]".into())]);
    }

    #[test]
    fn bars_are_spelled_in_runs() {
        assert_eq!(spelled(&[1, 2, 3, 5, 7, 8]), "1-3,5,7-8");
    }
}
