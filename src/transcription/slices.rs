//! A recording cut at its onsets into slices that play it again when they follow one another.
//!
//! - In: a recording, where its sounds begin, how long a slice fades that the next one stops.
//! - Out: frames to cut at, and a slice for each: what was recorded up to the next cut, and a continuation of it. The next cut's slice
//!   lacks as much as is audible of that continuation, so that the two of them sum to what was recorded.
//! - It knows nothing of names, of files and of loops.

use rayon::prelude::*;

use super::continuation::{go_on, heard};
use crate::base::audio::Audio;
use crate::base::stages::each;

/// Strokes less apart than so many seconds are one slice: flams, buzzes, two drums struck together.
const APART: f64 = 0.045;
/// How far before an onset the quiet point is sought, in seconds; how far back a zero crossing may lie from it; over how long a level is
/// taken.
const BACK: f64 = 0.005;
const CROSSING: f64 = 0.001;
const LEVEL: f64 = 0.0005;
/// What is about as quiet as the quietest has no more than so many times its power: 6 dB.
const QUIET: f64 = 4.0;
/// The least and the most that a slice rings on past the next cut, in seconds; between them, for as long as it was.
const RING: (f64, f64) = (0.25, 4.0);

/// Onsets in order, in seconds, as the slices that begin with them: those of each slice stand together.
pub(crate) fn together(onsets: &[f64]) -> Vec<Vec<usize>> {
    let mut slices: Vec<Vec<usize>> = Vec::new();
    for (number, onset) in onsets.iter().enumerate() {
        match slices.last_mut() {
            Some(last) if number > 0 && onset - onsets[number - 1] < APART => last.push(number),
            _ => slices.push(vec![number]),
        }
    }
    slices
}

/// True for two frames that are too near to be two slices.
pub(crate) fn are_one(first: usize, second: usize, rate: u32) -> bool {
    ((second - first) as f64) < APART * f64::from(rate)
}

/// The frame to cut at before an onset: the quiet point before the attack, at a zero crossing if one is near.
pub(crate) fn cut(recorded: &Audio, onset: f64) -> usize {
    let rate = f64::from(recorded.rate);
    let frames = |seconds: f64| ((seconds * rate) as usize).max(1);
    let at = ((onset.max(0.0) * rate) as usize).min(recorded.frames().saturating_sub(1));
    let window = frames(LEVEL);
    // What rises first is the treble: levels are those of differences.
    let level = |from: usize| {
        let to = (from + window).min(recorded.frames());
        let squares = recorded
            .channels
            .iter()
            .flat_map(|side| side[from.saturating_sub(1)..to].windows(2));
        squares.map(|pair| f64::from(pair[1] - pair[0]).powi(2)).sum::<f64>()
    };
    let places: Vec<usize> = (0..=frames(BACK) / window)
        .filter_map(|back| at.checked_sub(back * window))
        .collect();
    let levels: Vec<f64> = places.iter().map(|place| level(*place)).collect();
    let least = levels.iter().copied().fold(f64::INFINITY, f64::min);
    // The last place that is about as quiet as any: what comes after it is the attack.
    let quiet = levels
        .iter()
        .position(|level| *level <= QUIET * least)
        .map_or(at, |place| places[place]);
    let sum = |frame: usize| recorded.channels.iter().map(|side| side[frame]).sum::<f32>();
    let crosses = |frame: &usize| sum(*frame) == 0.0 || (sum(*frame) < 0.0) != (sum(frame - 1) < 0.0);
    let near = quiet.saturating_sub(frames(CROSSING)).max(1)..=quiet;
    near.rev().find(crosses).unwrap_or(quiet)
}

/// The stretch of a recording that a loop plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stretch {
    /// All of it, as a circle: its end goes on into its beginning.
    Circle,
    /// From its first cut to its end.
    Line,
}

/// A slice for each cut, in order. `fade` is the frames over which a slice fades, along a line, that the next one stops.
pub(crate) fn slices(recorded: &Audio, cuts: &[usize], stretch: Stretch, fade: usize) -> Vec<Audio> {
    let whole = recorded.frames();
    let length = |number: usize| match (cuts.get(number + 1), stretch) {
        (Some(next), _) => next - cuts[number],
        (None, Stretch::Circle) => whole - cuts[number] + cuts[0],
        (None, Stretch::Line) => whole - cuts[number],
    };
    let taken = |number: usize| -> Vec<Vec<f32>> {
        let (from, count) = (cuts[number], length(number));
        let sides = recorded.channels.iter();
        sides
            .map(|side| (from..from + count).map(|frame| side[frame % whole]).collect())
            .collect()
    };
    let numbers: Vec<usize> = (0..cuts.len()).collect();
    let (least, most) = RING;
    let frames = |seconds: f64| (seconds * f64::from(recorded.rate)) as usize;
    let mut made: Vec<(Vec<Vec<f32>>, usize)> = vec![(Vec::new(), 0); cuts.len()];
    each("slice", made.par_iter_mut().zip(&numbers), |(made, number)| {
        let mut sides = taken(*number);
        let own = length(*number);
        let end: Vec<&[f32]> = sides
            .iter()
            .map(|side| &side[own - own.min(heard(recorded.rate))..])
            .collect();
        // The last of a line is followed by nothing: what breaks off there rings out a little.
        let ring = match number + 1 < cuts.len() || stretch == Stretch::Circle {
            true => own.clamp(frames(least), frames(most)),
            false => frames(least),
        };
        let ring = go_on(&end, ring, *number as u64);
        sides.iter_mut().zip(ring).for_each(|(side, ring)| side.extend(ring));
        *made = (sides, own);
    });
    let rings: Vec<Vec<Vec<f32>>> = made
        .iter()
        .map(|(sides, own)| sides.iter().map(|side| side[*own..].to_vec()).collect())
        .collect();
    for number in numbers {
        let before = match (number.checked_sub(1), stretch) {
            (Some(before), _) => before,
            (None, Stretch::Circle) => cuts.len() - 1,
            (None, Stretch::Line) => continue,
        };
        for (side, ring) in made[number].0.iter_mut().zip(&rings[before]) {
            for (n, (sample, ring)) in side.iter_mut().zip(ring).take(fade).enumerate() {
                *sample -= ring * (1.0 - n as f32 / fade as f32);
            }
        }
    }
    let audio = |(channels, _)| Audio {
        channels,
        rate: recorded.rate,
    };
    made.into_iter().map(audio).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::random::Chance;

    const RATE: u32 = 48_000;

    /// Strokes of noise and of a tone at some frames, each with its level, over a hum.
    fn take(frames: usize, strokes: &[(usize, f32)]) -> Audio {
        let mut chance = Chance::new(3, "stroke", "test", 1);
        let mut channels = vec![vec![0.0f32; frames]; 2];
        for (at, level) in strokes {
            for n in 0..frames - at {
                let fall = libm::expf(-(n as f32) / 4000.0);
                for (side, pan) in channels.iter_mut().zip([1.0, 0.6]) {
                    let noise = chance.either_way() as f32 * 0.3 + libm::sinf(n as f32 * 0.02);
                    side[at + n] += level * pan * fall * noise;
                }
            }
        }
        Audio { channels, rate: RATE }
    }

    /// What slices sum to where each stops the one before it.
    fn played(slices: &[Audio], cuts: &[usize], frames: usize, fade: usize, stretch: Stretch) -> Vec<Vec<f32>> {
        let mut sum = vec![vec![0.0f32; frames]; 2];
        for (number, slice) in slices.iter().enumerate() {
            let stop = match (cuts.get(number + 1), stretch) {
                (Some(next), _) => next - cuts[number],
                (None, Stretch::Circle) => frames - cuts[number] + cuts[0],
                (None, Stretch::Line) => usize::MAX,
            };
            // What rings on past a line's end is not looked at.
            let most = match stretch {
                Stretch::Circle => stop + fade,
                Stretch::Line => stop.saturating_add(fade).min(frames - cuts[number]),
            };
            for (side, out) in slice.channels.iter().zip(&mut sum) {
                for (n, sample) in side.iter().enumerate().take(most) {
                    let gain = 1.0 - n.saturating_sub(stop) as f32 / fade as f32;
                    out[(cuts[number] + n) % frames] += gain * sample;
                }
            }
        }
        sum
    }

    #[test]
    fn slices_sum_to_the_recording() {
        let recorded = take(40_000, &[(0, 0.5), (6_000, 0.3), (9_000, 0.05), (20_000, 0.6)]);
        for (cuts, stretch) in [
            (vec![0, 6_000, 9_000, 20_000], Stretch::Line),
            (vec![0, 6_000, 9_000, 20_000], Stretch::Circle),
            (vec![300, 6_000, 9_000, 20_000], Stretch::Circle),
            (vec![0], Stretch::Circle),
        ] {
            let made = slices(&recorded, &cuts, stretch, 240);
            let sum = played(&made, &cuts, 40_000, 240, stretch);
            let pairs = recorded.channels.iter().flatten().zip(sum.iter().flatten());
            let most = pairs.fold(0.0f32, |most, (a, b)| most.max((a - b).abs()));
            assert!(most < 1e-6, "{cuts:?} {stretch:?}: {most}");
        }
    }

    #[test]
    fn strokes_that_are_too_near_are_one_slice() {
        let onsets = [0.1, 0.125, 0.5, 0.53, 0.56, 0.59, 0.64, 1.0];
        let slices = together(&onsets);
        assert_eq!(slices, [vec![0, 1], vec![2, 3, 4, 5], vec![6], vec![7]]);
        assert_eq!(together(&[]), Vec::<Vec<usize>>::new());
    }

    #[test]
    fn a_cut_lies_before_the_attack_and_hardly_so() {
        let recorded = take(40_000, &[(0, 0.2), (20_000, 0.6)]);
        for late in [0, 40, 100] {
            let cut = cut(&recorded, f64::from(20_000 + late) / f64::from(RATE));
            assert!((19_900..=20_001).contains(&cut), "{late}: {cut}");
        }
        assert!(cut(&recorded, 0.0) <= 1 && cut(&recorded, 9.0) < 40_000);
    }
}
