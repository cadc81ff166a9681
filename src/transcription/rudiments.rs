//! Hits that belong together: grace notes before a main note, buzzes, rolls.
//!
//! Flam, drag and roll are those of the Percussive Arts Society's International Drum Rudiments; how close and how soft their
//! hits are is [practice].

use super::RATE;
use super::colour::share_below;
use super::transcript::{Hit, Manner, Stroke};

/// A grace note comes no more than so many seconds before what follows it.
const GRACE: f64 = 0.050;
/// Of a drag's two, the second is often lost between the first and the main note: the first is so far ahead at the most.
const FIRST_OF_TWO: f64 = 0.080;
/// A grace note's velocity is no more than such a share of the main note's.
const SOFT: f64 = 0.8;
/// What ends a run and has so many times the velocity of the rest is a stroke by itself.
const APART: f64 = 1.2;
/// Hits of a buzz or a roll come no more than so many seconds after another, and so many they are at least.
const CLOSE: f64 = 0.085;
const LEAST: usize = 4;
/// Those of a buzz come closer in the mean: no hand strikes single strokes as fast for long.
const BUZZ: f64 = 0.058;

/// The strokes that hits are: those of one sound that belong together become one. In the order of time.
pub(super) fn strokes(hits: &[Hit]) -> Vec<Stroke> {
    let mut sounds: Vec<&str> = hits.iter().map(|hit| hit.sound.as_str()).collect();
    sounds.sort_unstable();
    sounds.dedup();
    let mut strokes: Vec<Stroke> = sounds
        .into_iter()
        .flat_map(|sound| of_one(&hits.iter().filter(|hit| hit.sound == sound).collect::<Vec<_>>()))
        .collect();
    strokes.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
    strokes
}

/// The strokes of one sound.
fn of_one(hits: &[&Hit]) -> Vec<Stroke> {
    let mut strokes = Vec::new();
    let mut rest = hits;
    while let Some(first) = rest.first() {
        let mut run = 1 + rest
            .windows(2)
            .take_while(|pair| pair[1].seconds - pair[0].seconds <= CLOSE)
            .count();
        let before = rest[..run - 1].iter().map(|hit| hit.velocity).sum::<f64>() / (run - 1).max(1) as f64;
        if run > LEAST && rest[run - 1].velocity > APART * before {
            run -= 1;
        }
        let (taken, stroke) = if run >= LEAST {
            (run, rolled(&rest[..run]))
        } else if let Some((graces, manner)) = graces(&rest[..run]) {
            (graces + 1, single(rest[graces], manner))
        } else {
            (1, single(first, Manner::Single))
        };
        strokes.push(stroke);
        rest = &rest[taken..];
    }
    strokes
}

fn single(hit: &Hit, manner: Manner) -> Stroke {
    Stroke {
        seconds: hit.seconds,
        ends: hit.seconds,
        sound: hit.sound.clone(),
        velocity: hit.velocity,
        manner,
    }
}

/// A buzz or a roll over some hits.
fn rolled(run: &[&Hit]) -> Stroke {
    let (first, last) = (run[0], run[run.len() - 1]);
    let gap = (last.seconds - first.seconds) / (run.len() - 1) as f64;
    Stroke {
        ends: last.seconds + gap,
        velocity: run.iter().map(|hit| hit.velocity).sum::<f64>() / run.len() as f64,
        ..single(first, if gap < BUZZ { Manner::Buzz } else { Manner::Roll })
    }
}

/// How many grace notes some close hits begin with, and what they make of the main note; none where the first is none.
fn graces(run: &[&Hit]) -> Option<(usize, Manner)> {
    let is_grace = |grace: &Hit, main: &Hit| grace.velocity <= SOFT * main.velocity;
    let near = |one: &Hit, other: &Hit, most: f64| other.seconds - one.seconds <= most;
    match run {
        [one, two, main, ..]
            if near(one, two, GRACE) && near(two, main, GRACE) && is_grace(one, main) && is_grace(two, main) =>
        {
            Some((2, Manner::Drag))
        }
        [one, main, ..] if near(one, main, GRACE) && is_grace(one, main) => Some((1, Manner::Flam)),
        [one, main, ..] if near(one, main, FIRST_OF_TWO) && is_grace(one, main) => Some((1, Manner::Drag)),
        _ => None,
    }
}

/// Makes presses of single hits that sound on without falling, as bounces do that are too close to be told apart.
pub(super) fn press(strokes: &mut [Stroke], samples: &[f32]) {
    let noise = share_below(levels(samples), NOISE_SHARE);
    let ends: Vec<f64> = strokes.iter().skip(1).map(|stroke| stroke.seconds).collect();
    for (number, stroke) in strokes.iter_mut().enumerate() {
        // What is struck with it begins with it.
        let next = ends[number.min(ends.len())..]
            .iter()
            .find(|next| **next > stroke.seconds + 0.01);
        let limit = next.copied().unwrap_or(f64::INFINITY).min(stroke.seconds + LONGEST);
        if stroke.manner == Manner::Single
            && let Some(ends) = sustained(samples, (stroke.seconds, limit), noise)
        {
            (stroke.manner, stroke.ends) = (Manner::Buzz, ends);
        }
    }
}

/// The longest press and the shortest, in seconds.
const LONGEST: f64 = 4.0;
const SHORTEST: f64 = 0.12;
/// A press is over where its level has fallen by so many dB, and falls by no more than so many from its first third to its last.
const OVER: f64 = 12.0;
const FALLS: f64 = 4.0;
/// It stays so many dB above noise, which is what levels lie under in such a share of the time.
const ABOVE: f64 = 12.0;
const NOISE_SHARE: f64 = 0.15;
/// Seconds over which levels are taken.
const LEVEL: f64 = 0.01;

/// Where a sound ends that begins at a second and goes on at about the same level; none where it dies away. Levels are those of
/// differences from sample to sample: of what rings in the bass a bounce is no part.
fn sustained(samples: &[f32], (begins, limit): (f64, f64), noise: f64) -> Option<f64> {
    let frame = |seconds: f64| ((seconds * f64::from(RATE)) as usize).min(samples.len());
    let levels = levels(&samples[frame(begins)..frame(limit)]);
    let most = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let lasts = levels.iter().take_while(|level| **level > most - OVER).count();
    let under_way = &levels[lasts.min(2)..lasts];
    let third = under_way.len() / 3;
    let mean = |levels: &[f64]| levels.iter().sum::<f64>() / levels.len().max(1) as f64;
    let (first, last) = (mean(&under_way[..third]), mean(&under_way[under_way.len() - third..]));
    let seconds = lasts as f64 * LEVEL;
    (seconds >= SHORTEST && last > first - FALLS && last > noise + ABOVE).then_some(begins + seconds)
}

/// Levels in dB, block by block.
fn levels(samples: &[f32]) -> Vec<f64> {
    let blocks = samples.chunks_exact((LEVEL * f64::from(RATE)) as usize);
    let level = |block: &[f32]| {
        let power: f32 = block.windows(2).map(|pair| (pair[1] - pair[0]).powi(2)).sum();
        10.0 * libm::log10(f64::from(power).max(1e-12))
    };
    blocks.map(level).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hit(seconds: f64, velocity: f64) -> Hit {
        Hit {
            seconds,
            sound: "snare".into(),
            velocity,
            confidence: 1.0,
        }
    }

    fn manners(hits: &[(f64, f64)]) -> Vec<(f64, Manner)> {
        let hits: Vec<Hit> = hits
            .iter()
            .map(|(seconds, velocity)| hit(*seconds, *velocity))
            .collect();
        strokes(&hits)
            .iter()
            .map(|stroke| (stroke.seconds, stroke.manner))
            .collect()
    }

    #[test]
    fn soft_hits_just_before_a_hard_one_are_its_grace_notes() {
        assert_eq!(manners(&[(0.97, 50.0), (1.0, 96.0)]), [(1.0, Manner::Flam)]);
        assert_eq!(
            manners(&[(0.93, 50.0), (0.965, 50.0), (1.0, 96.0)]),
            [(1.0, Manner::Drag)]
        );
        assert_eq!(
            manners(&[(0.97, 96.0), (1.0, 96.0)]),
            [(0.97, Manner::Single), (1.0, Manner::Single)]
        );
        assert_eq!(
            manners(&[(0.9, 50.0), (1.0, 96.0)]),
            [(0.9, Manner::Single), (1.0, Manner::Single)]
        );
    }

    #[test]
    fn many_close_hits_are_a_roll_and_closer_ones_a_buzz() {
        let run = |gap: f64| -> Vec<(f64, f64)> { (0..8).map(|n| (1.0 + gap * f64::from(n), 80.0)).collect() };
        assert_eq!(manners(&run(0.04)), [(1.0, Manner::Buzz)]);
        assert_eq!(manners(&run(0.07)), [(1.0, Manner::Roll)]);
        assert_eq!(manners(&run(0.12)).len(), 8);
    }
}
